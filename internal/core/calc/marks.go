package calc

// Printed markings: letter codes, three- and four-character codes, EIA-96.

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// toleranceLetters of IEC 60062, as −low … +high.
var toleranceLetters = map[string][2]float64{"E": {0.00005, 0.00005}, "L": {0.0001, 0.0001}, "P": {0.0002, 0.0002}, "W": {0.0005, 0.0005}, "B": {0.001, 0.001}, "C": {0.0025, 0.0025}, "D": {0.005, 0.005},
	"F": {0.01, 0.01}, "G": {0.02, 0.02}, "H": {0.03, 0.03}, "J": {0.05, 0.05}, "K": {0.1, 0.1}, "M": {0.2, 0.2}, "N": {0.3, 0.3}, "Q": {0.1, 0.3}, "T": {0.1, 0.5}, "S": {0.2, 0.5}, "Z": {0.2, 0.8}}

// smallLetters are tolerances in picofarads, below 10 pF.
var smallLetters = map[string]float64{"B": 0.1e-12, "C": 0.25e-12, "D": 0.5e-12, "F": 1e-12, "G": 2e-12}

// eia96 are the multiplier letters of EIA-96.
var eia96 = map[string]int{"Z": -3, "Y": -2, "R": -2, "X": -1, "S": -1, "A": 0, "B": 1, "H": 1, "C": 2, "D": 3, "E": 4, "F": 5}

// voltLetters are the second character of a voltage code such as 1H (JIS C 5101, from memory); the first is the power of ten.
var voltLetters = map[string]float64{"A": 1.0, "B": 1.25, "C": 1.6, "D": 2.0, "E": 2.5, "F": 3.15, "V": 3.5, "G": 4.0, "W": 4.5, "H": 5.0, "J": 6.3, "K": 8.0}

var (
	resistorLetter = regexp.MustCompile(`^(\d*)([RKMGL])(\d*)([A-Z]?)$`)
	resistorCode   = regexp.MustCompile(`^(\d{2,3})(\d)([A-Z]?)$`)
	eia96Code      = regexp.MustCompile(`^(\d\d)([ZYRXSABHCDEF])$`)
	capLetter      = regexp.MustCompile(`^(\d*)([pnuµμmR])(\d*)([A-Z]?)(\d{2,4})?$`)
	capCode        = regexp.MustCompile(`^(\d[A-Z])?(\d{2})(\d)?([A-Z]?)(\d{2,4})?$`)
	capDecimal     = regexp.MustCompile(`^(\d*\.\d+)([A-Z]?)(\d{2,4})?$`)
)

var errMark = errors.New("is no marking that is known here")

// ResistorMark reads what stands on a resistor: colour names with blanks between, 4K7, R47J, 472, 4701, 01C, or 4.7k. other is a second way to
// read it, "" when there is none.
func ResistorMark(s string) (m Mark, other string, err error) {
	s = strings.TrimSpace(s)
	if words := strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == ',' || r == '-' || r == '/' }); len(words) > 1 && !strings.ContainsAny(s, "0123456789") || isColour(s) {
		m, err = Bands(words)
		if back, e := Bands(reversed(words)); e == nil && preferred(back.Value) {
			if err != nil {
				back.How += ", read from the other end"
				return back, "", nil
			}
			if len(words) > 3 && back.Value != m.Value {
				other = "from the other end: " + show(back.Value, "Ω")
			}
		}
		return m, other, err
	}
	up := strings.ToUpper(s)
	if x := eia96Code.FindStringSubmatch(up); x != nil {
		i, _ := strconv.Atoi(x[1])
		if i >= 1 && i <= 96 {
			e := Mark{Value: scaled(Series("E96")[i-1], eia96[x[2]]), Low: 0.01, High: 0.01, How: fmt.Sprintf("EIA-96: value %d of E96 = %d, times 10^%d", i, Series("E96")[i-1], eia96[x[2]])}
			if x[2] != "R" {
				return e, "", nil
			}
			other = "as EIA-96: " + show(e.Value, "Ω")
		}
	}
	if x := resistorLetter.FindStringSubmatch(up); x != nil && x[1]+x[3] != "" && len(x[1]+x[3]) < 8 {
		v, _ := strconv.ParseFloat(x[1]+"."+x[3]+"0", 64)
		m = Mark{Value: v * map[string]float64{"R": 1, "K": 1e3, "M": 1e6, "G": 1e9, "L": 1e-3}[x[2]], How: "letter in place of the decimal point"}
		return m, other, m.tolerance(x[4])
	}
	if x := resistorCode.FindStringSubmatch(up); x != nil {
		v, _ := strconv.Atoi(x[1])
		p, _ := strconv.Atoi(x[2])
		m = Mark{Value: scaled(v, p), How: fmt.Sprintf("%d · 10^%d", v, p)}
		if v == 0 && p == 0 {
			m.How = "a zero-ohm link"
		}
		if p == 0 && x[3] == "" {
			other = "as a plain number: " + show(float64(v*10), "Ω") + "; write " + up + "R for that"
		}
		return m, other, m.tolerance(x[3])
	}
	v, err := Parse(s, "Ω")
	if err != nil || v < 0 || v > 1e12 {
		return Mark{}, "", fmt.Errorf("%.30q %w; write bands as brown black red gold, or 4K7, 472, 01C", s, errMark)
	}
	return Mark{Value: v, How: "a plain value"}, "", nil
}

func isColour(s string) bool {
	_, err := findColour(s)
	return err == nil
}

func reversed(w []string) []string {
	var out []string
	for i := len(w) - 1; i >= 0; i-- {
		out = append(out, w[i])
	}
	return out
}

// tolerance fills in what a letter says.
func (m *Mark) tolerance(letter string) error {
	if letter == "" {
		return nil
	}
	t, ok := toleranceLetters[letter]
	if !ok {
		return fmt.Errorf("%s is no tolerance letter", letter)
	}
	m.Low, m.High = t[0], t[1]
	return nil
}

// CapacitorMark reads what stands on a capacitor: 104, 104K, 2A104J, 4n7, p68, 47, 4R7D, 0.1 (microfarads), or 100 µF.
func CapacitorMark(s string) (m Mark, other string, err error) {
	t := strings.TrimSuffix(strings.TrimSpace(s), "F")
	t = strings.ReplaceAll(strings.ReplaceAll(t, " ", ""), ",", ".")
	if x := capLetter.FindStringSubmatch(t); x != nil && x[1]+x[3] != "" && len(x[1]+x[3]) < 8 {
		v, _ := strconv.ParseFloat(x[1]+"."+x[3]+"0", 64)
		m = Mark{Value: v * map[string]float64{"p": 1e-12, "R": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3}[x[2]], How: "letter in place of the decimal point"}
		if x[2] == "m" {
			other = "mfd on old parts means microfarads: " + show(v*1e-6, "F")
		}
		return m, other, m.rest(x[4], x[5])
	}
	if x := capCode.FindStringSubmatch(strings.ToUpper(t)); x != nil {
		v, _ := strconv.Atoi(x[2])
		p := 0
		if x[3] != "" {
			p, _ = strconv.Atoi(x[3])
			if p >= 8 { // 8 and 9 stand for 10^-2 and 10^-1
				p -= 10
			}
		}
		m = Mark{Value: scaled(v, p-12), How: fmt.Sprintf("%d · 10^%d pF", v, p)}
		if x[1] != "" {
			m.Volts = voltLetters[x[1][1:]] * math.Pow10(int(x[1][0]-'0'))
			if m.Volts == 0 {
				return m, "", fmt.Errorf("%s is no voltage code", x[1])
			}
		}
		if p == 0 && x[3] != "" {
			other = fmt.Sprintf("as a plain number: %d pF", v*10)
		}
		return m, other, m.rest(x[4], x[5])
	}
	if x := capDecimal.FindStringSubmatch(strings.ToUpper(t)); x != nil && len(x[1]) < 8 {
		v, _ := strconv.ParseFloat(x[1], 64)
		m = Mark{Value: v * 1e-6, How: "a decimal without a unit is in microfarads"}
		return m, "", m.rest(x[2], x[3])
	}
	v, err := Parse(s, "F")
	if err != nil || v <= 0 || v > 1000 {
		return Mark{}, "", fmt.Errorf("%.30q %w; write 104K, 4n7, p68 or 100 µF", s, errMark)
	}
	return Mark{Value: v, How: "a plain value"}, "", nil
}

// rest reads the tolerance letter and the voltage after it.
func (m *Mark) rest(letter, volts string) error {
	if volts != "" {
		m.Volts, _ = strconv.ParseFloat(volts, 64)
	}
	if abs, ok := smallLetters[letter]; ok && m.Value < 10e-12 {
		m.Absolute = abs
		return nil
	}
	return m.tolerance(letter)
}

// preferred reports whether a value is in E24 or E192.
func preferred(v float64) bool {
	for _, s := range []string{"E24", "E192"} {
		if low, high, ok := Around(s, v); ok && (near(low, v) || near(high, v)) {
			return true
		}
	}
	return false
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Abs(b) }

// letterCode writes a value with a letter in place of the decimal point: 4K7, R47, 100K; "" when it needs more than four digits.
func letterCode(v float64, steps []struct {
	f float64
	l string
}) string {
	for _, s := range steps {
		if v < s.f*0.99999 && s.f > steps[len(steps)-1].f {
			continue
		}
		text := strconv.FormatFloat(v/s.f, 'g', 4, 64)
		if f, _ := strconv.ParseFloat(text, 64); !near(f*s.f, v) || strings.Contains(text, "e") {
			return ""
		}
		whole, part, _ := strings.Cut(text, ".")
		if whole == "0" {
			whole = ""
		}
		return whole + s.l + part
	}
	return ""
}

// digitCode writes a value in units of u as n digits and a power of ten; "" where that is not exact.
func digitCode(v, u float64, n int) string {
	m, p, ok := mantissa(v/u, n)
	if !ok || p < 0 || p > 7 {
		return ""
	}
	return fmt.Sprintf("%d%d", m, p)
}

// eia96Of is the EIA-96 code of a value, "" where it has none.
func eia96Of(v float64) string {
	m, p, ok := mantissa(v, 3)
	if !ok {
		return ""
	}
	for i, e := range Series("E96") {
		if e == m {
			for _, l := range []string{"Z", "Y", "X", "A", "B", "C", "D", "E", "F"} {
				if eia96[l] == p {
					return fmt.Sprintf("%02d%s", i+1, l)
				}
			}
		}
	}
	return ""
}
