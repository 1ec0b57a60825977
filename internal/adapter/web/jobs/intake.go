package jobs

import (
	"errors"
	"net/http"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// intakeView is the form of how a unit arrived, with what was typed so far.
type intakeView struct {
	info    shell.Info
	in      job.Intake
	mistake string
}

// zoneWords say in the shop's words what each kind of damage is.
var zoneWords = map[string]string{
	"water": "Water", "battery": "Leaked battery", "heat": "Heat or burn", "impact": "Knock or fall", "animals": "Animals or mould", "repair": "Earlier repair",
}

func (p *pages) fresh(w http.ResponseWriter, r *http.Request) error {
	p.Render(w, r, http.StatusOK, newPage(p.newView(job.Intake{Mains: true})))
	return nil
}

func (p *pages) newView(in job.Intake) intakeView {
	return intakeView{info: shell.Info{Shell: p.Shell, Title: "Take in a unit", Nav: "jobs"}, in: in}
}

// take opens a job. Rate and currency of the shop are its first terms.
func (p *pages) take(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	in := f.intake()
	id, err := p.takeIn(r, f, in)
	if wrong := (app.Wrong{}); errors.As(err, &wrong) && !shell.ByScript(r) {
		v := p.newView(in)
		v.mistake = wrong.Error()
		p.Render(w, r, http.StatusUnprocessableEntity, newPage(v))
		return nil
	}
	if err != nil {
		return err
	}
	shell.Back(w, r, shell.JobPath(id, ""))
	return nil
}

func (p *pages) takeIn(r *http.Request, f *form, in job.Intake) (int64, error) {
	if err := f.err(); err != nil {
		return 0, err
	}
	key := r.PostForm.Get("key")
	id, err := p.Desk.Take(r.Context(), in, key)
	if err != nil {
		return 0, err
	}
	t := p.usualTerms(r)
	if t.Rate == 0 && t.Currency == "" {
		return id, nil
	}
	_, err = p.Desk.Record(r.Context(), id, key+".terms", &t)
	return id, err
}

// example takes in an invented machine, whose faults answer for themselves.
func (p *pages) example(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	id, err := p.Desk.Example(r.Context(), f.text("name"), f.text("key"))
	if err != nil {
		return err
	}
	shell.Back(w, r, shell.JobPath(id, ""))
	return nil
}

func (p *pages) intake(w http.ResponseWriter, r *http.Request) error {
	v, err := p.Desk.ViewSoon(r.Context(), shell.ID(r, "id"))
	if err != nil {
		return err
	}
	p.Render(w, r, http.StatusOK, intakePage(intakeView{info: p.info(v, "intake", "Taken in"), in: v.Job.Intake}))
	return nil
}

func (p *pages) saveIntake(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	v, err := p.Desk.ViewSoon(r.Context(), shell.ID(r, "id"))
	if err != nil {
		return err
	}
	in := f.intake()
	in.Example = v.Job.Intake.Example
	if err = f.err(); err == nil {
		err = p.record(w, r, "intake", &in)
	}
	if wrong := (app.Wrong{}); errors.As(err, &wrong) && !shell.ByScript(r) {
		p.Render(w, r, http.StatusUnprocessableEntity, intakePage(intakeView{p.info(v, "intake", "Taken in"), in, wrong.Error()}))
		return nil
	}
	return err
}

// intake reads the form; rows of damage without a kind are left out.
func (f *form) intake() job.Intake {
	in := job.Intake{
		Machine: f.text("machine"), Serial: f.text("serial"), Owner: f.text("owner"), Complaint: f.text("complaint"), History: f.text("history"),
		Accessories: f.text("accessories"), Condition: f.text("condition"), Wishes: f.text("wishes"),
		Mains: f.yes("mains"), Tube: f.yes("tube"), Battery: f.yes("battery"), Stored: f.yes("stored"), Backed: f.yes("backed"),
	}
	kinds, texts, parts, nets := f.r.PostForm["zone-kind"], f.r.PostForm["zone-text"], f.r.PostForm["zone-parts"], f.r.PostForm["zone-nets"]
	if len(texts) != len(kinds) || len(parts) != len(kinds) || len(nets) != len(kinds) {
		f.mistake("the rows of damage are not whole; load the page again")
		return in
	}
	for i, kind := range kinds {
		z := job.Zone{Kind: kind, Text: tidy(texts[i]), Parts: refs(parts[i]), Nets: refs(nets[i])}
		switch {
		case kind != "":
			in.Zones = append(in.Zones, z)
		case z.Text != "" || len(z.Parts)+len(z.Nets) > 0:
			f.mistake("damage row %d has no kind: choose what it is, or empty the row", i+1)
			in.Zones = append(in.Zones, z)
		}
	}
	return in
}

// info is the frame of a page of a job.
func (p *pages) info(v *app.JobView, stage, title string) shell.Info {
	return shell.Info{Shell: p.Shell, Title: title + " · " + v.Job.Intake.Machine, Nav: "jobs", Job: v, Stage: stage}
}
