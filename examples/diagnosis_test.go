package examples_test

// The program finds what is wrong with the machines of this folder.

import (
	"context"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/app"
)

// TestDiagnosisFindsTheFault insists that each log is explained, that the hidden faults which are still there lead the list (or share
// the lead: no rival has more than twice their probability), and that those which a repair ended are named as cured.
func TestDiagnosisFindsTheFault(t *testing.T) {
	leading, sharing, cured := 0, 0, 0
	for _, m := range machines {
		c := boardOf(t, m.dir)
		truth, names := answers(t, c, m.dir)
		for _, name := range names {
			b := bench{t: t, c: c, here: slices.Clone(truth[name])}
			for _, e := range loadCase(t, m.dir+"/"+name).Log {
				b.repairs(e)
			}
			var present, ended []string
			for _, f := range truth[name] {
				if slices.Contains(b.here, f) {
					present = append(present, f.String(c))
				} else {
					ended = append(ended, f.String(c))
				}
			}
			slices.Sort(present)
			d, fl, err := app.Diagnose(context.Background(), embedded{}, app.DiagnoseRequest{Case: m.dir + "/" + name})
			if err != nil || len(fl) > 0 {
				t.Fatalf("%s: %v, %v", name, err, fl)
			}
			if !d.Explained || len(d.Unexplained) > 0 {
				t.Errorf("%s is not explained: %v", name, d.Unexplained)
			}
			for _, f := range ended {
				if !slices.ContainsFunc(d.Cured, func(v app.FaultView) bool { return v.Kind+"@"+v.At == f }) {
					t.Errorf("%s: %s is not named as cured", name, f)
				}
				cured++
			}
			switch p, first := probability(d, present), lead(d); {
			case len(present) == 0:
				if d.Healthy < 0.5 || len(d.Suspects) > 0 {
					t.Errorf("%s: a cured machine is healthy with %.2f and has %d suspects", name, d.Healthy, len(d.Suspects))
				}
			case p == first:
				leading++
			case 2*p >= first:
				sharing++
			default:
				t.Errorf("%s: %v has %.3f, the leader %.3f", name, present, p, first)
			}
		}
	}
	if leading+sharing != 16 || cured != 4 {
		t.Errorf("%d lead, %d share the lead, %d cured", leading, sharing, cured)
	}
}

// probability is that of the suspect which consists of exactly these faults.
func probability(d app.Diagnosis, faults []string) float64 {
	for _, s := range d.Suspects {
		var is []string
		for _, f := range s.Faults {
			is = append(is, f.Kind+"@"+f.At)
		}
		slices.Sort(is)
		if strings.Join(is, " ") == strings.Join(faults, " ") {
			return s.Probability
		}
	}
	return 0
}

func lead(d app.Diagnosis) float64 {
	if len(d.Suspects) == 0 {
		return 0
	}
	return d.Suspects[0].Probability
}
