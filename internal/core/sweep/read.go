package sweep

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"halfsplit/internal/core/unit"
)

// Read understands readings as they are jotted down: travel in percent and a value, one pair for each word or line, as 25=1.2k, 25:1.2k, 25 1.2k or
// 25;1.2k (a comma between two words too). open, OL or inf means no contact. # begins a remark. isVolts is set when the values carry V; ohms and volts do not mix.
func Read(text string) (rs []Reading, isVolts bool, err error) {
	ohms := false
	n := 0
	for l := range strings.Lines(text) {
		n++
		l, _, _ = strings.Cut(l, "#")
		fields := pairs(l)
		if len(fields)%2 != 0 {
			return nil, false, fmt.Errorf("line %d: %d words; write travel in percent and a reading in turn, as 25 1.2k or 25=1.2k", n, len(fields))
		}
		for i := 0; i < len(fields); i += 2 {
			at, e := strconv.ParseFloat(strings.TrimSuffix(fields[i], "%"), 64)
			if e != nil || !(at >= 0 && at <= 100) {
				return nil, false, fmt.Errorf("line %d: %.20q is no travel from 0 to 100 percent", n, fields[i])
			}
			r := Reading{At: at / 100}
			switch w := strings.ToLower(fields[i+1]); {
			case w == "open" || w == "ol" || w == "inf" || w == "∞":
				r.Open = true
			default:
				r.Value, e = unit.Parse(fields[i+1])
				if e != nil || r.Value < 0 || math.IsInf(r.Value, 0) {
					return nil, false, fmt.Errorf("line %d: %.20q is no reading; write 1.2k, 3.4V or open", n, fields[i+1])
				}
				v := strings.HasSuffix(fields[i+1], "V")
				isVolts, ohms = isVolts || v, ohms || !v
			}
			rs = append(rs, r)
			if len(rs) > MaxReadings {
				return nil, false, fmt.Errorf("more than %d readings", MaxReadings)
			}
		}
	}
	if isVolts && ohms {
		return nil, false, fmt.Errorf("some readings carry V and some do not; write all of them as ohms or all as volts")
	}
	return rs, isVolts, nil
}

// pairs splits a line at blanks and at the signs between travel and reading.
func pairs(l string) []string {
	return strings.FieldsFunc(l, func(r rune) bool { return strings.ContainsRune(" \t\r\n=:;,", r) })
}
