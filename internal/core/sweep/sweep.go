// Package sweep judges a potentiometer or slider from readings along its travel: which law it follows, where the track is dead, where it jumps, where it
// is worn, and what may replace it. Readings are ohms from one end to the wiper, or volts at the wiper with the ends on a supply.
package sweep

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Reading is one stop of the sweep: travel from 0 to 1, and what was read. Open means no contact: over range, or a voltage that wanders.
type Reading struct {
	At    float64
	Value float64
	Open  bool
}

// Limits are the borders between good and worn, as shares of the whole. Estimates, no source.
type Limits struct {
	Worn float64 // departure from the law that counts as worn
	Dead float64 // departure that counts as no contact
	Back float64 // step back that counts as not monotonic
	End  float64 // resistance left at an end
}

// DefaultLimits are estimates without a source: a good part of ±20 % follows its own law within 3 %.
var DefaultLimits = Limits{Worn: 0.04, Dead: 0.15, Back: 0.01, End: 0.03}

// Zone is a stretch of travel with something wrong.
type Zone struct {
	Kind     string // dead, worn, jump, back, noisy, end
	From, To float64
	Most     float64 // largest departure, as a share of the whole
	Text     string
}

// Result is the verdict on a sweep.
type Result struct {
	Law     Law
	Rising  bool    // the value rises with travel
	Total   float64 // full value that was taken
	Points  []Judged
	Zones   []Zone
	Replace Replacement
	Good    bool
}

// Judged is a reading beside what the law gives there. A reading without contact has Share and Off 0.
type Judged struct {
	Reading
	Share, Law, Off float64
}

// Replacement is what to fit instead: the law, the nearest usual value, and how a linear part can stand in.
type Replacement struct {
	Kind   Kind
	Value  float64 // of E3 and 1-2-5 values, 0 when the total is not in ohms
	Load   float64 // wiper load for a linear part, as a share of its resistance; 0 when a linear part does as it is
	ToTop  bool    // the load goes to the top end instead of the bottom
	Rest   float64 // largest departure of the loaded linear part from the law
	Reason string
}

// MaxReadings bounds a sweep.
const MaxReadings = 10000

// Judge looks at a sweep. total is the whole resistance or the supply across the track, 0 to take it from the readings; isOhms says that the values
// are ohms. It refuses fewer than four readings with contact, travel outside 0 to 1, and values that are not finite.
func Judge(readings []Reading, total float64, isOhms bool, lim Limits) (Result, error) {
	if len(readings) > MaxReadings {
		return Result{}, fmt.Errorf("%d readings are more than the %d that are looked at", len(readings), MaxReadings)
	}
	rs := slices.Clone(readings)
	slices.SortStableFunc(rs, func(a, b Reading) int { return cmp.Compare(a.At, b.At) })
	touching, lo, hi := 0, math.Inf(1), math.Inf(-1)
	for _, r := range rs {
		if !(r.At >= 0 && r.At <= 1) {
			return Result{}, fmt.Errorf("travel %g %% is not between 0 and 100 %%", r.At*100)
		}
		if r.Open {
			continue
		}
		if math.IsNaN(r.Value) || r.Value < 0 || r.Value > 1e15 {
			return Result{}, fmt.Errorf("%g at %g %% of travel is no reading of a track", r.Value, r.At*100)
		}
		touching++
		lo, hi = math.Min(lo, r.Value), math.Max(hi, r.Value)
	}
	if touching < 4 {
		return Result{}, fmt.Errorf("%d readings with contact are too few; take at least four along the travel, better ten", touching)
	}
	if total <= 0 {
		total = hi
	}
	if total <= 0 || hi == lo {
		return Result{}, fmt.Errorf("every reading is the same: the wiper does not move, or the meter is on the two ends")
	}
	res := Result{Total: total, Rising: rising(rs)}
	ps := make([]Point, 0, touching)
	for _, r := range rs {
		if !r.Open {
			ps = append(ps, Point{r.At, turn(r.Value/total, res.Rising)})
		}
	}
	res.Law = robust(ps, lim)
	for _, r := range rs {
		j := Judged{Reading: r, Law: turn(res.Law.At(r.At), res.Rising)}
		if !r.Open {
			j.Share = r.Value / total
			j.Off = j.Share - j.Law
		}
		res.Points = append(res.Points, j)
	}
	res.Zones = zones(res.Points, res.Rising, lim)
	res.Replace = replacement(res.Law, total, isOhms)
	res.Good = len(res.Zones) == 0
	return res, nil
}

// turn mirrors a share when the value falls with travel, so that the law always starts at the end with no resistance.
func turn(y float64, rising bool) float64 {
	if rising {
		return y
	}
	return 1 - y
}

// rising compares the halves, so that one bad end does not decide.
func rising(rs []Reading) bool {
	var n [2]int
	var sum [2]float64
	for _, r := range rs {
		if !r.Open {
			h := 0
			if r.At > 0.5 {
				h = 1
			}
			n[h]++
			sum[h] += r.Value
		}
	}
	if n[0] == 0 || n[1] == 0 {
		first, last := math.NaN(), 0.0
		for _, r := range rs {
			if !r.Open {
				if math.IsNaN(first) {
					first = r.Value
				}
				last = r.Value
			}
		}
		return last >= first
	}
	return sum[1]/float64(n[1]) >= sum[0]/float64(n[0])
}

// robust fits the law to the good part of the track: points far off the fit are left out and the rest is fitted again, until nothing changes. At least
// half the points stay.
func robust(ps []Point, lim Limits) Law {
	keep := slices.Clone(ps)
	for range 20 {
		l := Fit(keep)
		off := make([]float64, len(ps))
		for i, p := range ps {
			off[i] = math.Abs(p.Y - l.At(p.X))
		}
		sorted := slices.Sorted(slices.Values(off))
		border := math.Max(lim.Worn, 3*sorted[len(sorted)/2])
		var next []Point
		for i, p := range ps {
			if off[i] <= border {
				next = append(next, p)
			}
		}
		if len(next) < (len(ps)+1)/2 || slices.Equal(next, keep) {
			break
		}
		keep = next
	}
	l := Fit(keep)
	if l.Kind == Unclear || l.RMS > 0.03 { // perhaps S-shaped: then the far points are the law itself
		if all := Fit(ps); all.Kind == SShape {
			return all
		}
	}
	return l
}

// zones lists what is wrong, in order of travel.
func zones(ps []Judged, rising bool, lim Limits) []Zone {
	var out []Zone
	state := func(j Judged) string {
		switch off := math.Abs(j.Off); {
		case j.Open || off > lim.Dead:
			return "dead"
		case off > lim.Worn:
			return "worn"
		}
		return ""
	}
	for i := 0; i < len(ps); {
		s := state(ps[i])
		k := i
		z := Zone{Kind: s, From: ps[i].At, To: ps[i].At}
		for ; k < len(ps) && state(ps[k]) == s; k++ {
			z.To = ps[k].At
			if math.Abs(ps[k].Off) > math.Abs(z.Most) {
				z.Most = ps[k].Off
			}
		}
		if s != "" {
			if s == "dead" && z.Most == 0 {
				z.Most = 1
			}
			z.Text = zoneText(z)
			out = append(out, z)
		}
		i = k
	}
	out = append(out, steps(ps, rising, lim)...)
	slices.SortStableFunc(out, func(a, b Zone) int { return cmp.Compare(a.From, b.From) })
	return out
}

func zoneText(z Zone) string {
	at := fmt.Sprintf("%.0f to %.0f %%", z.From*100, z.To*100)
	if z.From == z.To {
		at = fmt.Sprintf("%.0f %%", z.From*100)
	}
	switch {
	case z.Kind == "dead" && z.Most == 1:
		return "no contact at " + at
	case z.Kind == "dead":
		return fmt.Sprintf("dead spot at %s: %.0f %% off the law", at, z.Most*100)
	}
	return fmt.Sprintf("worn at %s: up to %.0f %% off the law", at, z.Most*100)
}

// steps looks at neighbours: jumps, steps back, readings at one place that differ, resistance left at the ends.
func steps(ps []Judged, rising bool, lim Limits) []Zone {
	var out []Zone
	add := func(kind string, from, to, most float64, format string, args ...any) {
		out = append(out, Zone{kind, from, to, most, fmt.Sprintf(format, args...)})
	}
	last := -1
	for i, p := range ps {
		if p.Open {
			continue
		}
		if last >= 0 {
			q := ps[last]
			d := p.Share - q.Share
			if !rising {
				d = -d
			}
			over := math.Abs((p.Share - q.Share) - (p.Law - q.Law))
			switch {
			case p.At == q.At && math.Abs(d) > lim.Back:
				add("noisy", p.At, p.At, math.Abs(d), "noisy at %.0f %%: two readings %.0f %% apart", p.At*100, math.Abs(d)*100)
			case p.At == q.At:
			case d < -lim.Back:
				add("back", q.At, p.At, d, "goes back between %.0f and %.0f %% by %.0f %%", q.At*100, p.At*100, -d*100)
			case over > 2*lim.Worn && d > 0:
				add("jump", q.At, p.At, over, "jumps between %.0f and %.0f %%: %.0f %% more than the law", q.At*100, p.At*100, over*100)
			}
		}
		last = i
	}
	if n := len(ps); n > 0 {
		ends := []Judged{ps[0], ps[n-1]}
		if !rising {
			ends[0], ends[1] = ends[1], ends[0]
		}
		if e := ends[0]; !e.Open && (e.At == 0 || e.At == 1) && e.Share > lim.End {
			add("end", e.At, e.At, e.Share, "%.0f %% of the resistance is left at the low end: it never gets to zero", e.Share*100)
		}
		if e := ends[1]; !e.Open && (e.At == 0 || e.At == 1) && e.Share < 1-lim.End-lim.Worn {
			add("end", e.At, e.At, 1-e.Share, "only %.0f %% at the high end", e.Share*100)
		}
	}
	return out
}

// usual are the values that potentiometers are sold in, one decade.
var usual = []float64{1, 2.2, 2.5, 4.7, 5, 10}

func replacement(l Law, total float64, isOhms bool) Replacement {
	r := Replacement{Kind: l.Kind}
	if isOhms {
		d := math.Pow(10, math.Floor(math.Log10(total)))
		best := math.Inf(1)
		for _, u := range usual {
			if e := math.Abs(math.Log(u * d / total)); e < best {
				best, r.Value = e, u*d
			}
		}
	}
	switch l.Kind {
	case Linear:
		r.Reason = "a linear part; test its law before fitting it, whatever its letter says"
	case Log, Reverse:
		m := l.Middle
		if l.Kind == Reverse {
			m, r.ToTop = 1-m, true
		}
		r.Load = 0.25 / (0.5/m - 1)
		for i := 1; i < 100; i++ {
			x := float64(i) / 100
			r.Rest = math.Max(r.Rest, math.Abs(Loaded(x, r.Load, r.ToTop)-l.At(x)))
		}
		r.Reason = "the same law; a linear part with a resistor from the wiper to one end comes near it as a divider, with a lower input resistance"
	case SShape:
		r.Reason = "an S-shaped part (balance or cross-fade); no resistor makes one of a linear part"
	default:
		r.Reason = "clean it and sweep again: the readings follow no known law"
	}
	return r
}

// Loaded is the share that a linear divider gives at travel x with load·R from the wiper to the bottom (or to the top).
func Loaded(x, load float64, toTop bool) float64 {
	if toTop {
		return 1 - Loaded(1-x, load, false)
	}
	return x / (1 + x*(1-x)/load)
}
