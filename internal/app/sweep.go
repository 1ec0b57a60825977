package app

import (
	"fmt"

	"halfsplit/internal/core/calc"
	"halfsplit/internal/core/sweep"
)

// SweepView is the verdict on a slider or potentiometer.
type SweepView struct {
	Unit    string       `json:"unit"` // Ω or V
	Total   float64      `json:"total"`
	Rising  bool         `json:"rising"` // the reading rises with travel
	Law     string       `json:"law"`
	Middle  float64      `json:"middle"` // share at half travel
	Letters string       `json:"letters,omitempty"`
	RMS     float64      `json:"rms"` // of the good part, as a share
	Good    bool         `json:"good"`
	Points  []SweepPoint `json:"points"`
	Zones   []SweepZone  `json:"zones"`
	Replace string       `json:"replace"`
}

// SweepPoint is a reading beside its law.
type SweepPoint struct {
	At    float64 `json:"at"`    // travel, 0 to 1
	Open  bool    `json:"open"`  // no contact
	Value float64 `json:"value"` // 0 when open
	Text  string  `json:"text"`
	Law   float64 `json:"law"` // what the law gives there
	Off   float64 `json:"off"` // departure, as a share of the whole
}

// SweepZone is a stretch with something wrong.
type SweepZone struct {
	Kind string  `json:"kind"`
	From float64 `json:"from"`
	To   float64 `json:"to"`
	Text string  `json:"text"`
}

// Sweep judges readings along a track; text as sweep.Read takes it, total "" to take the largest reading.
func Sweep(text, total string) (SweepView, error) {
	rs, isVolts, err := sweep.Read(text)
	if err != nil {
		return SweepView{}, err
	}
	v := SweepView{Unit: "Ω", Points: []SweepPoint{}, Zones: []SweepZone{}}
	if isVolts {
		v.Unit = "V"
	}
	whole := 0.0
	if total != "" {
		whole, err = calc.Parse(total, v.Unit)
		if err != nil || whole <= 0 {
			return SweepView{}, fmt.Errorf("total: %q is not the whole resistance, or the supply across the track, in %s", total, v.Unit)
		}
	}
	r, err := sweep.Judge(rs, whole, !isVolts, sweep.DefaultLimits)
	if err != nil {
		return SweepView{}, err
	}
	v.Total, v.Rising, v.Law, v.Middle, v.Letters, v.RMS, v.Good = r.Total, r.Rising, string(r.Law.Kind), r.Law.Middle, r.Law.Letters, r.Law.RMS, r.Good
	for _, p := range r.Points {
		q := SweepPoint{At: p.At, Open: p.Open, Value: p.Value, Law: p.Law * r.Total, Off: p.Off, Text: calc.Show(p.Value, v.Unit)}
		if p.Open {
			q.Value, q.Text = 0, "open"
		}
		v.Points = append(v.Points, q)
	}
	for _, z := range r.Zones {
		v.Zones = append(v.Zones, SweepZone{z.Kind, z.From, z.To, z.Text})
	}
	v.Replace = replaceText(r.Replace)
	return v, nil
}

func replaceText(r sweep.Replacement) string {
	s := string(r.Kind)
	if r.Value > 0 {
		s = calc.Show(r.Value, "Ω") + " " + s
	}
	if r.Load > 0 {
		end := "low"
		if r.ToTop {
			end = "high"
		}
		load := calc.Show(r.Load, "%") + " of its value"
		if r.Value > 0 {
			if near, ok := calc.Nearest("E12", r.Load*r.Value); ok {
				load = calc.Show(near, "Ω")
			}
		}
		s += fmt.Sprintf("; or linear with %s from the wiper to the %s end, which departs from the law by up to %s", load, end, calc.Show(r.Rest, "%"))
	}
	return s + " (" + r.Reason + ")"
}
