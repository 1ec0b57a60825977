package cli

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/app"
)

// The next check, told as an instruction: where, under which action, with what, what to make of each reading.

// shownChecks is how many further checks are listed below the best one.
const shownChecks = 4

func next(p *page, d app.Diagnosis, groups []suspectGroup) {
	p.gap()
	if len(d.Next) == 0 {
		if len(d.Suspects) > 0 {
			p.para("NEXT      ", "Nothing that this bench can still do would tell the suspects apart.")
		}
		return
	}
	c := d.Next[0]
	p.para("NEXT      ", instruction(c)+" About "+minutes(c.Minutes)+".")
	field := func(name, text string) {
		if text != "" {
			p.para("  "+pad(name, 8), text)
		}
	}
	cautionsOf(p, c)
	field("set-up", c.Setup)
	field("good", good(c))
	p.gap()
	p.table("          ", outcomes(c, groups), 1)
	p.gap()
	why, _, more := strings.Cut(c.Why, ": ") // what follows says the outcomes, which stand above
	if more {
		why += "."
	}
	field("why", why)
	for i, l := range entryLines(c.Entries) {
		name := ""
		if i == 0 {
			name = "log"
		}
		p.line("  %s%s", pad(name, 8), l)
	}
	if len(d.Next) > 1 {
		p.gap()
		p.line("OR        (next best; bits of doubt removed)")
		rows := [][]string{}
		for i, o := range d.Next[1:min(len(d.Next), 1+shownChecks)] {
			rows = append(rows, []string{fmt.Sprint(i+2) + ".", short(o), minutes(o.Minutes), fmt.Sprintf("%.2f", o.Bits)})
		}
		p.table("  ", rows, 2, 3)
	}
}

func cautionsOf(p *page, c app.Check) {
	for _, t := range c.Cautions {
		p.para("  CAUTION ", t)
	}
}

// good says what a good board shows; of a repair the outcomes say it already.
func good(c app.Check) string {
	if c.Good == "" || slices.Contains([]string{"replace", "resolder", "reseat"}, c.Kind) {
		return ""
	}
	return "a good board shows: " + c.Good
}

// instruction is one sentence in the imperative.
func instruction(c app.Check) string {
	where := c.Where
	if where == "" {
		where = c.At
	}
	if c.Net != "" && !strings.Contains(where, "net "+c.Net) {
		where += ", net " + c.Net
	}
	action := strings.Join(c.Do, ", then ")
	switch {
	case action == "":
		action = c.Title // of start
	case c.Title != "":
		action = c.Title + " (" + action + ")"
	}
	during, then := "", ""
	if action != "" {
		during = " during: " + action
		then = " Then do: " + action + ", and look again."
	}
	switch c.Kind {
	case "read":
		return "Probe " + where + during + "."
	case "see":
		return "Look at " + where + after(action) + "."
	case "volts":
		return "Measure the voltage at " + where + after(action) + "."
	case "ohms":
		return "Power off. Measure ohms from " + where + " to " + c.To + "."
	case "ripple":
		return "Look at the ripple of " + where + "."
	case "current":
		return "Measure the current through " + where + "."
	case "esr":
		return "Power off. Measure the series resistance of " + where + "."
	case "ac":
		return "Measure the signal at " + where + "."
	case "wiper":
		return "Measure the voltage at " + where + "."
	case "lift":
		return "Power off and lift " + where + "." + then
	case "replace":
		return "Replace " + where + "." + then
	case "resolder":
		return "Power off and resolder " + where + "." + then
	case "reseat":
		return "Power off and reseat " + where + "." + then
	}
	return c.Kind + " " + where + during + "."
}

func after(action string) string {
	if action == "" {
		return " with the machine idle"
	}
	return " after: " + action
}

// short names a check in a few words.
func short(c app.Check) string {
	verb := map[string]string{"read": "probe", "see": "look at", "volts": "volts at", "ohms": "ohms at"}[c.Kind]
	if verb == "" {
		verb = c.Kind
	}
	s := verb + " " + c.At
	if c.To != "" {
		s += " to " + c.To
	}
	if c.Net != "" && c.Net != c.At {
		s += " (" + c.Net + ")"
	}
	if len(c.Do) > 0 {
		s += ", " + strings.Join(c.Do, ", ")
	}
	return s
}

// outcomes is a row for each reading that is not far-fetched: what it is, how likely, and which suspects it points to.
func outcomes(c app.Check, groups []suspectGroup) [][]string {
	rows := [][]string{}
	for _, o := range c.Outcomes {
		to := pointsTo(o, groups)
		if o.Probability < 0.005 && to == "" {
			continue
		}
		if to != "" {
			to = "→ " + to
		}
		for i, l := range wrap(to, width-32) {
			if i == 0 {
				rows = append(rows, []string{o.Is, percent(o.Probability), l})
			} else {
				rows = append(rows, []string{"", "", "  " + l})
			}
		}
	}
	return rows
}

// pointsTo names the groups of an outcome's suspects with a place each, and the places of suspects that are not listed above.
func pointsTo(o app.Outcome, groups []suspectGroup) string {
	var out []string
	said := map[string]bool{}
	others := 0
	for _, s := range o.Suspects {
		name := ""
		for _, g := range groups {
			if slices.ContainsFunc(g.members, func(m app.Suspect) bool { return app.SuspectKey(m) == s }) {
				name = g.name
			}
		}
		switch {
		case name == "":
			others++
		case !said[name]:
			said[name] = true
			out = append(out, name+" ("+places(s)+")")
		}
	}
	if len(out) == 0 && others > 0 {
		return "less likely suspects: " + places(o.Suspects[0])
	}
	return strings.Join(out, ", ")
}

// places keeps the places of KIND@WHERE KIND@WHERE.
func places(key string) string {
	var out []string
	for f := range strings.FieldsSeq(key) {
		_, at, _ := strings.Cut(f, "@")
		out = append(out, at)
	}
	return strings.Join(out, " and ")
}

// entryLines writes log entries as the lines of a case file; what is to be filled in stands as ….
func entryLines(entries []map[string]any) []string {
	var out []string
	for _, e := range entries {
		keys := mapKeys(e, "do", "bench", "read", "see", "volts", "ohms", "lifted", "refitted", "replaced", "resoldered", "reseated", "cleared")
		for i, k := range keys {
			dash := "  "
			if i == 0 {
				dash = "- "
			}
			out = append(out, dash+k+": "+flow(e[k]))
		}
	}
	return out
}

// flow writes a value of JSON as YAML on one line.
func flow(v any) string {
	switch v := v.(type) {
	case nil:
		return "…"
	case map[string]any:
		var out []string
		for _, k := range mapKeys(v, "at", "to", "is") {
			out = append(out, k+": "+flow(v[k]))
		}
		return "{" + strings.Join(out, ", ") + "}"
	case []any:
		var out []string
		for _, x := range v {
			out = append(out, flow(x))
		}
		return "[" + strings.Join(out, ", ") + "]"
	case []string:
		return "[" + strings.Join(v, ", ") + "]"
	}
	return fmt.Sprint(v)
}

// mapKeys puts the keys named first in front, and the others in order of the alphabet.
func mapKeys(m map[string]any, first ...string) []string {
	var out, rest []string
	for _, k := range first {
		if _, ok := m[k]; ok {
			out = append(out, k)
		}
	}
	for k := range m {
		if !slices.Contains(out, k) {
			rest = append(rest, k)
		}
	}
	slices.Sort(rest)
	return append(out, rest...)
}
