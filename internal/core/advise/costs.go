// Package advise says which check to make next: the one that is expected to tell the suspects apart for the least time and harm.
//
// Every check is judged by the entropy it is expected to remove per minute (de Kleer and Williams, "Diagnosing Multiple Faults",
// 1987), the leaders two checks deep; replacing a part is one more action, proposed when it is expected to end the job sooner
// (Breese and Heckerman, "Decision-Theoretic Troubleshooting", 1996).
package advise

import "halfsplit/internal/core/board"

// Costs are minutes of bench time. The defaults are estimates, practitioner judgement with no published source; a technician
// may put his own in a costs file.
type Costs struct {
	Read         float64 `yaml:"read"`         // one place with the scope, pulse catching
	Probe        float64 `yaml:"probe"`        // one place with a logic probe
	ScopeSetUp   float64 `yaml:"scope-set-up"` // scope on, probe and trigger set
	See          float64 `yaml:"see"`          // look at an indicator
	Volts        float64 `yaml:"volts"`
	MeterSetUp   float64 `yaml:"meter-set-up"`
	Ohms         float64 `yaml:"ohms"`
	PowerDown    float64 `yaml:"power-down"`  // switch off and let the capacitors empty
	PowerUp      float64 `yaml:"power-up"`    // switch on and start again
	NewAction    float64 `yaml:"new-action"`  // set up another action than the last one
	Adapter      float64 `yaml:"adapter"`     // take the processor out, put the no-operation adapter in
	Lift         float64 `yaml:"lift"`        // one pin, and back
	LiftHarm     float64 `yaml:"lift-harm"`   // what the risk to an old board is worth
	Replace      float64 `yaml:"replace"`     // a soldered package
	PerPin       float64 `yaml:"replace-pin"` // and for every pin of it
	ReplaceHarm  float64 `yaml:"replace-harm"`
	ReplaceSmall float64 `yaml:"replace-small"` // a part with two or three legs, harm included
	Swap         float64 `yaml:"swap"`          // a socketed part for a spare
	Resolder     float64 `yaml:"resolder"`
	Reseat       float64 `yaml:"reseat"`
	Easy         float64 `yaml:"easy"` // factors for reaching a part
	Hard         float64 `yaml:"hard"`
}

// DefaultCosts are the practitioner estimates, no published source.
func DefaultCosts() Costs {
	return Costs{Read: 1, Probe: 0.5, ScopeSetUp: 3, See: 0.3, Volts: 0.4, MeterSetUp: 1, Ohms: 0.4, PowerDown: 1.5, PowerUp: 1, NewAction: 0.3, Adapter: 6,
		Lift: 8, LiftHarm: 3, Replace: 12, PerPin: 0.8, ReplaceHarm: 6, ReplaceSmall: 6, Swap: 4, Resolder: 3, Reseat: 3, Easy: 0.8, Hard: 2.5}
}

// reach is the factor for getting at a part.
func (c Costs) reach(a board.Access) float64 {
	switch a {
	case board.Easy:
		return c.Easy
	case board.Hard:
		return c.Hard
	}
	return 1
}
