package cli

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/app"
)

// The diagnosis as a technician reads it at the bench: first whether the log hangs together, then the suspects in groups of
// look-alikes, then the one thing to do next, told as a colleague would tell it.

const (
	shownAlike  = 6    // of a group of look-alikes
	shownGroups = 12   // of groups
	worthSaying = 0.01 // probability below which a group is not listed unless the reader asks for so many
)

// diagnosisText writes the answer; with all every suspect of it is listed, with account what each predicts.
func diagnosisText(d app.Diagnosis, all, account bool) string {
	p := &page{}
	p.line("%s", d.Board)
	if d.Case != "" {
		p.line("%s", d.Case)
	}
	groups := group(d.Suspects)
	if !all {
		groups = leading(groups)
	}
	p.gap()
	headline(p, d, groups)
	cautions(p, d.Cautions)
	suspects(p, d, groups)
	shares(p, d.Parts)
	for i, f := range d.Cured {
		if i == 0 {
			p.gap()
		}
		p.para("CURED     ", f.Text+" (ended by a repair of the log).")
	}
	next(p, d, groups)
	if account {
		accounts(p, groups)
	}
	return p.String()
}

// leading keeps the groups worth reading; the first always is.
func leading(groups []suspectGroup) []suspectGroup {
	n := 0
	for n < len(groups) && n < shownGroups && (n == 0 || groups[n].probability >= worthSaying) {
		n++
	}
	return groups[:n]
}

// suspectGroup is a set of look-alikes. Groups are named A, B, C … from the likeliest.
type suspectGroup struct {
	name        string
	probability float64
	members     []app.Suspect
}

func group(suspects []app.Suspect) []suspectGroup {
	var out []suspectGroup
	at := map[int]int{}
	for _, s := range suspects {
		i, ok := at[s.Lookalikes]
		if !ok {
			i = len(out)
			at[s.Lookalikes] = i
			out = append(out, suspectGroup{})
		}
		out[i].probability += s.Probability
		out[i].members = append(out[i].members, s)
	}
	slices.SortStableFunc(out, func(a, b suspectGroup) int { return cmp.Compare(b.probability, a.probability) })
	for i := range out {
		out[i].name = letters(i)
	}
	return out
}

// letters counts A … Z, AA, AB …
func letters(i int) string {
	s := string(rune('A' + i%26))
	for i = i/26 - 1; i >= 0; i = i/26 - 1 {
		s = string(rune('A'+i%26)) + s
	}
	return s
}

func headline(p *page, d app.Diagnosis, groups []suspectGroup) {
	for _, c := range d.Conflicts {
		p.para("CONFLICT  ", fmt.Sprintf("Entries %d and %d of the log cannot both be right: %s", c.Entries[0], c.Entries[1], c.Text))
	}
	switch {
	case !d.Explained:
		p.para("", "NOT EXPLAINED. No fault that was considered, alone or with others, accounts for the whole log. "+
			"Measure again what is listed here, or look for a difference between this machine and the board file.")
		for _, u := range d.Unexplained {
			at := fmt.Sprintf("entry %d", u.Entry)
			if u.Line > 0 {
				at += fmt.Sprintf(" (line %d)", u.Line)
			}
			p.para("  "+at+"  ", u.Text)
		}
	case len(d.Suspects) == 0:
		p.para("", "NOTHING FOUND WRONG. A good board gives every reading of this log; probability that nothing in the model is at fault: "+percent(d.Healthy)+".")
	default:
		p.para("", "EXPLAINED. "+stillOpen(groups))
	}
}

// stillOpen says how far the search has come: which groups hold nine tenths of what is possible.
func stillOpen(groups []suspectGroup) string {
	n, held := 0, 0.0
	for n < len(groups) && held < 0.9 {
		held += groups[n].probability
		n++
	}
	if n == 1 {
		return "Down to A, which holds " + percent(held) + "."
	}
	to := "to"
	if n == 2 {
		to = "and"
	}
	return fmt.Sprintf("Still open: A %s %s hold %s together.", to, groups[n-1].name, percent(held))
}

func cautions(p *page, list []string) {
	if len(list) > 0 {
		p.gap()
	}
	for _, c := range list {
		p.para("CAUTION   ", c)
	}
}

func suspects(p *page, d app.Diagnosis, groups []suspectGroup) {
	if len(groups) == 0 {
		return
	}
	p.gap()
	p.line("SUSPECTS")
	rest := d.Rest + sum(d.Suspects)
	for _, g := range groups {
		rest -= g.probability
		head := fmt.Sprintf("  %-2s %5s  ", g.name, percent(g.probability))
		if len(g.members) == 1 {
			p.para(head, faultsText(g.members[0]))
			continue
		}
		p.line("%s%d look-alikes, which no check still available tells apart:", head, len(g.members))
		for i, s := range g.members {
			if few := s.Probability < worthSaying/2 || i >= shownAlike; few && i > 0 && i < len(g.members)-1 {
				p.line("            %5s  in %d more (--json lists them)", percent(sum(g.members[i:])), len(g.members)-i)
				break
			}
			p.para(fmt.Sprintf("            %5s  ", percent(s.Probability)), faultsText(s))
		}
	}
	if rest >= 0.0005 {
		p.para(fmt.Sprintf("     %5s  ", percent(rest)), "less likely suspects, not listed here (--top 20 lists more)")
	}
	if d.Healthy >= 0.0005 {
		p.para(fmt.Sprintf("     %5s  ", percent(d.Healthy)), "nothing in the model is wrong")
	}
}

func sum(list []app.Suspect) float64 {
	var t float64
	for _, s := range list {
		t += s.Probability
	}
	return t
}

func faultsText(s app.Suspect) string {
	var out []string
	for _, f := range s.Faults {
		out = append(out, f.Text)
	}
	return strings.Join(out, ", AND ")
}

func shares(p *page, list []app.Share) {
	var out []string
	for _, s := range list {
		name := s.Part
		if name == "" {
			name = "net " + s.Net
		}
		if s.Probability >= 0.01 && len(out) < 8 {
			out = append(out, name+" "+strings.ReplaceAll(percent(s.Probability), " ", "\u00a0"))
		}
	}
	if len(out) > 0 {
		p.gap()
		p.para("BY PLACE  ", strings.Join(out, ", "))
	}
}

func accounts(p *page, groups []suspectGroup) {
	for _, g := range groups {
		for _, s := range g.members {
			if len(s.Account) == 0 {
				continue
			}
			p.gap()
			p.para("ACCOUNT   ", g.name+": "+faultsText(s))
			rows := [][]string{{"entry", "", "this suspect", "seen", ""}}
			for _, a := range s.Account {
				verdict := "fits"
				switch {
				case !a.Fits:
					verdict = "DOES NOT FIT"
				case a.Surprise:
					verdict = "fits; a good board would not"
				}
				rows = append(rows, []string{fmt.Sprint(a.Entry), a.What, a.Predicted, a.Seen, verdict})
			}
			p.table("  ", rows, 0)
			for _, a := range s.Account {
				if len(a.Path) > 0 {
					p.para(fmt.Sprintf("  entry %d: ", a.Entry), "the wrong level travels "+hops(a.Path))
				}
			}
		}
	}
}

func hops(path []app.Hop) string {
	var out []string
	for _, h := range path {
		out = append(out, fmt.Sprintf("%s (%s instead of %s)", h.At, h.Bad, h.Good))
	}
	return strings.Join(out, " → ")
}
