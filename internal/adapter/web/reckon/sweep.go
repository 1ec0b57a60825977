package reckon

import (
	"fmt"
	"math"
	"net/http"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
)

// sweepView is the page of a slider's sweep.
type sweepView struct {
	shell.Info
	Readings, Total string
	Wrong           mistakes
	Answer          *app.SweepView
}

// sweep judges readings along a track.
func (p *pages) sweep(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	v := sweepView{Info: shell.Info{Shell: p.Shell, Title: "Slider sweep", Nav: "reckon"}, Wrong: mistakes{},
		Readings: strings.TrimSpace(strings.ReplaceAll(q.Get("readings"), "\r\n", "\n")), Total: strings.TrimSpace(q.Get("total"))}
	if asked(q) {
		switch a, err := app.Sweep(v.Readings, v.Total); {
		case v.Readings == "":
			v.Wrong.add("readings", "write the readings: travel in percent and what was read there")
		case err != nil && strings.HasPrefix(err.Error(), "total:"):
			v.Wrong.add("total", err.Error())
		case err != nil:
			v.Wrong.add("readings", "readings: "+err.Error())
		default:
			v.Answer = &a
		}
	}
	p.Render(w, r, v.Wrong.status(r), sweepPage(v))
	return nil
}

// The chart is 320 by 200 with the track from 28 to 312 and the whole reading from 176 up to 12.

func chartX(at float64) float64 { return 28 + 284*at }

func (v *sweepView) chartY(x float64) float64 {
	return 176 - 164*math.Max(0, math.Min(1.04, x/v.Answer.Total))
}

// lawLine is the polyline of the law at the travels that were read.
func (v *sweepView) lawLine() string {
	var out []string
	for _, q := range v.Answer.Points {
		out = append(out, fmt.Sprintf("%.1f,%.1f", chartX(q.At), v.chartY(q.Law)))
	}
	return strings.Join(out, " ")
}

// lawText says how well the law fits, and what such a part is marked.
func (v *sweepView) lawText() string {
	t := fmt.Sprintf("the good part departs from it by %.1f %% rms", v.Answer.RMS*100)
	if v.Answer.Letters != "" {
		t += "; marked " + v.Answer.Letters + "; test it, letters changed places"
	}
	return t
}

func at1(x float64) string { return fmt.Sprintf("%.1f", x) }

// offText is a departure from the law as the table shows it.
func offText(q app.SweepPoint) string {
	if q.Open {
		return ""
	}
	return fmt.Sprintf("%+.1f %%", q.Off*100)
}
