package app

import (
	"fmt"
	"math"
	"strings"

	"halfsplit/internal/core/job"
	"halfsplit/internal/core/unit"
)

// Readings as they are typed at the bench, and checks whose open place is filled with one.

// Figure is a kind of reading that is a number.
type Figure struct {
	Kind      string  // as the files call it
	Label     string  // of the field in which it is typed
	Unit      string  // for people
	Low, High float64 // what can be typed at all
	Open      bool    // "open" is an answer too
	Example   string
}

// Figures are the kinds of reading that are numbers.
var Figures = []Figure{
	{Kind: "volts", Label: "Volts read", Unit: "V", Low: -1000, High: 1000, Example: "4.98 or 30 mV"},
	{Kind: "ohms", Label: "Ohms read, or open", Unit: "Ω", Low: 0, High: 1e9, Open: true, Example: "4.1, 4k7 or 2.2M, or open"},
	{Kind: "current", Label: "Amperes read", Unit: "A", Low: -100, High: 100, Example: "0.85 A or 120 mA"},
	{Kind: "ripple", Label: "Ripple read, volts peak to peak", Unit: "V p-p", Low: 0, High: 1000, Example: "1.2 V or 30 mV"},
	{Kind: "esr", Label: "Series resistance read, ohms, or open", Unit: "Ω", Low: 0, High: 1e9, Open: true, Example: "0.3"},
	{Kind: "ac", Label: "Level read, volts rms", Unit: "V rms", Low: 0, High: 1000, Example: "0.42 V or 30 mV"},
	{Kind: "gain", Label: "Gain read: level there over level here", Unit: "times", Low: 0, High: 1e9, Example: "2.1"},
	{Kind: "wiper", Label: "Volts read at the wiper", Unit: "V", Low: -1000, High: 1000, Example: "4.98 or 30 mV"},
}

// FigureOf finds a kind of reading; ok is false for one that is no number.
func FigureOf(kind string) (f Figure, ok bool) {
	for _, f := range Figures {
		if f.Kind == kind {
			return f, true
		}
	}
	return Figure{}, false
}

// openESR is what is noted where an ESR meter shows no path.
const openESR = 1e6

// Read takes a number as it is typed: 4.98, 4,98, 30m, 12 mV, 4k7, 0.85 A, −11.9 V; open where there is no path.
func (f Figure) Read(s string) (x float64, open bool, err error) {
	t := strings.TrimSpace(s)
	if f.Open {
		switch strings.ToLower(t) {
		case "open", "ol", "o.l", "0l", "inf", "∞":
			return 0, true, nil
		}
	}
	for _, w := range []string{"p-p", "pp", "rms", "RMS", "times", "x"} {
		t = strings.TrimSpace(strings.TrimSuffix(t, w))
	}
	x, err = quantity(t)
	if err != nil || math.IsNaN(x) || x < f.Low || x > f.High {
		return 0, false, Wrong{fmt.Errorf("%q is no %s: write it as %s, from %g to %g %s", s, f.what(), f.Example, f.Low, f.High, f.Unit)}
	}
	return x, false, nil
}

func (f Figure) what() string {
	return map[string]string{"volts": "voltage", "ohms": "resistance", "current": "current", "ripple": "ripple", "esr": "series resistance", "ac": "level", "gain": "gain", "wiper": "voltage"}[f.Kind]
}

// quantity reads a number with its prefix; a decimal comma and a typographic minus are as good as the others.
func quantity(s string) (float64, error) {
	t := strings.ReplaceAll(s, "−", "-")
	if strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		t = strings.Replace(t, ",", ".", 1)
	}
	return unit.Parse(t)
}

// ReadVolts reads a voltage as it is typed at the bench.
func ReadVolts(s string) (float64, error) {
	f, _ := FigureOf("volts")
	v, _, err := f.Read(s)
	return v, err
}

// readingKinds are the keys of a check's entry that hold its open place.
var readingKinds = []string{"read", "see", "volts", "ohms", "current", "ripple", "esr", "ac", "gain", "wiper"}

// OpenKind is what the open place of a check asks for; "" for a repair without a reading.
func OpenKind(c *Check) string {
	for _, e := range c.Entries {
		for _, k := range readingKinds {
			if _, ok := e[k]; ok {
				return k
			}
		}
	}
	return ""
}

// OpenAt is the place that the open place of a check is about; "" for a repair without a reading.
func OpenAt(c *Check) string {
	kind := OpenKind(c)
	for _, e := range c.Entries {
		m, _ := e[kind].(map[string]any)
		for _, key := range []string{"at", "to"} {
			if at, ok := m[key].(string); ok {
				return at
			}
		}
		for at := range m {
			return at
		}
	}
	return ""
}

// fill puts a reading into the open place of an entry; "" leaves it open.
func fill(m map[string]any, is string) (e job.Entry, reads bool, err error) {
	switch do := m["do"].(type) {
	case string:
		e.Do = []string{do}
	case []any:
		e.Do = words(do)
	}
	for key, to := range map[string]*[]string{"lifted": &e.Lifted, "refitted": &e.Refitted, "replaced": &e.Replaced, "resoldered": &e.Resoldered, "reseated": &e.Reseated, "cleared": &e.Cleared} {
		if l, ok := m[key].([]any); ok {
			*to = words(l)
		}
	}
	if f := asMap(m["bench"]); len(f) > 0 {
		e.Feed = &job.Feed{At: wordAt(f, "at"), Volts: numberAt(f, "volts"), Ohms: numberAt(f, "ohms")}
	}
	for _, kind := range readingKinds {
		o := asMap(m[kind])
		if len(o) == 0 {
			continue
		}
		at := wordAt(o, "at")
		if kind != "ohms" && kind != "ac" && kind != "gain" && kind != "wiper" {
			for at = range o {
			}
		}
		if kind == "read" || kind == "see" {
			r := []job.Reading{{At: at, Is: is}}
			if kind == "read" {
				e.Read = r
			} else {
				e.See = r
			}
			return e, true, nil
		}
		if is == "" {
			return e, true, nil
		}
		err := put(&e, kind, at, o, is)
		return e, true, err
	}
	return e, false, nil
}

// put enters a figure with what else its kind needs: to, from, frequency, position.
func put(e *job.Entry, kind, at string, o map[string]any, is string) error {
	f, ok := FigureOf(kind)
	if !ok {
		return Wrong{fmt.Errorf("%q is nothing that can be entered", kind)}
	}
	x, open, err := f.Read(is)
	if err != nil {
		return err
	}
	amount := []job.Amount{{At: at, Is: x}}
	switch kind {
	case "volts":
		e.Volts = []job.Volts{{At: at, Volts: x}}
	case "ohms":
		e.Ohms = []job.Ohms{{At: at, To: wordAt(o, "to"), Ohms: x, Open: open}}
	case "current":
		e.Current = amount
	case "ripple":
		e.Ripple = amount
	case "esr":
		if open {
			amount[0].Is = openESR
		}
		e.ESR = amount
	case "ac":
		e.AC = []job.Level{{At: at, Frequency: numberAt(o, "frequency"), Volts: x}}
	case "gain":
		e.Gain = []job.Gain{{From: wordAt(o, "from"), To: wordAt(o, "to"), Frequency: numberAt(o, "frequency"), Is: x}}
	case "wiper":
		e.Wiper = []job.Wiper{{At: at, Position: numberAt(o, "position"), Volts: x}}
	}
	return nil
}

// Enter makes a line of the log of one figure. more holds what else the kind needs: to, from, frequency, position, as it was typed; and
// feed-at, feed-volts, feed-ohms for a bench supply.
func Enter(e *job.Entry, kind, at, is string, more func(key string) string) error {
	o := map[string]any{"to": more("to"), "from": more("from")}
	for _, key := range []string{"frequency", "position"} {
		needed := key == "frequency" && (kind == "ac" || kind == "gain") || key == "position" && kind == "wiper"
		if !needed {
			continue
		}
		x, err := quantity(strings.TrimSpace(more(key)))
		if err != nil {
			return Wrong{fmt.Errorf("%q is no %s: write it as %s", more(key), key, map[string]string{"frequency": "500 Hz or 1k", "position": "0.5, from 0 to 1"}[key])}
		}
		o[key] = x
	}
	if kind == "ohms" && wordAt(o, "to") == "" {
		return Wrong{fmt.Errorf("ohms are measured between two places: write the second one too")}
	}
	if kind == "gain" {
		o["to"] = at
		if wordAt(o, "from") == "" {
			return Wrong{fmt.Errorf("a gain is between two places: write where the signal goes in")}
		}
	}
	if err := put(e, kind, at, o, is); err != nil {
		return err
	}
	if net := strings.TrimSpace(more("feed-at")); net != "" {
		v, err := ReadVolts(more("feed-volts"))
		if err != nil {
			return err
		}
		ohms, _ := FigureOf("ohms")
		r, open, err := ohms.Read(more("feed-ohms"))
		if err != nil || open || r <= 0 {
			return Wrong{fmt.Errorf("the bench supply needs ohms in series that limit its current: the volts at no load divided by the limit")}
		}
		e.Feed = &job.Feed{At: net, Volts: v, Ohms: r}
	}
	return nil
}

func asMap(x any) map[string]any {
	m, _ := x.(map[string]any)
	return m
}

func wordAt(m map[string]any, key string) string {
	s, _ := m[key].(string)
	return strings.TrimSpace(s)
}

func numberAt(m map[string]any, key string) float64 {
	x, _ := m[key].(float64)
	return x
}

func words(list []any) []string {
	var out []string
	for _, x := range list {
		if s, ok := x.(string); ok {
			out = append(out, s)
		}
	}
	return out
}
