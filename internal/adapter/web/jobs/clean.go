package jobs

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// ringRow is a net of a damaged area with what the meter said.
type ringRow struct {
	app.ZoneNet
	line *job.ProofLine // nil: not rung out yet
}

// rungName is how the test of a net is called.
func rungName(net string) string { return "Net " + net + " rung out" }

func rings(j *job.Job, nets []app.ZoneNet) (out []ringRow) {
	for _, n := range nets {
		r := ringRow{ZoneNet: n}
		for i, t := range j.Proofs {
			if t.Stage == "clean" && t.What == rungName(n.Net) {
				r.line = &j.Proofs[i]
			}
		}
		out = append(out, r)
	}
	return out
}

// left counts the nets that were not rung out yet.
func left(rows []ringRow) (n int) {
	for _, r := range rows {
		if r.line == nil {
			n++
		}
	}
	return n
}

// rung writes down the nets that were rung out: through, or open at a pin. Each net is a test of its own.
func (p *pages) rung(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	id := shell.ID(r, "id")
	nets, _, err := p.Desk.ZoneNets(r.Context(), id)
	if err != nil {
		return err
	}
	v, err := p.Desk.ViewSoon(r.Context(), id)
	if err != nil {
		return err
	}
	var facts []job.Fact
	chosen := r.PostForm["net"]
	for _, row := range rings(v.Job, nets) {
		if !slices.Contains(chosen, row.Net) {
			continue
		}
		t := &job.Proof{Stage: "clean", What: rungName(row.Net), After: "through, all " + count(len(row.Pins), "pin", "pins")}
		if row.line != nil {
			t.Seqs, t.Before = row.line.Seq, row.line.After
		}
		if at := f.text("open"); at != "" {
			if len(chosen) > 1 {
				f.mistake("a break belongs to one net: choose only that one")
			}
			t.After, t.Failed = "open at "+at, true
		}
		facts = append(facts, t)
	}
	if len(chosen) == 0 {
		f.mistake("no net is chosen")
	} else if len(facts) != len(chosen) {
		f.mistake("one of the nets does not run through the damage any more; load the page again")
	}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "clean", facts...)
}

// zoneList is the kinds of damage of a net, in words.
func zoneList(n app.ZoneNet) string {
	var out []string
	for _, k := range n.Zones {
		out = append(out, zoneWords[k])
	}
	s := strings.Join(out, ", ")
	if len(n.Parts) > 0 {
		s += fmt.Sprintf(" (%s)", strings.Join(n.Parts, " "))
	}
	return s
}
