package cli

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
)

// The diagnosis as a technician reads it at the bench: first whether the log hangs together, then the suspects in groups of
// look-alikes, then the one thing to do next, told as a colleague would tell it.

// shownAlike is how many of a group of look-alikes are listed; --json lists all.
const shownAlike = 6

func diagnosisText(d app.Diagnosis, account bool) string {
	p := &page{}
	p.line("%s", d.Board)
	if d.Case != "" {
		p.line("%s", d.Case)
	}
	groups := group(d.Suspects)
	p.gap()
	headline(p, d, groups)
	cautions(p, d.Cautions)
	suspects(p, d, groups)
	shares(p, d.Parts)
	for _, f := range d.Cured {
		p.gap()
		p.para("CURED     ", f.Text+".")
	}
	next(p, d, groups)
	if account {
		accounts(p, groups)
	}
	return p.String()
}

// suspectGroup is a set of look-alikes, named A, B, C … in the order of their first member.
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
			out = append(out, suspectGroup{name: letters(i)})
		}
		out[i].probability += s.Probability
		out[i].members = append(out[i].members, s)
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
		p.para("", fmt.Sprintf("EXPLAINED by %s in %s.", plural(len(d.Suspects), "suspect", "suspects"), plural(len(groups), "group", "groups")))
	}
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
	for _, g := range groups {
		p.gap()
		head := fmt.Sprintf("  %-2s %5s", g.name, percent(g.probability))
		if len(g.members) == 1 {
			p.para(head+"  ", faultsText(g.members[0]))
			continue
		}
		p.line("%s  %d look-alikes: no check still available tells them apart", head, len(g.members))
		for i, s := range g.members {
			if i == shownAlike && len(g.members) > shownAlike+1 {
				p.line("              and %d more, %s together (--json lists them)", len(g.members)-i, percent(sum(g.members[i:])))
				break
			}
			p.para(fmt.Sprintf("            %5s  ", percent(s.Probability)), faultsText(s))
		}
	}
	var others []string
	if d.Rest >= 0.0005 {
		others = append(others, "less likely suspects, not listed: "+percent(d.Rest))
	}
	if d.Healthy >= 0.0005 {
		others = append(others, "nothing wrong in the model: "+percent(d.Healthy))
	}
	if len(others) > 0 {
		p.gap()
		p.para("     ", strings.Join(others, "; "))
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
