package job

import (
	"fmt"
	"strings"
)

// Stage is one station of the order of work.
type Stage struct {
	Name    string
	Title   string
	Purpose string
	After   []string // stages that come first: power before logic, logic before proof
	Always  bool     // cannot be left out
	Marked  bool     // finished by being marked as done, rather than by what is written down
	Minutes float64  // usual time, an estimate with no published source; the shop may set its own
	lacks   func(*Job, Progress) []Lack
}

// Lack is what a stage still needs, and where on the page to bring it.
type Lack struct {
	Text string
	Go   string // stage or part of the page: "intake", "safety", "probe", …
}

// Progress is what the diagnosis knows of the job and the job itself does not.
type Progress struct {
	Model      bool     // the board has a model without errors
	Rails      []string // rails of the board, other than ground
	RailsRead  []string // rails with a good reading at a chip's pin since the last repair of anything on them
	RailsBad   []string // rails whose last reading was out of tolerance
	Seen       int      // readings in the log
	Explained  bool
	Healthy    float64
	Unrepaired []string // readings that were wrong and have not been taken again since the last repair
	LiftedOpen []string // pins that are still lifted
}

// Stages in the order of work.
var Stages = []Stage{
	{Name: "intake", Title: "Taken in", Purpose: "What came, in what state, and what the owner said, before anything is touched.", Always: true, Minutes: 20, lacks: lacksIntake},
	{Name: "safety", Title: "Made safe", Purpose: "Nothing powered is proposed before these are ticked.", After: []string{"intake"}, Always: true, Minutes: 20, lacks: lacksSafety},
	{Name: "terms", Title: "Agreed", Purpose: "Rate, limit, and the estimate that the owner was told.", After: []string{"intake"}, Minutes: 10, lacks: lacksTerms},
	{Name: "opened", Title: "Opened", Purpose: "Photos before each step: plugs with their pin 1, screws, washers, wires.", After: []string{"safety"}, Marked: true, Minutes: 30, lacks: lacksOpened},
	{Name: "model", Title: "Board model", Purpose: "The board as the program knows it, with its version.", Minutes: 60, lacks: lacksModel},
	{Name: "clean", Title: "Clean and dry", Purpose: "Stop the damage, wash off what leaked, ring out the nets of the zone.", After: []string{"safety"}, Marked: true, Minutes: 60, lacks: lacksClean},
	{Name: "controls", Title: "Controls", Purpose: "Switches, sliders, contacts and jacks: clean, then look for a pattern in what fails.", After: []string{"safety"}, Marked: true, Minutes: 40, lacks: marked("controls")},
	{Name: "supply", Title: "Supply", Purpose: "As found: voltage, ripple and current before any part is changed; then repaired and loaded.", After: []string{"safety"}, Marked: true, Minutes: 60, lacks: lacksSupply},
	{Name: "rails", Title: "Rails at the chips", Purpose: "Each rail in tolerance at a chip's own pins, not at the supply.", After: []string{"supply", "model"}, Minutes: 10, lacks: lacksRails},
	{Name: "find", Title: "Fault finding", Purpose: "The suspects, and the next check.", After: []string{"rails"}, Always: true, Minutes: 0, lacks: lacksFind},
	{Name: "mend", Title: "Repairs", Purpose: "What was replaced and with what; every lifted pin back in its place.", After: []string{"find"}, Minutes: 0, lacks: lacksMend},
	{Name: "proof", Title: "Proof", Purpose: "Every function tried; what was wrong read again and found right.", After: []string{"mend"}, Always: true, Minutes: 30, lacks: lacksProof},
	{Name: "backup", Title: "Memory backup", Purpose: "The memory left without power, and found again.", After: []string{"mend"}, Minutes: 20, lacks: lacksBackup},
	{Name: "adjust", Title: "Adjustment", Purpose: "As found, as left, with warm-up and the instrument used.", After: []string{"proof"}, Marked: true, Minutes: 30, lacks: marked("adjust")},
	{Name: "soak", Title: "Soak", Purpose: "Covers on, for at least three times the longest interval between failures.", After: []string{"proof"}, Minutes: 10, lacks: lacksSoak},
	{Name: "final", Title: "Final electrical check", Purpose: "Earth, insulation and function, by the code that applies where you are.", After: []string{"proof"}, Minutes: 15, lacks: lacksFinal},
	{Name: "handover", Title: "Hand-over", Purpose: "The report, the bill, the old parts, and what was not done.", After: []string{"proof"}, Always: true, Minutes: 15, lacks: lacksHandover},
}

// StageByName finds a stage, or nil.
func StageByName(name string) *Stage {
	for i := range Stages {
		if Stages[i].Name == name {
			return &Stages[i]
		}
	}
	return nil
}

// StageView is where a stage stands in one job.
type StageView struct {
	*Stage
	Mark    StageLine
	Lacks   []Lack
	Blocked []string // titles of the nearest stages that come first and are not finished
	Settled bool     // done or not needed: nothing lacks here or in what comes first, or it was left out
	Current bool     // where the job stands
}

// Rail is the order of work with where this job stands.
func (j *Job) Rail(p Progress) []StageView {
	out := make([]StageView, len(Stages))
	views := map[string]*StageView{}
	for i := range Stages {
		s := &Stages[i]
		v := StageView{Stage: s, Mark: j.Stages[s.Name]}
		if v.Mark.Mark != NotNeeded {
			v.Lacks = s.lacks(j, p)
		}
		for _, a := range s.After {
			first := views[a]
			if len(first.Lacks) > 0 {
				v.Blocked = append(v.Blocked, first.Title)
				continue
			}
			for _, t := range first.Blocked { // nothing lacks there, because it was not reached yet
				if !oneOf(v.Blocked, t) {
					v.Blocked = append(v.Blocked, t)
				}
			}
		}
		v.Settled = v.Mark.Mark == NotNeeded || len(v.Lacks)+len(v.Blocked) == 0
		out[i] = v
		views[s.Name] = &out[i]
	}
	for i := range out {
		if !out[i].Settled {
			out[i].Current = true
			break
		}
	}
	return out
}

func marked(name string) func(*Job, Progress) []Lack {
	return func(j *Job, _ Progress) []Lack {
		if j.Stages[name].Mark == Done {
			return nil
		}
		return []Lack{{"not marked as done, or as not needed", name}}
	}
}

func lacksIntake(j *Job, _ Progress) (out []Lack) {
	for _, f := range []struct{ s, text string }{
		{j.Intake.Machine, "what the machine is"}, {j.Intake.Complaint, "the complaint, in the owner's words"}, {j.Intake.Owner, "a reference to the owner"},
		{j.Intake.Condition, "its condition as it came"}, {j.Intake.Accessories, "what came with it (write none)"}} {
		if strings.TrimSpace(f.s) == "" {
			out = append(out, Lack{f.text, "intake"})
		}
	}
	return out
}

func lacksSafety(j *Job, _ Progress) (out []Lack) {
	for _, c := range j.OpenCautions("") {
		out = append(out, Lack{c.Title, "safety"})
	}
	return out
}

func lacksTerms(j *Job, _ Progress) (out []Lack) {
	if j.Terms.Rate == 0 && j.Terms.Fee == 0 {
		out = append(out, Lack{"an hourly rate or a fixed fee", "terms"})
	}
	if j.Terms.Limit == 0 && !j.Terms.NoLimit {
		out = append(out, Lack{"an authorised limit, or the word that there is none", "terms"})
	}
	return out
}

func lacksOpened(j *Job, p Progress) []Lack {
	if len(j.Photos) == 0 && j.Stages["opened"].Mark != Done {
		return []Lack{{"a photo of the inside before anything is unplugged", "opened"}}
	}
	return marked("opened")(j, p)
}

func lacksModel(j *Job, p Progress) []Lack {
	if j.Board.Version == 0 {
		return []Lack{{"a board: choose one, enter one, or import a netlist", "model"}}
	}
	if !p.Model {
		return []Lack{{"a board without errors", "model"}}
	}
	return nil
}

func lacksClean(j *Job, p Progress) []Lack {
	if out := failed(j, "clean"); len(out) > 0 {
		return out
	}
	for _, z := range j.Intake.Zones {
		if z.Kind == "water" || z.Kind == "battery" || z.Kind == "animals" {
			return marked("clean")(j, p)
		}
	}
	return nil
}

func lacksSupply(j *Job, p Progress) []Lack {
	if out := failed(j, "supply"); len(out) > 0 {
		return out
	}
	for _, t := range j.Proofs {
		if t.Stage == "supply" {
			return marked("supply")(j, p)
		}
	}
	if j.Stages["supply"].Mark == Done {
		return nil
	}
	return []Lack{{"the supply as found: voltage, ripple and current", "supply"}}
}

func lacksRails(_ *Job, p Progress) (out []Lack) {
	for _, r := range p.RailsBad {
		out = append(out, Lack{fmt.Sprintf("%s was out of tolerance when last read", r), "rails"})
	}
	for _, r := range p.Rails {
		if !oneOf(p.RailsRead, r) && !oneOf(p.RailsBad, r) {
			out = append(out, Lack{fmt.Sprintf("%s measured at a chip's pin", r), "rails"})
		}
	}
	if !p.Model {
		out = append(out, Lack{"a board, so that its rails are known", "model"})
	}
	return out
}

func lacksFind(_ *Job, p Progress) (out []Lack) {
	switch {
	case p.Seen == 0:
		return []Lack{{"a first reading: what does it do, what not?", "probe"}}
	case !p.Explained:
		return []Lack{{"a suspect that explains all that was seen", "probe"}}
	case p.Healthy < provenAt:
		return []Lack{{"a repair after which everything reads as on a good board", "probe"}}
	}
	return nil
}

// provenAt is the probability of nothing being wrong at which fault finding counts as finished.
const provenAt = 0.9

func lacksMend(j *Job, p Progress) (out []Lack) {
	for _, pin := range p.LiftedOpen {
		out = append(out, Lack{pin + " is still lifted: put it back and note it", "probe"})
	}
	for _, ref := range j.Unpriced() {
		out = append(out, Lack{ref + " was replaced, but no part is noted as used", "mend"})
	}
	return out
}

// Unpriced are the parts that the log says were replaced and no used part speaks of.
func (j *Job) Unpriced() []string {
	var out []string
	for _, l := range j.Standing() {
		for _, ref := range l.Entry.Replaced {
			named := false
			for _, u := range j.Used {
				named = named || u.Ref == ref
			}
			if !named && !oneOf(out, ref) {
				out = append(out, ref)
			}
		}
	}
	return out
}

func lacksProof(j *Job, p Progress) (out []Lack) {
	for _, w := range p.Unrepaired {
		out = append(out, Lack{w + " was wrong and has not been read again since the last repair", "probe"})
	}
	out = append(out, tests(j, "proof", "a test of each function")...)
	return out
}

// tests says that a stage needs at least one test, and that those that failed are still open.
func tests(j *Job, stage, what string) []Lack {
	for _, t := range j.Proofs {
		if t.Stage == stage {
			return failed(j, stage)
		}
	}
	return []Lack{{what, stage}}
}

// failed lists the tests of a stage that failed when they were last made.
func failed(j *Job, stage string) (out []Lack) {
	for _, t := range j.Proofs {
		if t.Stage == stage && t.Failed {
			out = append(out, Lack{t.What + ": not good yet", stage})
		}
	}
	return out
}

func lacksBackup(j *Job, _ Progress) []Lack {
	if !j.Intake.Backed {
		return nil
	}
	return tests(j, "backup", "the memory kept without power: for how long, and the voltage at its pin")
}

func lacksSoak(j *Job, _ Progress) []Lack {
	return tests(j, "soak", "a soak with start, end and what happened")
}

func lacksFinal(j *Job, _ Progress) []Lack {
	if !j.Intake.Mains {
		return nil
	}
	return tests(j, "final", "earth and insulation readings, with the code they were judged by")
}

func lacksHandover(j *Job, _ Progress) []Lack {
	if j.State.State == Returned {
		return nil
	}
	return []Lack{{"handed over", "handover"}}
}
