package app

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/job"
)

// Report is the account of a job as a document: the printable page and the PDF are both written from it.
type Report struct {
	Title    string
	Line     string // below the title
	At       time.Time
	Sections []Section
}

// Section is a heading with what stands below it.
type Section struct {
	Title  string
	Blocks []Block
}

// Block is one piece of a section; one of its forms is filled.
type Block struct {
	Text    string
	List    []string
	Facts   [][2]string // name and value
	Table   *Table
	Picture *draw.Picture
	Photo   *job.PhotoLine
}

// Table is rows of text. Right names the columns, from 0, that are set to the right.
type Table struct {
	Head  []string
	Rows  [][]string
	Right []int
	Total bool // the last row is a sum
}

// Report writes the account of a job.
func (d *Desk) Report(ctx context.Context, id int64) (*Report, *JobView, error) {
	v, err := d.View(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	j := v.Job
	r := &Report{Title: j.Intake.Machine, At: j.Changed,
		Line: fmt.Sprintf("Job %d, taken in %s. Account of the work as of %s.", j.ID, day(j.Opened), day(j.Changed))}
	add := func(title string, blocks ...Block) {
		blocks = slices.DeleteFunc(blocks, Block.empty)
		if len(blocks) > 0 {
			r.Sections = append(r.Sections, Section{title, blocks})
		}
	}
	in := j.Intake
	add("The unit", Block{Facts: facts("Machine", in.Machine, "Serial number", in.Serial, "Owner", in.Owner, "Came with", in.Accessories, "Condition", in.Condition, "Wishes", in.Wishes, "History", in.History, "Damage", zones(in.Zones))})
	add("Complaint, in the owner's words", Block{Text: in.Complaint})
	add("Found", d.found(v)...)
	add("Done", done(v)...)
	add("Parts fitted", parts(j))
	add("Readings before and after", readings(v)...)
	add("Tests", proofs(j))
	add("Not done", notDone(v)...)
	add("Cautions and what to know", reportCautions(v)...)
	add("Cost", v.costs()...)
	add("Hand-over", handedOver(j))
	add("Drawings", d.reportDrawings(v)...)
	add("Photos", photos(j)...)
	add("Everything that was entered", logTable(v))
	return r, v, nil
}

// handedOver says what becomes of the unit, once that is decided.
func handedOver(j *job.Job) Block {
	now := map[string]string{job.Finished: "ready to go back", job.Returned: "handed over", job.Declined: "goes back unrepaired"}[j.State.State]
	if now == "" {
		return Block{}
	}
	return Block{Facts: facts("The unit", now, "Note", j.State.Note)}
}

func (b Block) empty() bool {
	return b.Text == "" && len(b.List) == 0 && len(b.Facts) == 0 && (b.Table == nil || len(b.Table.Rows) == 0) && (b.Picture == nil || b.Picture.W == 0) && b.Photo == nil
}

func day(t time.Time) string { return t.Local().Format("2 January 2006") }

func facts(pairs ...string) (out [][2]string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		if strings.TrimSpace(pairs[i+1]) != "" {
			out = append(out, [2]string{pairs[i], pairs[i+1]})
		}
	}
	return out
}

func zones(list []job.Zone) string {
	var out []string
	for _, z := range list {
		s := z.Kind
		if z.Text != "" {
			s += ": " + z.Text
		}
		if n := len(z.Parts) + len(z.Nets); n > 0 {
			s += " (" + strings.Join(append(slices.Clone(z.Parts), z.Nets...), ", ") + ")"
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}

// found says what was wrong, as far as the log shows it.
func (d *Desk) found(v *JobView) []Block {
	var out []Block
	p := v.Probe
	var cured []string
	for _, f := range p.Diagnosis.Cured {
		cured = append(cured, f.Text)
	}
	if len(cured) > 0 {
		out = append(out, Block{Text: "What the readings point to as the cause, ended by a repair:"}, Block{List: cured})
	}
	switch {
	case p.Circuit == nil || v.Progress.Seen == 0:
		return out
	case p.Diagnosis.Explained && p.Diagnosis.Healthy > 0.9:
		out = append(out, Block{Text: fmt.Sprintf("With this, every reading of the log is accounted for; the model of the board expects nothing else to be wrong (%.0f %%).", 100*min(0.99, p.Diagnosis.Healthy))})
	case len(p.Groups) > 0:
		var open []string
		for _, g := range p.Groups[:min(5, len(p.Groups))] {
			open = append(open, fmt.Sprintf("%.0f %%: %s", 100*g.Probability, faultsText(p.Diagnosis.Suspects[g.Suspects[0]])))
		}
		out = append(out, Block{Text: "Still open. What may be wrong, by likelihood:"}, Block{List: open})
	}
	return out
}

func faultsText(s Suspect) string {
	var out []string
	for _, f := range s.Faults {
		out = append(out, f.Text)
	}
	return strings.Join(out, "; and ")
}

func done(v *JobView) []Block {
	var list []string
	for _, l := range v.Job.Standing() {
		if l.Entry.Repairs() {
			s := day(l.At) + ": " + EntryText(&l.Entry)
			if l.Entry.Note != "" {
				s += " (" + l.Entry.Note + ")"
			}
			list = append(list, s)
		}
	}
	var stages []string
	for _, s := range v.Rail {
		if s.Mark.Mark == job.Done {
			stages = append(stages, fmt.Sprintf("%s (%s)", s.Title, day(s.Mark.At)))
		}
	}
	var notes []string
	for _, n := range v.Job.Notes {
		if n.Report {
			notes = append(notes, n.Text)
		}
	}
	out := []Block{{List: list}}
	if len(stages) > 0 {
		out = append(out, Block{Text: "Finished: " + strings.Join(stages, ", ") + "."})
	}
	return append(out, Block{List: notes})
}

func parts(j *job.Job) Block {
	t := &Table{Head: []string{"Where", "What", "Pieces", "Each", "Supplier, note"}, Right: []int{2, 3}}
	for _, u := range j.Used {
		t.Rows = append(t.Rows, []string{u.Ref, u.Type, fmt.Sprint(u.Count), MoneyText(u.Each, j.Terms.Currency), strings.TrimSpace(u.Supplier + " " + u.Note)})
	}
	return Block{Table: t}
}

func readings(v *JobView) (out []Block) {
	for _, c := range v.Probe.Changes {
		t := &Table{Head: []string{"Place", "Before", "After"}}
		for _, b := range c.Before {
			t.Rows = append(t.Rows, []string{b.At, b.Was, b.Is})
		}
		if len(t.Rows) > 0 {
			out = append(out, Block{Text: "Around: " + c.What}, Block{Table: t})
		}
	}
	return out
}

func proofs(j *job.Job) Block {
	t := &Table{Head: []string{"Stage", "Test", "Before", "After", "Judged by", "Result"}}
	for _, p := range j.Proofs {
		result := "passed"
		if p.Failed {
			result = "FAILED"
		}
		title := p.Stage
		if s := job.StageByName(p.Stage); s != nil {
			title = s.Title
		}
		t.Rows = append(t.Rows, []string{title, p.What, p.Before, p.After, p.Limit, result})
	}
	return Block{Table: t}
}

// notDone names the stages that were left out, and what was still open when the report was written.
func notDone(v *JobView) []Block {
	var left, open []string
	for _, s := range v.Rail {
		switch {
		case s.Mark.Mark == job.NotNeeded:
			left = append(left, s.Title+": "+s.Mark.Reason)
		case !s.Settled && s.Name != "handover":
			for _, l := range s.Lacks {
				open = append(open, s.Title+": "+l.Text)
			}
		}
	}
	for _, at := range v.Probe.Skipped {
		left = append(left, "Not reached with a probe: "+at)
	}
	out := []Block{{List: left}}
	if len(open) > 0 {
		out = append(out, Block{Text: "Open on the day of this report:"}, Block{List: open})
	}
	return out
}

func reportCautions(v *JobView) []Block {
	var list []string
	for _, c := range v.Cautions {
		if _, ticked := v.Job.Ticks[c.Name]; c.Gate && !ticked {
			list = append(list, c.Title+": not confirmed during this work.")
		}
	}
	if v.Job.Intake.Mains {
		list = append(list, "Mains powered: this account certifies nothing. Electrical safety is judged by a competent person under the code that applies where the unit is used.")
	}
	if v.Job.Intake.Battery || strings.Contains(zones(v.Job.Intake.Zones), "battery") {
		list = append(list, "Batteries leak with age: look at the cell once a year, and have it changed before it does.")
	}
	list = append(list, "Old parts go on aging: a repair answers for what was replaced, not for what was left in place.")
	return []Block{{List: list}}
}

// MoneyText writes an amount with its currency.
func MoneyText(m job.Money, currency string) string {
	sign := ""
	if m < 0 {
		sign, m = "−", -m
	}
	return strings.TrimSpace(fmt.Sprintf("%s%d.%02d %s", sign, m/100, m%100, currency))
}

func (v *JobView) costs() []Block {
	j := v.Job
	cur := j.Terms.Currency
	t := &Table{Head: []string{"For", "Amount"}, Right: []int{1}, Total: true}
	row := func(what string, m job.Money) {
		if m != 0 {
			t.Rows = append(t.Rows, []string{what, MoneyText(m, cur)})
		}
	}
	row("Fixed fee", j.Terms.Fee)
	worked := j.Worked() + v.Running
	row(fmt.Sprintf("Work, %.2f h at %s an hour", worked.Hours(), MoneyText(j.Terms.Rate, cur)), j.Labour(v.Running))
	for _, u := range j.Used {
		row(strings.TrimSpace(fmt.Sprintf("%d × %s %s", u.Count, u.Type, u.Ref)), job.Money(u.Count)*u.Each)
	}
	for _, c := range j.Costs {
		row(c.Text, c.Amount)
	}
	t.Rows = append(t.Rows, []string{"In all", MoneyText(v.Spent, cur)})
	var times []string
	for i := range job.Stages {
		if d := j.Times[job.Stages[i].Name]; d >= time.Minute {
			times = append(times, fmt.Sprintf("%s %d min", job.Stages[i].Title, int(d.Minutes()+0.5)))
		}
	}
	out := []Block{{Table: t}}
	if len(times) > 0 {
		out = append(out, Block{Text: "Time: " + strings.Join(times, ", ") + "."})
	}
	if j.Terms.Limit > 0 {
		out = append(out, Block{Text: fmt.Sprintf("Authorised limit: %s %s.", MoneyText(j.Terms.Limit, cur), j.Terms.How)})
	}
	for _, q := range j.Quotes {
		out = append(out, Block{Text: fmt.Sprintf("Estimate told on %s: %s, in one of five such jobs more than %s. %s", day(q.At), MoneyText(q.Median, cur), MoneyText(q.High, cur), q.Text)})
	}
	return out
}

// reportDrawings shows each replaced part in its package, and where it sits.
func (d *Desk) reportDrawings(v *JobView) (out []Block) {
	c := v.Probe.Circuit
	if c == nil {
		return nil
	}
	marks := map[int]draw.BoardMark{}
	for _, l := range v.Job.Standing() {
		for _, ref := range append(slices.Clone(l.Entry.Replaced), l.Entry.Reseated...) {
			p, ok := c.PartByRef(ref)
			if _, twice := marks[p]; !ok || twice {
				continue
			}
			marks[p] = draw.BoardMark{Text: "worked on", Weight: 1}
			pic := draw.Package(c, p, draw.PackageOptions{Pin: circuit.None})
			out = append(out, Block{Picture: &pic})
		}
	}
	if len(marks) == 0 {
		return nil
	}
	b := draw.Board(c, draw.BoardOptions{Pin: circuit.None, Marks: marks})
	return append([]Block{{Picture: &b}}, out...)
}

func photos(j *job.Job) (out []Block) {
	for i := range j.Photos {
		out = append(out, Block{Photo: &j.Photos[i]})
	}
	return out
}

func logTable(v *JobView) Block {
	t := &Table{Head: []string{"", "When", "Entry", ""}, Right: []int{0}}
	for _, l := range v.Probe.Log {
		n, mark := "", ""
		if l.Number > 0 {
			n = fmt.Sprint(l.Number)
		}
		switch {
		case l.Line.Gone:
			mark = "taken back"
		case len(l.Line.Earlier) > 0:
			mark = "corrected; was " + EntryText(&l.Line.Earlier[len(l.Line.Earlier)-1])
		case l.Surprise:
			mark = "not as on a good board"
		}
		text := l.Text
		if l.Line.Entry.Note != "" {
			text += " (" + l.Line.Entry.Note + ")"
		}
		t.Rows = append(t.Rows, []string{n, l.Line.At.Local().Format("2 Jan 15:04"), text, mark})
	}
	return Block{Table: t}
}

// LogCSV writes the log as comma-separated values (RFC 4180), one reading or repair a line.
func LogCSV(w io.Writer, v *JobView) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	rows := [][]string{{"number", "time", "action", "kind", "at", "to", "value", "sure", "state", "note"}}
	for _, l := range v.Probe.Log {
		e := &l.Line.Entry
		state := "stands"
		if l.Line.Gone {
			state = "taken back"
		} else if len(l.Line.Earlier) > 0 {
			state = "corrected"
		}
		n, sure := "", ""
		if l.Number > 0 {
			n = fmt.Sprint(l.Number)
		}
		if e.Sure > 0 {
			sure = fmt.Sprint(e.Sure)
		}
		row := func(kind, at, to, value string) {
			rows = append(rows, []string{n, l.Line.At.UTC().Format(time.RFC3339), strings.Join(e.Do, " "), kind, PlainCell(at), PlainCell(to), PlainCell(value), sure, state, PlainCell(e.Note)})
		}
		for _, r := range e.Read {
			row("read", r.At, "", r.Is)
		}
		for _, r := range e.See {
			row("see", r.At, "", r.Is)
		}
		for _, r := range e.Volts {
			row("volts", r.At, "", fmt.Sprint(r.Volts))
		}
		for _, r := range e.Ohms {
			value := fmt.Sprint(r.Ohms)
			if r.Open {
				value = "open"
			}
			row("ohms", r.At, r.To, value)
		}
		for _, x := range []struct {
			kind string
			list []job.Amount
		}{{"current", e.Current}, {"ripple", e.Ripple}, {"esr", e.ESR}} {
			for _, r := range x.list {
				row(x.kind, r.At, "", fmt.Sprint(r.Is))
			}
		}
		for _, r := range e.AC {
			row(fmt.Sprintf("ac at %g Hz", r.Frequency), r.At, "", fmt.Sprint(r.Volts))
		}
		for _, r := range e.Gain {
			row(fmt.Sprintf("gain at %g Hz", r.Frequency), r.From, r.To, fmt.Sprint(r.Is))
		}
		for _, r := range e.Wiper {
			row(fmt.Sprintf("wiper at %g", r.Position), r.At, "", fmt.Sprint(r.Volts))
		}
		if e.Feed != nil {
			row(fmt.Sprintf("bench supply of %g ohms", e.Feed.Ohms), e.Feed.At, "", fmt.Sprint(e.Feed.Volts))
		}
		for _, x := range []struct {
			kind string
			list []string
		}{{"lifted", e.Lifted}, {"refitted", e.Refitted}, {"replaced", e.Replaced}, {"resoldered", e.Resoldered}, {"reseated", e.Reseated}, {"cleared", e.Cleared}} {
			for _, at := range x.list {
				row(x.kind, at, "", "")
			}
		}
		if e.Skipped != "" {
			row("out of reach", e.Skipped, "", "")
		}
		if !e.Reads() && !e.Repairs() && e.Skipped == "" {
			row("note", "", "", "")
		}
	}
	return c.WriteAll(rows)
}

// PlainCell keeps a spreadsheet from taking a cell for a formula; negative numbers stay numbers.
func PlainCell(s string) string {
	if s != "" && strings.ContainsRune("=+@\t\r", rune(s[0])) || strings.HasPrefix(s, "-") && len(s) > 1 && !strings.ContainsRune("0123456789.", rune(s[1])) {
		return "'" + s
	}
	return s
}
