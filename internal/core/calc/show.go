package calc

// How numbers are written in answers: three digits, a prefix, the unit.

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"halfsplit/internal/core/unit"
)

// Show writes a value of a unit for people: 4.7 kΩ, 100 nF, 5 %.
func Show(v float64, u string) string { return show(v, u) }

// show writes a value of a unit for people.
func show(v float64, u string) string {
	switch u {
	case "%":
		return digits(v*100) + " %"
	case "%/a":
		return digits(v*100) + " %/a"
	case "°C", "K/W", "cent", "V/oct", "Hz/V":
		return strings.TrimSpace(digits(v) + " " + u)
	case "":
		return digits(v)
	case "mm":
		return digits(v*1e3) + " mm"
	case "µm":
		return digits(v*1e6) + " µm"
	case "mAh":
		return digits(v/3.6) + " mAh"
	case "s":
		return span(v)
	case "F": // capacitors are marked 4700 µF, not 4.7 mF
		if a := math.Abs(v); a >= 0.9995e-3 && a < 1 {
			return digits(v*1e6) + " µF"
		}
	}
	if a := math.Abs(v); v != 0 && (a < 1e-12 || a >= 1e12) {
		return strconv.FormatFloat(v, 'g', 3, 64) + " " + u
	}
	f := unit.Format(v)
	if last := strings.TrimLeft(f, "-0123456789."); last != "" {
		return strings.TrimSuffix(f, last) + " " + last + u
	}
	return f + " " + u
}

// digits writes four significant digits without a prefix.
func digits(v float64) string {
	if a := math.Abs(v); v != 0 && (a < 1e-4 || a >= 1e7) {
		return strconv.FormatFloat(v, 'g', 4, 64)
	}
	f, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	return strconv.FormatFloat(f, 'f', -1, 64)
}

// span writes a time: 3.2 ms, 12 s, 4 min, 3 h, 72 days, 3.65 years.
func span(s float64) string {
	switch a := math.Abs(s); {
	case a >= 2*year:
		return digits(s/year) + " years"
	case a >= 3*86400:
		return digits(s/86400) + " days"
	case a >= 3*3600:
		return digits(s/3600) + " h"
	case a >= 3*60:
		return digits(s/60) + " min"
	case s == 0 || a < 1e-12:
		return digits(s) + " s"
	}
	f := unit.Format(s)
	last := strings.TrimLeft(f, "-0123456789.")
	return strings.TrimSuffix(f, last) + " " + last + "s"
}

// year is a Julian year in seconds.
const year = 365.25 * 86400

// line makes an answer in a unit; the arithmetic is written without its result, which is added.
func line(name, title string, v float64, u, how string, args ...any) Line {
	l := Line{Name: name, Title: title, Text: show(v, u), Value: v, Unit: u}
	if how != "" {
		l.How = fmt.Sprintf(how, args...) + " = " + l.Text
	}
	return l
}

// word makes an answer that is no number.
func word(name, title, text, how string, args ...any) Line {
	return Line{Name: name, Title: title, Text: text, How: fmt.Sprintf(how, args...)}
}

func (r *Result) add(l ...Line) { r.Lines = append(r.Lines, l...) }

func (r *Result) warn(format string, args ...any) {
	r.Warnings = append(r.Warnings, fmt.Sprintf(format, args...))
}

func (r *Result) caution(format string, args ...any) {
	r.Cautions = append(r.Cautions, fmt.Sprintf(format, args...))
}

// The usual inputs.

func volts(name, title string, min, max float64, def string) Input {
	return Input{Name: name, Title: title, Unit: "V", Min: min, Max: max, Default: def}
}

func amps(name, title, def string) Input {
	return Input{Name: name, Title: title, Unit: "A", Min: 1e-12, Max: 1000, Default: def}
}

func ohms(name, title, def string) Input {
	return Input{Name: name, Title: title, Unit: "Ω", Min: 1e-3, Max: 1e12, Default: def}
}

func farads(name, title, def string) Input {
	return Input{Name: name, Title: title, Unit: "F", Min: 1e-13, Max: 100, Default: def}
}

func hertz(name, title, def string) Input {
	return Input{Name: name, Title: title, Unit: "Hz", Min: 1e-6, Max: 1e10, Default: def}
}

// may makes an input optional.
func may(in Input, help string) Input {
	in.Optional, in.Help = true, help
	return in
}

// note adds help to an input.
func note(in Input, help string) Input {
	in.Help = help
	return in
}
