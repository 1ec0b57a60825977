package job

import (
	"errors"
	"fmt"
	"strings"
)

// Intake is how the unit arrived. Sent again it takes the place of the one before, which stays in the list of events.
type Intake struct {
	Machine     string `json:"machine"` // what it is, in the shop's words
	Serial      string `json:"serial,omitempty"`
	Owner       string `json:"owner"` // a reference into the shop's own address book; names stay out of here
	Complaint   string `json:"complaint"`
	History     string `json:"history,omitempty"`     // storage, earlier repairs, what the owner tried, powered since?
	Accessories string `json:"accessories,omitempty"` // what came with it
	Condition   string `json:"condition,omitempty"`   // marks and missing screws that were there before
	Wishes      string `json:"wishes,omitempty"`      // keep original parts, save the memory first …
	Zones       []Zone `json:"zones,omitempty"`
	Mains       bool   `json:"mains"`             // it has a mains supply
	Tube        bool   `json:"tube"`              // picture tube or other extra-high voltage
	Battery     bool   `json:"battery"`           // it has a battery, or had one
	Stored      bool   `json:"stored"`            // not powered for a year or more
	Backed      bool   `json:"backed"`            // memory that must survive with the power off
	Example     string `json:"example,omitempty"` // the invented machine that this is; "" for a real one
}

// Zone is an area of damage.
type Zone struct {
	Kind  string   `json:"kind"` // see ZoneKinds
	Text  string   `json:"text,omitempty"`
	Parts []string `json:"parts,omitempty"`
	Nets  []string `json:"nets,omitempty"`
}

// ZoneKinds are the words for damage. Water, battery and heat raise the odds of faults inside the zone.
var ZoneKinds = []string{"water", "battery", "heat", "impact", "animals", "repair"}

// Limits of what is typed: long enough for a letter, short enough that a pasted file is noticed.
const (
	longText  = 20000
	shortText = 300
	mostZones = 50
)

func tooLong(what, s string, most int) error {
	if n := len([]rune(s)); n > most {
		return fmt.Errorf("%s has %d characters; at most %d fit", what, n, most)
	}
	return nil
}

func (*Intake) kind() string { return "intake" }

func (f *Intake) check(*Job) error {
	var wrong []error
	if strings.TrimSpace(f.Machine) == "" {
		wrong = append(wrong, errors.New("the machine has no name: write what it is, as on its label"))
	}
	if strings.TrimSpace(f.Complaint) == "" {
		wrong = append(wrong, errors.New("the complaint is empty: write it in the owner's own words"))
	}
	wrong = append(wrong, tooLong("the machine's name", f.Machine, shortText), tooLong("the serial number", f.Serial, shortText),
		tooLong("the owner's reference", f.Owner, shortText), tooLong("the complaint", f.Complaint, longText), tooLong("the history", f.History, longText),
		tooLong("what came with it", f.Accessories, longText), tooLong("the condition", f.Condition, longText), tooLong("the wishes", f.Wishes, longText))
	if len(f.Zones) > mostZones {
		wrong = append(wrong, fmt.Errorf("%d areas of damage; at most %d fit", len(f.Zones), mostZones))
	}
	for _, z := range f.Zones {
		wrong = append(wrong, tooLong("the text of a damage", z.Text, shortText))
		if !oneOf(ZoneKinds, z.Kind) {
			wrong = append(wrong, fmt.Errorf("damage %q is none of %s", z.Kind, strings.Join(ZoneKinds, ", ")))
		}
	}
	return errors.Join(wrong...)
}

func (f *Intake) apply(j *Job, _ Event) { j.Intake = *f }

func oneOf(words []string, w string) bool {
	for _, x := range words {
		if x == w {
			return true
		}
	}
	return false
}

// Photo is a picture with the spots that matter marked on it.
type Photo struct {
	ID      int64  `json:"id"` // of the stored picture
	W       int    `json:"w"`
	H       int    `json:"h"`
	Caption string `json:"caption,omitempty"`
	Stage   string `json:"stage,omitempty"`
	Spots   []Spot `json:"spots,omitempty"`
}

// Spot is a marked place: X and Y from 0 to 1 across and down the picture.
type Spot struct {
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	Text string  `json:"text,omitempty"`
	Part string  `json:"part,omitempty"`
}

// PhotoLine is a photo as the job shows it; the same picture sent again with other spots takes the place of the first.
type PhotoLine struct {
	Photo
	Seq int64
}

func (*Photo) kind() string { return "photo" }

// mostSpots is more than can be told apart on one picture.
const mostSpots = 100

func (f *Photo) check(*Job) error {
	if f.ID <= 0 {
		return errors.New("the photo was not stored; send it again")
	}
	if len(f.Spots) > mostSpots {
		return fmt.Errorf("%d marks on one picture; at most %d fit", len(f.Spots), mostSpots)
	}
	for _, s := range f.Spots {
		if !(s.X >= 0 && s.X <= 1 && s.Y >= 0 && s.Y <= 1) {
			return errors.New("a mark lies outside the picture")
		}
		if err := errors.Join(tooLong("a mark's text", s.Text, shortText), tooLong("a mark's part", s.Part, shortText)); err != nil {
			return err
		}
	}
	return tooLong("the caption", f.Caption, shortText)
}

func (f *Photo) apply(j *Job, e Event) {
	for i := range j.Photos {
		if j.Photos[i].ID == f.ID {
			j.Photos[i].Photo = *f
			return
		}
	}
	j.Photos = append(j.Photos, PhotoLine{*f, e.Seq})
}

// PhotoAway takes a picture out of the job's pages; the picture stays in the store.
type PhotoAway struct {
	ID int64 `json:"id"`
}

func (*PhotoAway) kind() string       { return "unphoto" }
func (f *PhotoAway) check(*Job) error { return nil }
func (f *PhotoAway) apply(j *Job, _ Event) {
	for i := range j.Photos {
		if j.Photos[i].ID == f.ID {
			j.Photos = append(j.Photos[:i:i], j.Photos[i+1:]...)
			return
		}
	}
}
