package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/job"
)

// What a good board shows, as a page and on the drawings, beside what was read; and the readings of a known-good unit, which are kept with the
// board as the file that the command line reads too.

// ExpectedView is the table of a version of a board.
type ExpectedView struct {
	Version BoardVersion
	Circuit *circuit.Circuit // nil: the board has errors
	Analog  bool
	Nets    []ExpectedNet
	Drawn   []draw.Picture // parts with three pins and more, volts beside them
	Rows    []VoltsRow     // pin by pin
	Golden  []job.Volts    // readings of a known-good unit
	Job     *job.Job       // whose readings stand beside it; may be nil
}

// ExpectedNet is a net with its pins. Volts are those of the row; Seen is the last reading of the net in the job's log, "" without.
type ExpectedNet struct {
	VoltsRow
	Pins []string
	Seen string
	Off  bool // Seen is not what a good board shows
}

// drawnPins is from how many pins on a part is drawn.
const drawnPins = 3

// Expected is what a good board shows. Of a job, its last readings stand beside it; v may be nil.
func (d *Desk) Expected(ctx context.Context, version int64, v *ProbeView) (*ExpectedView, error) {
	l, err := d.loaded(ctx, version)
	if err != nil {
		return nil, err
	}
	out := &ExpectedView{Version: l.version, Circuit: l.circuit}
	if l.circuit == nil || l.circuit.Board.Analog == nil {
		return out, nil
	}
	out.Analog = true
	t, err := l.table(ctx)
	if err != nil {
		return nil, err
	}
	if l.golden != nil {
		for _, e := range l.golden.Log {
			for _, m := range e.Volts {
				out.Golden = append(out.Golden, job.Volts{At: m.At, Volts: m.Volts})
			}
		}
	}
	seen := map[string]float64{}
	if v != nil {
		out.Job, seen = v.Job, netVolts(l.circuit, v.Job)
	}
	out.Rows = t.Rows
	at := map[string]int{}
	wired := map[int]int{} // part → pins
	for _, r := range t.Rows {
		i, ok := at[r.Net]
		if !ok {
			i = len(out.Nets)
			at[r.Net] = i
			n := ExpectedNet{VoltsRow: r}
			if y, ok := seen[r.Net]; ok {
				n.Seen, n.Off = VoltsText(y), y < r.Low || y > r.High
			}
			out.Nets = append(out.Nets, n)
		}
		out.Nets[i].Pins = append(out.Nets[i].Pins, r.Pin)
		if q, _ := l.circuit.FindPlace(r.Pin); q.Pin != circuit.None {
			wired[l.circuit.Pins[q.Pin].Part]++
		}
	}
	slices.SortStableFunc(out.Nets, func(a, b ExpectedNet) int { return strings.Compare(a.Net, b.Net) })
	levels := t.levels(l.circuit, seen)
	for pi := range l.circuit.Parts {
		if wired[pi] >= drawnPins {
			out.Drawn = append(out.Drawn, draw.Package(l.circuit, pi, draw.PackageOptions{Pin: circuit.None, Levels: levels}))
		}
	}
	return out, nil
}

// netVolts is the last voltage against ground that was read on each net, on the machine's own supply and since the last repair: what was read before
// speaks of a unit that was broken.
func netVolts(c *circuit.Circuit, j *job.Job) map[string]float64 {
	out := map[string]float64{}
	for _, l := range j.Standing() {
		if l.Entry.Repairs() {
			clear(out)
		}
		if l.Entry.Feed != nil || len(l.Entry.Do) > 0 {
			continue
		}
		for _, r := range l.Entry.Volts {
			if _, part := c.PartByRef(r.At); part {
				continue // across the part
			}
			if p, _ := c.FindPlace(r.At); p.Net != circuit.None {
				out[c.NetName(p.Net)] = r.Volts
			}
		}
	}
	return out
}

// levels are the table's figures for the drawings, by net; seen are readings by name of net.
func (t VoltsTable) levels(c *circuit.Circuit, seen map[string]float64) map[int]draw.Level {
	out := map[int]draw.Level{}
	for _, r := range t.Rows {
		n, ok := c.Net(r.Net)
		if !ok || r.Sigma == 0 && r.Volts == 0 { // ground
			continue
		}
		x := draw.Level{Expected: r.Short()}
		if y, ok := seen[r.Net]; ok {
			x.Seen = VoltsText(y)
			if y >= r.Low && y <= r.High {
				x.Expected = x.Seen
			}
		}
		out[n] = x
	}
	return out
}

// voltLevels are the voltages of the nets of a job's board; nil without an analogue half.
func (d *Desk) voltLevels(ctx context.Context, v *ProbeView) (map[int]draw.Level, error) {
	if !v.Analog() {
		return nil, nil
	}
	l, err := d.loaded(ctx, v.Job.Board.Version)
	if err != nil {
		return nil, err
	}
	t, err := l.table(ctx)
	if err != nil {
		return nil, err
	}
	return t.levels(v.Circuit, netVolts(v.Circuit, v.Job)), nil
}

// KeepGolden keeps readings of a known-good unit with a board, as a new version of it. A place that was there already takes the new reading; those of
// away are taken out.
func (d *Desk) KeepGolden(ctx context.Context, boardID int64, add []job.Volts, away []string) (BoardVersion, error) {
	all, err := d.store.BoardVersions(ctx, boardID)
	if err != nil {
		return BoardVersion{}, err
	}
	if len(all) == 0 {
		return BoardVersion{}, ErrNone
	}
	l, err := d.loaded(ctx, all[0].ID)
	if err != nil {
		return BoardVersion{}, err
	}
	if l.circuit == nil || l.circuit.Board.Analog == nil {
		return BoardVersion{}, Wrong{fmt.Errorf("voltages of a known-good unit are kept with a board that has an `analog:` section and no errors")}
	}
	k := &evidence.Case{Title: "Known-good unit", Board: BoardName, Golden: true}
	var e evidence.Entry
	if l.golden != nil {
		for _, old := range l.golden.Log {
			e.Volts = append(e.Volts, old.Volts...)
		}
	}
	drop := func(at string) {
		net, _ := l.circuit.FindPlace(at)
		e.Volts = slices.DeleteFunc(e.Volts, func(m evidence.Measured) bool {
			p, _ := l.circuit.FindPlace(m.At)
			return m.At == at || p.Net != circuit.None && p.Net == net.Net
		})
	}
	for _, at := range away {
		drop(at)
	}
	for _, a := range add {
		if p, hint := l.circuit.FindPlace(a.At); p.Net == circuit.None {
			return BoardVersion{}, Wrong{fmt.Errorf("%s", hint)}
		}
		drop(a.At)
		e.Volts = append(e.Volts, evidence.Measured{At: a.At, Volts: a.Volts})
	}
	files := l.files
	files.Files = map[string][]byte{}
	for name, data := range l.files.Files {
		files.Files[name] = data
	}
	delete(files.Files, GoldenBeside)
	if len(e.Volts) > 0 {
		e.Index, e.Sure = 1, evidence.DefaultSure
		k.Log = []evidence.Entry{e}
		text, err := d.texts.WriteCase(k)
		if err != nil {
			return BoardVersion{}, fmt.Errorf("the readings cannot be written: %w", err)
		}
		files.Files[GoldenBeside] = text
	}
	v, _, err := d.SaveBoard(ctx, boardID, files)
	return v, err
}

// GoldenJob keeps the voltages that stand in a job's log as those of a known-good unit, and gives the job the version that has them.
func (d *Desk) GoldenJob(ctx context.Context, id int64, key string) (int, error) {
	j, l, err := d.boardOfJob(ctx, id)
	if err != nil {
		return 0, err
	}
	if l == nil || l.circuit == nil {
		return 0, Wrong{fmt.Errorf("the job has no board without errors yet")}
	}
	var add []job.Volts
	seen := netVolts(l.circuit, j)
	for i := range l.circuit.Nets {
		name := l.circuit.NetName(i)
		if x, ok := seen[name]; ok {
			add = append(add, job.Volts{At: name, Volts: x})
		}
	}
	if len(add) == 0 {
		return 0, Wrong{fmt.Errorf("no voltage stands in the log since the last repair: measure the unit as it is now first")}
	}
	v, err := d.KeepGolden(ctx, l.version.BoardID, add, nil)
	if err != nil {
		return 0, err
	}
	_, err = d.Record(ctx, id, key, &job.BoardUsed{Version: v.ID, Title: v.Title, Number: v.Number, Parts: v.Parts})
	return len(add), err
}
