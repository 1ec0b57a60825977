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

var haveText = map[string]string{"scope": "Scope", "logic-probe": "Logic probe", "meter": "Meter", "iron": "Soldering iron: lift, replace, resolder", "spare": "Spare parts for what is socketed",
	"adapter": "No-operation adapter: lets a processor run free"}

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

// one is an entry that has one reading or one repair, as the form for its correction shows it. Kind is "" for one that has more.
type one struct {
	Kind, At, Value string
	More            [][3]string // field, label, value: what else the kind needs
}

func single(e *job.Entry) one {
	var all []one
	add := func(kind, at, value string, more ...[3]string) { all = append(all, one{kind, at, value, more}) }
	for _, r := range e.Read {
		add("read", r.At, r.Is)
	}
	for _, r := range e.See {
		add("see", r.At, r.Is)
	}
	for _, r := range e.Volts {
		add("volts", r.At, fmt.Sprint(r.Volts))
	}
	for _, r := range e.Ohms {
		value := unit.Format(r.Ohms)
		if r.Open {
			value = "open"
		}
		add("ohms", r.At, value, [3]string{"to", "to", r.To})
	}
	for kind, list := range map[string][]job.Amount{"current": e.Current, "ripple": e.Ripple, "esr": e.ESR} {
		for _, r := range list {
			add(kind, r.At, fmt.Sprint(r.Is))
		}
	}
	frequency := func(f float64) [3]string { return [3]string{"frequency", "Frequency, Hz", fmt.Sprint(f)} }
	for _, r := range e.AC {
		add("ac", r.At, fmt.Sprint(r.Volts), frequency(r.Frequency))
	}
	for _, r := range e.Gain {
		add("gain", r.To, fmt.Sprint(r.Is), [3]string{"from", "from", r.From}, frequency(r.Frequency))
	}
	for _, r := range e.Wiper {
		add("wiper", r.At, fmt.Sprint(r.Volts), [3]string{"position", "Position, 0 to 1", fmt.Sprint(r.Position)})
	}
	for _, r := range []struct {
		kind string
		list []string
	}{{"lifted", e.Lifted}, {"refitted", e.Refitted}, {"replaced", e.Replaced}, {"resoldered", e.Resoldered}, {"reseated", e.Reseated}, {"cleared", e.Cleared}} {
		for _, at := range r.list {
			add(r.kind, at, "")
		}
	}
	if len(all) != 1 {
		return one{}
	}
	if f := e.Feed; f != nil {
		all[0].More = append(all[0].More, [3]string{"feed-at", "Bench supply on", f.At}, [3]string{"feed-volts", "Its volts", fmt.Sprint(f.Volts)}, [3]string{"feed-ohms", "Its ohms in series", fmt.Sprint(f.Ohms)})
	}
	return all[0]
}

// powerless tells a kind of reading that is taken with the power off: no action goes on meanwhile.
func powerless(kind string) bool { return kind == "ohms" || kind == "esr" }

func valueLabel(kind string) string {
	if f, ok := app.FigureOf(kind); ok {
		return f.Label
	}
	return map[string]string{"read": "low, high, pulses, floating or between", "see": "What it shows"}[kind]
}

func pathText(hops []app.Hop) string {
	var out []string
	for _, h := range hops {
		out = append(out, fmt.Sprintf("%s %s instead of %s", h.At, h.Bad, h.Good))
	}
	return strings.Join(out, " → ")
}

func queryEscape(s string) string { return url.QueryEscape(s) }
