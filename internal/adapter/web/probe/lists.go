package probe

import (
	"fmt"
	"net/url"
	"slices"
	"strings"

	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/job"
	"halfsplit/internal/core/unit"
)

// What the forms offer: places, indicators, and an entry taken apart for its correction.

var haveText = map[string]string{"scope": "Scope", "logic-probe": "Logic probe", "meter": "Meter", "iron": "Soldering iron: lift, replace, resolder", "spare": "Spare parts for what is socketed"}

// placeNames are the nets, pins and indicators of a board for completion.
func placeNames(c *circuit.Circuit) []string {
	var out []string
	for i := range c.Nets {
		if !c.Nets[i].Hidden {
			out = append(out, c.NetName(i))
		}
	}
	for i := range c.Parts {
		out = append(out, c.Parts[i].Ref)
		for _, q := range c.Parts[i].Pins {
			out = append(out, c.PinName(q))
		}
	}
	return out
}

// lampChoice is an indicator with the words it can show.
type lampChoice struct {
	Name  string
	Words []string
}

func lampNames(c *circuit.Circuit) []lampChoice {
	var out []lampChoice
	digits := map[int]bool{}
	for _, d := range c.Digits {
		digits[d.Part] = true
		out = append(out, lampChoice{c.Parts[d.Part].Ref, []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "blank"}})
	}
	for _, l := range c.Lamps {
		if !digits[l.Part] {
			out = append(out, lampChoice{l.Name, []string{"lit", "dark", "blinking"}})
		}
	}
	slices.SortStableFunc(out, func(a, b lampChoice) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// single takes an entry apart that has one reading or one repair; kind is "" for one that has more.
func single(e *job.Entry) (kind, at, value, to string) {
	n := len(e.Read) + len(e.See) + len(e.Volts) + len(e.Ohms)
	if n == 1 {
		switch {
		case len(e.Read) == 1:
			return "read", e.Read[0].At, e.Read[0].Is, ""
		case len(e.See) == 1:
			return "see", e.See[0].At, e.See[0].Is, ""
		case len(e.Volts) == 1:
			return "volts", e.Volts[0].At, fmt.Sprint(e.Volts[0].Volts), ""
		default:
			value = unit.Format(e.Ohms[0].Ohms)
			if e.Ohms[0].Open {
				value = "open"
			}
			return "ohms", e.Ohms[0].At, value, e.Ohms[0].To
		}
	}
	if n > 0 {
		return "", "", "", ""
	}
	for _, r := range []struct {
		kind string
		list []string
	}{{"lifted", e.Lifted}, {"refitted", e.Refitted}, {"replaced", e.Replaced}, {"resoldered", e.Resoldered}, {"reseated", e.Reseated}, {"cleared", e.Cleared}} {
		if len(r.list) == 1 {
			return r.kind, r.list[0], "", ""
		}
	}
	return "", "", "", ""
}

func valueLabel(kind string) string {
	return map[string]string{"read": "low, high, pulses, floating or between", "see": "What it shows", "volts": "Volts", "ohms": "Ohms, or open"}[kind]
}

func pathText(hops []app.Hop) string {
	var out []string
	for _, h := range hops {
		out = append(out, fmt.Sprintf("%s %s instead of %s", h.At, h.Bad, h.Good))
	}
	return strings.Join(out, " → ")
}

func queryEscape(s string) string { return url.QueryEscape(s) }
