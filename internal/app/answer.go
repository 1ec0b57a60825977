package app

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/job"
	"halfsplit/internal/core/unit"
)

// unsure is how far a reading is believed that the technician is not sure of (estimate, no source).
const unsure = 0.7

// Answer fills the one open place of a proposed check (Check.Entries as JSON) with what was seen. is may be empty for a repair whose
// reading comes later: then the repair alone is returned. Entries are to be recorded in order.
func Answer(entries string, is string, notSure bool) ([]job.Entry, error) {
	var list []map[string]any
	if err := json.Unmarshal([]byte(entries), &list); err != nil || len(list) == 0 || len(list) > 2 {
		return nil, Wrong{fmt.Errorf("the check came back damaged; load the page again")}
	}
	var out []job.Entry
	for _, m := range list {
		e, reads, err := fill(m, strings.TrimSpace(is))
		if err != nil {
			return nil, err
		}
		if reads && strings.TrimSpace(is) == "" {
			if len(out) == 0 {
				return nil, Wrong{fmt.Errorf("nothing was entered: say what you see")}
			}
			return out, nil
		}
		if reads && notSure {
			e.Sure = unsure
		}
		if e.Reads() || e.Repairs() {
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		return nil, Wrong{fmt.Errorf("the check came back damaged; load the page again")}
	}
	return out, nil
}

// EntriesJSON is a check as it travels to the page and back with its answer.
func EntriesJSON(c *Check) string {
	b, err := json.Marshal(c.Entries)
	if err != nil {
		return "[]" // words and nulls can always be written
	}
	return string(b)
}

func fill(m map[string]any, is string) (e job.Entry, reads bool, err error) {
	switch do := m["do"].(type) {
	case string:
		e.Do = []string{do}
	case []any:
		e.Do = words(do)
	}
	place := func(key string) (string, bool) {
		for at := range asMap(m[key]) {
			return at, true
		}
		return "", false
	}
	if at, ok := place("read"); ok {
		e.Read, reads = []job.Reading{{At: at, Is: is}}, true
	}
	if at, ok := place("see"); ok {
		e.See, reads = []job.Reading{{At: at, Is: is}}, true
	}
	if at, ok := place("volts"); ok {
		reads = true
		if is != "" {
			v, err := ReadVolts(is)
			if err != nil {
				return e, true, err
			}
			e.Volts = []job.Volts{{At: at, Volts: v}}
		}
	}
	if o := asMap(m["ohms"]); len(o) > 0 {
		reads = true
		if is != "" {
			v, open, err := ReadOhms(is)
			if err != nil {
				return e, true, err
			}
			at, _ := o["at"].(string)
			to, _ := o["to"].(string)
			e.Ohms = []job.Ohms{{At: at, To: to, Ohms: v, Open: open}}
		}
	}
	for key, to := range map[string]*[]string{"lifted": &e.Lifted, "refitted": &e.Refitted, "replaced": &e.Replaced, "resoldered": &e.Resoldered, "reseated": &e.Reseated, "cleared": &e.Cleared} {
		if l, ok := m[key].([]any); ok {
			*to = words(l)
		}
	}
	return e, reads, nil
}

func asMap(x any) map[string]any {
	m, _ := x.(map[string]any)
	return m
}

func words(list []any) []string {
	var out []string
	for _, x := range list {
		if s, ok := x.(string); ok {
			out = append(out, s)
		}
	}
	return out
}

// ReadVolts reads a voltage as it is typed at the bench: 4.98, 4,98, 30m, -11.9 V.
func ReadVolts(s string) (float64, error) {
	v, err := quantity(s)
	if err != nil || math.Abs(v) > 1000 {
		return 0, Wrong{fmt.Errorf("%q is no voltage: write it as 4.98 or 30m, from -1000 to 1000 V", s)}
	}
	return v, nil
}

// ReadOhms reads a resistance as it is typed: 4.1, 4k7, 2.2M, open, OL.
func ReadOhms(s string) (ohms float64, open bool, err error) {
	switch strings.ToLower(s) {
	case "open", "ol", "o.l", "0l", "inf", "∞":
		return 0, true, nil
	}
	v, err := quantity(s)
	if err != nil || v < 0 || v > 1e9 {
		return 0, false, Wrong{fmt.Errorf("%q is no resistance: write it as 4.1, 4.7k or 2.2M, or open", s)}
	}
	return v, false, nil
}

// quantity reads a number with its prefix; a decimal comma and a typographic minus are as good as the others.
func quantity(s string) (float64, error) {
	t := strings.ReplaceAll(s, "−", "-")
	if strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		t = strings.Replace(t, ",", ".", 1)
	}
	return unit.Parse(t)
}

// ActionRow is something the technician can do to the board.
type ActionRow struct {
	Name, Title string
	Moments     int
}

// Actions lists what can be done to a board, in its order; the start comes first under the empty name.
func Actions(c *circuit.Circuit) []ActionRow {
	out := []ActionRow{{"", "after " + strings.Join(startNames(c), ", "), 0}}
	for i, a := range c.Actions {
		if !slices.Contains(c.Start(), i) {
			out = append(out, ActionRow{a.Name, a.Title, len(a.Moments)})
		}
	}
	return out
}

func startNames(c *circuit.Circuit) []string {
	var out []string
	for _, i := range c.Start() {
		if t := c.Actions[i].Title; t != "" {
			out = append(out, t)
		} else {
			out = append(out, c.Actions[i].Name)
		}
	}
	if len(out) == 0 {
		out = append(out, "power on")
	}
	return out
}

// Sheet is one place of the board: what it is and what a good board shows there.
type Sheet struct {
	At, Where string
	Pin       bool
	Net       string // "" for a part
	Part      string // of the pin, or the part itself
	Type      string
	Lamps     []string // indicators of the part
	Digit     bool
	Lifted    bool
	Do        string
	Actions   []ActionRow
	Good      PlaceView
	Rail      bool
	Others    []string // other pins on the net
}

// Sheet says what a place is. at is a pin, a net, a part or an indicator; do is the action to compare with, "" after start.
func (d *Desk) Sheet(ctx context.Context, id int64, at, do string) (*Sheet, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, err
	}
	j := o.job.Clone()
	o.mu.Unlock()
	c, _, _, err := d.BoardOf(ctx, j.Board.Version)
	if err != nil {
		return nil, err
	}
	if c == nil {
		return nil, Wrong{fmt.Errorf("the job has no board without errors yet")}
	}
	s := &Sheet{At: at, Do: do, Actions: Actions(c)}
	ask := at
	if p, ok := c.PartByRef(at); ok {
		x := &c.Parts[p]
		s.Part, s.Type, s.Where = at, x.Src.Type, at+" ("+x.Src.Type+")"
		for _, l := range x.Lamps {
			s.Lamps = append(s.Lamps, c.Lamps[l].Name)
		}
		_, digit, _ := c.FindLamp(at)
		s.Digit = digit != circuit.None
		if len(s.Lamps) == 0 {
			return s, nil
		}
	} else if p, hint := c.FindPlace(at); p.Net != circuit.None {
		s.Net, s.Rail = c.NetName(p.Net), c.Nets[p.Net].Rail
		s.Where = "Net " + s.Net
		if p.Pin != circuit.None {
			s.Pin, s.At = true, c.PinName(p.Pin)
			x := &c.Parts[c.Pins[p.Pin].Part]
			s.Part, s.Type, s.Where = x.Ref, x.Src.Type, c.PinText(p.Pin)
			s.Lifted = slices.Contains(Progress(j, &ProbeView{Circuit: c}).LiftedOpen, s.At)
		}
		for _, q := range c.Nets[p.Net].Pins {
			if q != p.Pin {
				s.Others = append(s.Others, c.PinName(q))
			}
		}
	} else {
		return nil, Wrong{fmt.Errorf("%s", hint)}
	}
	req := ExpectRequest{At: []string{ask}}
	if do != "" {
		req.Do = []string{do}
	}
	e, err := Expect(ctx, c, req)
	if err != nil {
		return nil, Wrong{err}
	}
	s.Good = e.At[ask]
	return s, nil
}
