package calc

// Sliders and potentiometers: law from three points, wear map.

import (
	"fmt"

	"halfsplit/internal/core/sweep"
)

func controlCalculators() []Calculator {
	return []Calculator{
		{
			Name: "taper", Title: "Law of a slider from three points", Formula: "share at travel x = (b^x − 1)/(b − 1); b from the shares at ¼, ½ and ¾",
			Source: "least squares; mid-travel 10–15 % logarithmic, 50 % linear, 85–90 % reverse: common practice, no source",
			Range:  "the part out of circuit, or with its wiper free: anything in parallel bends the law",
			Inputs: []Input{ohms("total", "End to end", ""), res0("quarter", "Low end to wiper at ¼ travel"), res0("half", "at ½ travel"), res0("three", "at ¾ travel")},
			Run: func(n map[string]float64, _ map[string]string) (Result, error) {
				var r Result
				t := n["total"]
				var rs []sweep.Reading
				for _, p := range []struct {
					name string
					at   float64
				}{{"quarter", 0.25}, {"half", 0.5}, {"three", 0.75}} {
					v := n[p.name]
					if v > t*1.05 {
						return r, wrong(p.name, "%s is more than the whole track of %s", show(v, "Ω"), show(t, "Ω"))
					}
					rs = append(rs, sweep.Reading{At: p.at, Value: v})
					r.add(line(p.name+"-share", "Share at "+show(p.at, "%"), v/t, "%", "%s / %s", show(v, "Ω"), show(t, "Ω")))
				}
				rs = append(rs, sweep.Reading{At: 0, Value: 0}, sweep.Reading{At: 1, Value: t})
				return judged(r, rs, t, true)
			},
		},
		{
			Name: "wear", Title: "Wear map of a potentiometer", Formula: "each reading against the law that fits the good part of the track",
			Source: "least squares with far points left out; borders 4 % worn, 15 % dead are estimates without a source", Range: "four readings or more; ten or more to see dead spots",
			Inputs: []Input{{Name: "readings", Title: "Travel in percent and reading, in turn", Text: true, Help: "0 12, 25 2.4k, 50 open, 100 10k; or with V"}, may(Input{Name: "total", Title: "Whole resistance, or supply across the track", Min: 1e-6, Max: 1e12}, "the largest reading when left out")},
			Run: func(n map[string]float64, w map[string]string) (Result, error) {
				rs, isVolts, err := sweep.Read(w["readings"])
				if err != nil {
					return Result{}, wrong("readings", "%v", err)
				}
				return judged(Result{}, rs, n["total"], !isVolts)
			},
		},
	}
}

// res0 is a resistance that may be nothing.
func res0(name, title string) Input {
	return Input{Name: name, Title: title, Unit: "Ω", Min: 0, Max: 1e12}
}

// judged puts a sweep's verdict into lines.
func judged(r Result, rs []sweep.Reading, total float64, isOhms bool) (Result, error) {
	s, err := sweep.Judge(rs, total, isOhms, sweep.DefaultLimits)
	if err != nil {
		return r, wrong("readings", "%v", err)
	}
	r.add(word("law", "Law", string(s.Law.Kind), ""), line("middle", "Share at half travel", s.Law.Middle, "%", ""), line("base", "b", s.Law.Base, "", ""), line("rest", "Left over", s.Law.RMS, "%", ""))
	if s.Law.Letters != "" {
		r.add(word("letters", "Marked", s.Law.Letters, ""))
	}
	for i, z := range s.Zones {
		r.add(word(fmt.Sprintf("zone-%d", i+1), "Fault", z.Text, ""))
	}
	if len(s.Zones) == 0 {
		r.add(word("verdict", "Track", "follows its law", ""))
	}
	if s.Replace.Value > 0 {
		r.add(line("replace", "Nearest usual value", s.Replace.Value, "Ω", ""))
	}
	if s.Replace.Load > 0 {
		end := "low end"
		if s.Replace.ToTop {
			end = "high end"
		}
		l := line("load", "With a linear part, wiper to "+end, s.Replace.Load, "%", "")
		l.Text = show(s.Replace.Load, "%") + " of its value"
		l.How = "departs from the law by up to " + show(s.Replace.Rest, "%")
		r.add(l)
	}
	r.warn("never trust the printed letter: A and B changed places between America, Asia and older European parts")
	return r, nil
}
