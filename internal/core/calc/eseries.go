package calc

// Preferred values, IEC 60063:2015.

import (
	"math"
	"slices"
	"strconv"

	"halfsplit/internal/core/unit"
)

// e24 are the values of E24, which are older than the rule; E12, E6 and E3 are every second, fourth and eighth of them.
var e24 = []int{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

// seriesWords are the series, coarsest first.
var seriesWords = []string{"E3", "E6", "E12", "E24", "E48", "E96", "E192"}

// seriesTolerance is the tolerance that each series was made for; E3 stands for more than 20 %.
var seriesTolerance = map[string]float64{"E3": 0.4, "E6": 0.2, "E12": 0.1, "E24": 0.05, "E48": 0.02, "E96": 0.01, "E192": 0.005}

// Series lists one decade of a series in three digits, from 100 to 999: E3, E6, E12, E24, E48, E96, E192. It returns nil for another word.
func Series(name string) []int {
	n, err := strconv.Atoi(name[min(1, len(name)):])
	if err != nil || !slices.Contains(seriesWords, name) {
		return nil
	}
	var out []int
	if n <= 24 {
		for i := 0; i < 24; i += 24 / n {
			out = append(out, e24[i]*10)
		}
		return out
	}
	for k := range n {
		v := int(math.Round(100 * math.Pow(10, float64(k)/float64(n))))
		if v == 919 {
			v = 920 // the one value of E192 that the standard rounds otherwise
		}
		out = append(out, v)
	}
	return out
}

// Around returns the values of a series next to v: the largest that is not above it and the smallest that is not below it (the same when v
// is in the series). ok is false when v is not a positive finite number or the series is unknown.
func Around(series string, v float64) (low, high float64, ok bool) {
	s := Series(series)
	if s == nil || !(v > 0) || math.IsInf(v, 0) {
		return 0, 0, false
	}
	decade := int(math.Floor(math.Log10(v))) - 2
	const same = 1e-9
	low = scaled(s[len(s)-1], decade-1)
	for d := decade - 1; d <= decade+1; d++ {
		for _, m := range s {
			e := scaled(m, d)
			if e <= v*(1+same) {
				low = e
			} else {
				if math.Abs(low-v) <= same*v {
					return low, low, true
				}
				return low, e, true
			}
		}
	}
	return low, low, true
}

// scaled is m·10^d, correctly rounded.
func scaled(m, d int) float64 {
	f, _ := strconv.ParseFloat(strconv.Itoa(m)+"e"+strconv.Itoa(d), 64)
	return f
}

func below(series string, v float64) (float64, bool) {
	low, _, ok := Around(series, v)
	return low, ok
}

func above(series string, v float64) (float64, bool) {
	_, high, ok := Around(series, v)
	return high, ok
}

// Nearest returns the value of a series with the least relative error.
func Nearest(series string, v float64) (float64, bool) {
	low, high, ok := Around(series, v)
	if ok && high/v < v/low {
		return high, true
	}
	return low, ok
}

// between lists the values of a series from lo to hi, at most most of them.
func between(series string, lo, hi float64, most int) []float64 {
	var out []float64
	v, ok := above(series, lo)
	for ok && v <= hi*(1+1e-9) && len(out) < most {
		out = append(out, v)
		v, ok = above(series, v*1.0001)
	}
	return out
}

func eSeries() Calculator {
	return Calculator{
		Name: "e-series", Title: "Nearest preferred values", Formula: "E3 to E24 by table, E48 to E192 = 10^(k/n) to three digits",
		Source: "IEC 60063:2015", Range: "any positive value",
		Inputs: []Input{{Name: "value", Title: "Wanted value", Min: 1e-18, Max: 1e18, Help: "without a unit: 4.7k, 123n"}, {Name: "series", Title: "Series", Words: append([]string{"all"}, seriesWords...), Default: "all"}},
		Run: func(n map[string]float64, w map[string]string) (Result, error) {
			var r Result
			v := n["value"]
			for _, s := range seriesWords {
				if w["series"] != "all" && w["series"] != s {
					continue
				}
				near, _ := Nearest(s, v)
				low, high, _ := Around(s, v)
				l := line(s, s+" (±"+show(seriesTolerance[s], "%")+")", near, "", "")
				l.Text = short(near)
				l.How = "error " + signed((near-v)/v*100) + " %; below " + short(low) + ", above " + short(high)
				r.add(l)
			}
			if s := w["series"]; s != "all" {
				if a, b, sum, ok := pair(s, v); ok {
					l := line("series-pair", "Two in series", sum, "", "")
					l.Text, l.How = short(a)+" + "+short(b), "error "+signed((sum-v)/v*100)+" %"
					r.add(l)
				}
			}
			return r, nil
		},
	}
}

// pair finds the two values of a series whose sum is nearest to v; the larger is at least a tenth of v.
func pair(series string, v float64) (a, b, sum float64, ok bool) {
	best := math.Inf(1)
	for _, x := range between(series, v/2, v*0.9999, 1000) {
		if y, found := Nearest(series, v-x); found && math.Abs(x+y-v) < best {
			a, b, best, ok = x, y, math.Abs(x+y-v), true
		}
	}
	return a, b, a + b, ok
}

func signed(v float64) string {
	if v >= 0 {
		return "+" + digits(math.Abs(v))
	}
	return "−" + digits(-v)
}

// short writes a value with prefix and no unit.
func short(v float64) string {
	if math.Abs(v) < 1e-12 || math.Abs(v) >= 1e12 {
		return digits(v)
	}
	return unit.Format(v)
}
