package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/job"
)

// ProbeView is everything that the probe page shows of a job.
type ProbeView struct {
	Job       *job.Job
	Circuit   *circuit.Circuit // nil: no board, or one with errors
	Findings  []FindingRow     // why there is none
	Diagnosis Diagnosis
	Gate      []job.Caution // unticked, before anything powered
	IronGate  []job.Caution // unticked, before the iron
	Copper    *Check        // what to do about a short or a bad source outside the parts, when it is time for it
	Rails     []RailCheck   // to be read before logic is probed, in order
	RailsGood []RailCheck
	Groups    []Group
	Changes   []Change // what each repair changed
	Log       []LogRow
	Skipped   []string // places that could not be reached
	Wrong     []string // places whose last reading is not what a good board shows, with the actions of that reading
	Elapsed   time.Duration
	Working   *Working // what is still being worked out; then nothing of the diagnosis is known
	Invented  bool     // the machine answers for itself

	weighed *weighed
}

// Analog tells whether the board has an analogue half: figures are read there, not levels alone.
func (v *ProbeView) Analog() bool { return v.Circuit != nil && v.Circuit.Board.Analog != nil }

// Levels tells whether levels and indicators are weighed: not on a board that has an analogue half only.
func (v *ProbeView) Levels() bool { return !v.Analog() || len(v.Circuit.Actions) > 0 }

// RailDue is the rail to be read now, or nil. On a board of logic a rail out of tolerance keeps the search for logic faults waiting; where the
// supply itself is in the model the search goes on with what was read.
func (v *ProbeView) RailDue() *RailCheck {
	for i := range v.Rails {
		if r := &v.Rails[i]; !v.Analog() || !r.Measured && !slices.Contains(v.Skipped, r.At) {
			return r
		}
	}
	return nil
}

// RailCheck is a rail and where to measure it.
type RailCheck struct {
	Rail     string
	Volts    float64
	Low      float64 // tolerance
	High     float64
	At       string // a chip's pin, far from the supply where places are known
	Where    string // in words
	Last     float64
	Measured bool
	Bad      bool
}

// Group is suspects that no check still available tells apart.
type Group struct {
	Number      int
	Letter      string
	Probability float64
	Suspects    []int  // indices into Diagnosis.Suspects
	Apart       string // what would separate it from the group before, in words
}

// Change is a repair with the readings that it changed.
type Change struct {
	Entry  int // in the standing log, from 1
	What   string
	Before []Turned
}

// Turned is a reading before and after.
type Turned struct{ At, Was, Is string }

// LogRow is a line of the log as the page shows it.
type LogRow struct {
	Line      job.LogLine
	Number    int // as evidence, from 1; 0 when it is none
	Text      string
	Surprise  bool
	Unfitting bool // no suspect accounts for it
}

// Probe ranks the suspects of a job and chooses the next check. It waits until that is done.
func (d *Desk) Probe(ctx context.Context, id int64) (*ProbeView, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, err
	}
	defer o.mu.Unlock()
	return d.probe(ctx, o, forever)
}

// probe waits at most as long as patience says; then the view says that the work goes on. The lock of the job is given away while it waits.
func (d *Desk) probe(ctx context.Context, o *openJob, patience time.Duration) (*ProbeView, error) {
	began := d.clock.Mono()
	var l *loadedBoard
	var w *weighed
	var working *Working
	if o.job.Board.Version != 0 {
		var err error
		if l, err = d.loaded(ctx, o.job.Board.Version); err != nil {
			return nil, err
		}
		if l.circuit != nil {
			if w, working, err = d.weigh(ctx, o, l, patience); err != nil {
				return nil, err
			}
		}
	}
	v := &ProbeView{Job: o.job.Clone(), Gate: o.job.OpenCautions(job.Powered), IronGate: o.job.OpenCautions(job.Iron), Working: working, weighed: w}
	if l != nil {
		v.Circuit, v.Findings = l.circuit, Rows(l.findings)
	}
	v.Skipped = skipped(o.job)
	if w == nil {
		v.Log = logRows(v.Job, nil)
		v.Elapsed = d.clock.Mono() - began
		return v, nil
	}
	v.Diagnosis = w.Diagnosis
	v.Diagnosis.Next = allowed(v.Diagnosis.Next, v.Skipped)
	sees, err := d.logicOf(ctx, v)
	if err != nil {
		return nil, err
	}
	if v.Copper, err = copper(ctx, v, sees, len(v.Gate) > 0); err != nil {
		return nil, err
	}
	v.Rails, v.RailsGood = railChecks(v.Circuit, o.job, w.rails)
	v.Groups = groups(&v.Diagnosis)
	v.Changes = changes(o.job)
	v.Log = logRows(v.Job, w)
	for _, x := range w.wrong {
		if !slices.Contains(v.Wrong, x.Text) {
			v.Wrong = append(v.Wrong, x.Text)
		}
	}
	v.Elapsed = d.clock.Mono() - began
	return v, nil
}

// tryEvidence says whether the board has every place and action that an entry names. The lock of the job is given away while the board is made ready.
func (d *Desk) tryEvidence(ctx context.Context, o *openJob, f job.Fact) error {
	var e *job.Entry
	switch f := f.(type) {
	case *job.Entry:
		e = f
	case *job.Correct:
		e = &f.By
	default:
		return nil
	}
	if !e.Reads() && !e.Repairs() {
		return nil
	}
	l, err := d.loaded(ctx, o.job.Board.Version)
	if err != nil {
		return Wrong{fmt.Errorf("the job's board cannot be read: %w", err)}
	}
	if l.circuit == nil {
		return Wrong{fmt.Errorf("the board has errors, so places have no meaning yet: %s", l.findings[0].Text)}
	}
	o.mu.Unlock() // the first time, the halves of a mixed board are joined
	lab, err := l.board()
	o.mu.Lock()
	if err != nil {
		return err
	}
	if fl := tryEntry(lab, e.Evidence(1)); fl.Errors() {
		first := fl.Only(finding.Error)[0]
		text := strings.TrimPrefix(strings.TrimPrefix(first.Text, "entry 1: "), "log entry 1: ")
		if first.Hint != "" {
			text += "; " + first.Hint
		}
		return Wrong{fmt.Errorf("%s", text)}
	}
	return nil
}

// allowed leaves out the checks at places that could not be reached, and keeps as many as a person looks through.
func allowed(list []Check, out []string) []Check {
	list = slices.DeleteFunc(slices.Clone(list), func(c Check) bool {
		return slices.Contains(out, c.At) && c.Kind != "replace" && c.Kind != "reseat"
	})
	return list[:min(12, len(list))]
}

func skipped(j *job.Job) []string {
	var out []string
	for _, l := range j.Log {
		if !l.Gone && l.Entry.Skipped != "" && !slices.Contains(out, l.Entry.Skipped) {
			out = append(out, l.Entry.Skipped)
		}
	}
	return out
}

// groups gathers the look-alikes and says which proposed check tells each group from the leading one.
func groups(d *Diagnosis) []Group {
	var out []Group
	for i, s := range d.Suspects {
		k := slices.IndexFunc(out, func(g Group) bool { return g.Number == s.Lookalikes })
		if k < 0 {
			k = len(out)
			out = append(out, Group{Number: s.Lookalikes, Letter: letter(k)})
		}
		out[k].Probability += s.Probability
		out[k].Suspects = append(out[k].Suspects, i)
	}
	for k := range out {
		if k > 0 {
			out[k].Apart = apart(d, out[0].Suspects[0], out[k].Suspects[0])
		}
	}
	return out
}

func letter(k int) string {
	if k < 26 {
		return string(rune('A' + k))
	}
	return fmt.Sprintf("%c%c", 'A'+k/26-1, 'A'+k%26)
}

// SuspectKey is a suspect as outcomes name it: KIND@WHERE, several with a blank between.
func SuspectKey(s Suspect) string {
	var out []string
	for _, f := range s.Faults {
		out = append(out, f.Kind+"@"+f.At)
	}
	return strings.Join(out, " ")
}

func apart(d *Diagnosis, a, b int) string {
	ka, kb := SuspectKey(d.Suspects[a]), SuspectKey(d.Suspects[b])
	for _, c := range d.Next {
		var isA, isB string
		for _, o := range c.Outcomes {
			if slices.Contains(o.Suspects, ka) && isA == "" {
				isA = o.Is
			}
			if slices.Contains(o.Suspects, kb) && isB == "" {
				isB = o.Is
			}
		}
		if isA != "" && isB != "" && isA != isB {
			return fmt.Sprintf("%s at %s: %s, where the first would show %s", CheckVerb(c.Kind), c.At, isB, isA)
		}
	}
	return ""
}

// CheckVerb is what is done in a check, as the start of a sentence.
func CheckVerb(kind string) string {
	switch kind {
	case "read":
		return "Probe"
	case "see":
		return "Look"
	case "volts":
		return "Measure volts"
	case "ohms":
		return "Measure ohms"
	case "lift":
		return "Lift a pin"
	case "replace":
		return "Replace"
	case "reseat":
		return "Reseat"
	case "resolder":
		return "Resolder"
	case "clear":
		return "Clear"
	}
	return kind
}

func logRows(j *job.Job, w *weighed) []LogRow {
	var out []LogRow
	n := 0
	for _, l := range j.Log {
		r := LogRow{Line: l, Text: EntryText(&l.Entry)}
		if !l.Gone && (l.Entry.Reads() || l.Entry.Repairs()) {
			n++
			r.Number = n
			if w != nil {
				r.Surprise = n <= len(w.surprising) && w.surprising[n-1]
				for _, u := range w.Unexplained {
					r.Unfitting = r.Unfitting || u.Entry == n
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// railChecks lists the rails that have not been read in tolerance, and those that have.
func railChecks(c *circuit.Circuit, j *job.Job, rails []RailCheck) (open, good []RailCheck) {
	for _, r := range rails {
		n, _ := c.Net(r.Rail)
		for _, l := range j.Standing() {
			for _, m := range l.Entry.Volts {
				if p, _ := c.FindPlace(m.At); p.Net == n && l.Entry.Feed == nil {
					r.Measured, r.Last = true, m.Volts
				}
			}
		}
		r.Bad = r.Measured && (r.Last < r.Low || r.Last > r.High || math.IsNaN(r.Last))
		if r.Measured && !r.Bad {
			good = append(good, r)
		} else {
			open = append(open, r)
		}
	}
	return open, good
}

// farthest is the supply pin of a rail that is farthest from the first part on it, where places are known; else the last chip's.
func farthest(c *circuit.Circuit, net int) int {
	best, far := circuit.None, -1.0
	var x0, y0 float64
	known := false
	for _, q := range c.Nets[net].Pins {
		p := c.Parts[c.Pins[q].Part]
		if !c.Pins[q].Supply {
			continue
		}
		at := 0.0
		if pl := p.Src.Place; pl != nil {
			if !known {
				known, x0, y0 = true, pl.X, pl.Y
			}
			at = math.Hypot(pl.X-x0, pl.Y-y0)
		}
		if at >= far {
			best, far = q, at
		}
	}
	return best
}

// Progress is what the diagnosis knows of a job. A nil view means that nothing was computed.
func Progress(j *job.Job, v *ProbeView) job.Progress {
	p := job.Progress{}
	if v == nil || v.Circuit == nil {
		p.Model = v == nil && j.Board.Version != 0
		return p
	}
	p.Model = true
	for _, r := range v.Rails {
		p.Rails = append(p.Rails, r.Rail)
		if r.Bad {
			p.RailsBad = append(p.RailsBad, r.Rail)
		}
	}
	for _, r := range v.RailsGood {
		p.Rails = append(p.Rails, r.Rail)
		p.RailsRead = append(p.RailsRead, r.Rail)
	}
	for _, l := range j.Standing() {
		if l.Entry.Reads() {
			p.Seen++
		}
	}
	p.Explained, p.Healthy, p.Unrepaired = v.Diagnosis.Explained, v.Diagnosis.Healthy, v.Wrong
	up := map[string]bool{}
	for _, l := range j.Standing() {
		for _, pin := range l.Entry.Lifted {
			up[pin] = true
		}
		for _, pin := range l.Entry.Refitted {
			delete(up, pin)
		}
		for _, ref := range l.Entry.Replaced {
			for pin := range up {
				if strings.HasPrefix(pin, ref+".") {
					delete(up, pin)
				}
			}
		}
	}
	for pin := range up {
		p.LiftedOpen = append(p.LiftedOpen, pin)
	}
	slices.Sort(p.LiftedOpen)
	return p
}
