package app

import (
	"slices"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/ring"
)

// RingView is the answer to: which pins shall be rung out next?
type RingView struct {
	Board  string        `json:"board"`
	Nets   int           `json:"nets"`   // groups of pins that are known to be joined
	Single int           `json:"single"` // pins of which nothing joined is known
	Stage  string        `json:"stage"`  // rails, buses, enables, glue; "" when nothing is left
	Next   []RingingView `json:"next"`
}

// RingingView is one proposal.
type RingingView struct {
	A           string  `json:"a"`
	B           string  `json:"b"`
	TextA       string  `json:"text_a"`
	TextB       string  `json:"text_b"`
	Stage       string  `json:"stage"`
	Probability float64 `json:"probability"` // that they are joined
	Bits        float64 `json:"bits"`
	Minutes     float64 `json:"minutes"`
	Why         string  `json:"why"`
	Yes         string  `json:"yes"` // the answer to give when it beeps
	No          string  `json:"no"`
}

// Ringing is a board that is being rung out.
type Ringing struct {
	path    string
	board   *board.Board // as it was
	session *ring.Session
}

// OpenRinging reads a board file and the parts files and begins with what the board has. The Ringing is nil when a finding is an error.
func OpenRinging(files Files, path string, partsFiles []string) (*Ringing, finding.List) {
	b, fl := files.Board(path)
	lib, more := library(files, path, partsFiles)
	fl = append(fl, more...)
	if b == nil || fl.Errors() {
		fl.Sort()
		return nil, fl
	}
	s, more := ring.New(b, lib)
	fl = append(fl, more...)
	fl.Sort()
	return &Ringing{path, b, s}, fl
}

// Take enters answers in order; those that contradict earlier ones are findings and change nothing.
func (r *Ringing) Take(answers []ring.Answer) finding.List {
	var fl finding.List
	for _, a := range answers {
		fl = append(fl, r.session.Take(a)...)
	}
	return fl
}

// View proposes at most n ringings. Four digits behind the point: more would promise what the odds do not hold.
func (r *Ringing) View(n int) RingView {
	v := RingView{Board: r.path, Next: []RingingView{}}
	v.Nets, v.Single = r.session.Groups()
	for _, g := range r.session.Next(n) {
		v.Stage = g.Stage.String()
		v.Next = append(v.Next, RingingView{A: g.A, B: g.B, TextA: g.TextA, TextB: g.TextB, Stage: v.Stage, Probability: round(g.Probability, 4), Bits: round(g.Bits, 4),
			Minutes: g.Minutes, Why: g.Why, Yes: ring.Answer{Ends: []string{g.A, g.B}}.String(), No: ring.Answer{Ends: []string{g.A, g.B}, Not: true}.String()})
	}
	return v
}

// WiredText puts the nets that are known into the text of the board file. Only the lines of parts whose pins changed are written anew, with
// the comments that stood in them; everything else is kept byte for byte. files are the contents files that the board names, by their
// names without folders. The error says what stands in the way; then nothing was changed.
func (r *Ringing) WiredText(texts Texts, text string, files map[string][]byte) (string, error) {
	var edits []PartEdit
	for i, p := range r.session.Wired().Parts {
		if !sameWiring(&r.board.Parts[i], &p) {
			edits = append(edits, PartEdit{Was: p.Ref, Part: p})
		}
	}
	if edits == nil {
		return text, nil
	}
	return (&Desk{texts: texts}).EditParts(BoardFiles{Text: text, Files: files}, edits)
}

func sameWiring(a, b *board.Part) bool {
	if a.Listed != b.Listed {
		return false
	}
	rising := func(p *board.Part) []board.Pin {
		if p.Listed {
			return p.Pins
		}
		return slices.SortedFunc(slices.Values(p.Pins), func(x, y board.Pin) int { return strings.Compare(x.Pin, y.Pin) })
	}
	return slices.EqualFunc(rising(a), rising(b), func(x, y board.Pin) bool { return x.Pin == y.Pin && x.Net == y.Net })
}
