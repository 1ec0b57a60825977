package app

import (
	"fmt"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/loading"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/substitute"
)

// SubstituteView is what may stand in for one part of a board.
type SubstituteView struct {
	Part    string    `json:"part"`
	Fitted  string    `json:"fitted"`
	Title   string    `json:"title"`
	Answers []StandIn `json:"answers"` // best first
	Notes   []string  `json:"notes,omitempty"`
}

// StandIn is one judged part. Verdict is yes, care or no.
type StandIn struct {
	Name      string       `json:"name"`
	Verdict   string       `json:"verdict"`
	Reasons   []ReasonView `json:"reasons"`
	Function  string       `json:"function"`
	PinOut    []string     `json:"pinout,omitempty"` // differences
	Reckoning []StepView   `json:"reckoning"`
}

// ReasonView is one thing to mind, or one that forbids it.
type ReasonView struct {
	Verdict string `json:"verdict"`
	Text    string `json:"text"`
	Remedy  string `json:"remedy,omitempty"`
	Source  string `json:"source,omitempty"`
}

// StepView is one line of the arithmetic. Verdict is holds, unknown, marginal or fails.
type StepView struct {
	Net     string `json:"net"`
	What    string `json:"what"`
	Text    string `json:"text"`
	Verdict string `json:"verdict"`
	Source  string `json:"source,omitempty"`
	Remedy  string `json:"remedy,omitempty"`
}

// Substitute says what may stand in for the part ref of a board, or how the part named with does there. The error names the nearest
// right word.
func Substitute(c *circuit.Circuit, lib *part.Library, ref, with string) (SubstituteView, error) {
	pi, ok := c.PartByRef(ref)
	if !ok {
		var refs []string
		for _, p := range c.Parts {
			refs = append(refs, p.Ref)
		}
		return SubstituteView{}, fmt.Errorf("no part %s on this board; %s", ref, finding.DidYouMean(ref, refs))
	}
	p := c.Parts[pi]
	v := SubstituteView{Part: ref, Fitted: p.Src.Type, Title: p.Type.Title, Answers: []StandIn{}}
	var answers []substitute.Answer
	if with != "" {
		m, err := lib.Find(with)
		if err != nil {
			return v, err
		}
		answers = []substitute.Answer{substitute.Judge(c, pi, m)}
	} else {
		answers = substitute.Find(c, lib, pi)
	}
	for _, a := range answers {
		v.Answers = append(v.Answers, standIn(a))
	}
	v.Notes = p.Type.Equivalents
	return v, nil
}

func standIn(a substitute.Answer) StandIn {
	s := StandIn{Name: a.Match.Name(), Verdict: a.Verdict.String(), Reasons: []ReasonView{}, Function: a.Logic, PinOut: a.Pins, Reckoning: []StepView{}}
	for _, r := range a.Reasons {
		s.Reasons = append(s.Reasons, ReasonView{r.Verdict.String(), r.Text, r.Remedy, r.Source})
	}
	for _, x := range a.Steps {
		s.Reckoning = append(s.Reckoning, stepView(x))
	}
	return s
}

func stepView(x loading.Step) StepView {
	return StepView{x.Net, x.What, x.Text, x.Verdict.String(), x.Source, x.Remedy}
}

// SubstituteOn reads a board and judges a part of it. Nothing is computed when a finding is an error.
func SubstituteOn(files Files, path string, partsFiles []string, ref, with string) (SubstituteView, finding.List, error) {
	c, fl := LoadBoard(files, path, partsFiles)
	if c == nil || fl.Errors() {
		return SubstituteView{}, fl, nil
	}
	lib, _ := library(files, path, partsFiles)
	v, err := Substitute(c, lib, ref, with)
	return v, fl, err
}
