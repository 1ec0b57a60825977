package probe

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/a-h/templ"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
)

// sheet shows a piece in the page's dialog when the script asks, else on a page of its own.
func (p *pages) sheet(w http.ResponseWriter, r *http.Request, v *app.JobView, c templ.Component) {
	p.piece(w, r, v, inSheet(c))
}

func (p *pages) piece(w http.ResponseWriter, r *http.Request, v *app.JobView, c templ.Component) {
	if !shell.ByScript(r) {
		c = alone(shell.Info{Shell: p.s, Title: v.Job.Intake.Machine, Nav: "jobs", Job: v, Stage: "find"}, c)
	}
	p.s.Render(w, r, http.StatusOK, c)
}

// choice is one answer of a card.
type choice struct {
	Is, Word, Key string
	P             float64
	Known         bool // the planner has a probability for it
	Good          bool
	Points        string
}

// levelWords are what a scope or a logic probe shows, with the keys that answer.
var levelWords = []choice{{Is: "low", Word: "Low", Key: "l"}, {Is: "high", Word: "High", Key: "h"}, {Is: "pulses", Word: "Pulses", Key: "p"}, {Is: "floating", Word: "Floating", Key: "f"}, {Is: "between", Word: "Between", Key: "b"}}

var lampWords = []choice{{Is: "lit", Word: "Lit", Key: "l"}, {Is: "dark", Word: "Dark", Key: "d"}, {Is: "blinking", Word: "Blinking", Key: "b"}}

// choices are the answers that one tap gives to a check; none for a check that asks for a number.
func choices(p *app.ProbeView, c *app.Check) []choice {
	kind := readingKind(c)
	var out []choice
	switch {
	case kind == "read":
		out = append(out, levelWords...)
	case kind == "see" && isDigit(p.Circuit, c.At, c):
		for i := range 10 {
			out = append(out, choice{Is: fmt.Sprint(i), Word: fmt.Sprint(i), Key: fmt.Sprint(i)})
		}
		out = append(out, choice{Is: "blank", Word: "Blank", Key: "b"})
		for _, o := range c.Outcomes {
			if strings.HasPrefix(o.Is, "lit:") {
				out = append(out, choice{Is: o.Is, Word: "Segments " + strings.TrimPrefix(o.Is, "lit:")})
			}
		}
	case kind == "see":
		out = append(out, lampWords...)
	default:
		return nil
	}
	for i := range out {
		out[i].Good = out[i].Is == c.Good
		for _, o := range c.Outcomes {
			if o.Is == out[i].Is {
				out[i].P, out[i].Known, out[i].Points = o.Probability, true, points(p, o.Suspects)
			}
		}
	}
	return out
}

// readingKind is what the check's open place asks for: read, see, volts, …; "" for a repair without a reading.
func readingKind(c *app.Check) string { return app.OpenKind(c) }

// readingAt is where the check's open place is: for a repair another place than what is repaired.
func readingAt(c *app.Check) string {
	if at := app.OpenAt(c); at != "" {
		return at
	}
	return c.At
}

// asked is what a repair's reading shows, in words: the ripple at V9.
func asked(c *app.Check) string {
	at := readingAt(c)
	switch readingKind(c) {
	case "ripple":
		return "what is the ripple at " + at
	case "current":
		return "what current flows through " + at
	case "esr":
		return "what series resistance has " + at
	case "ohms":
		for _, e := range c.Entries {
			if m, ok := e["ohms"].(map[string]any); ok {
				return fmt.Sprintf("how many ohms are there from %v to %v", m["at"], m["to"])
			}
		}
	case "volts":
		return "what is the voltage at " + at
	case "ac":
		return "what is the level at " + at
	}
	return "what does " + at + " show"
}

func isDigit(c *circuit.Circuit, _ string, k *app.Check) bool {
	_, digit, _ := c.FindLamp(readingAt(k))
	return digit != circuit.None
}

// repair tells whether a check begins with something done to the board.
func repair(c *app.Check) bool {
	switch c.Kind {
	case "lift", "replace", "reseat", "resolder", "clear":
		return true
	}
	return false
}

// points names the groups that an outcome points to by their letters.
func points(p *app.ProbeView, keys []string) string {
	var out []string
	for _, g := range p.Groups {
		for _, i := range g.Suspects {
			if contains(keys, app.SuspectKey(p.Diagnosis.Suspects[i])) {
				out = append(out, g.Letter)
				break
			}
		}
	}
	if len(out) > 4 {
		out = append(out[:4], "…")
	}
	return strings.Join(out, ", ")
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// railEntries is the reading of a rail in the form of a check's entries.
func railEntries(r app.RailCheck) string {
	return app.EntriesJSON(&app.Check{Entries: []map[string]any{{"volts": map[string]any{r.At: nil}}}})
}

// doing is the check in the imperative: what to do with the machine, and where to put the probe.
func doing(c *app.Check) string {
	return map[string]string{"read": "Probe", "see": "Look at", "volts": "Measure the voltage at", "ohms": "Power off. Measure the ohms at", "lift": "Power off. Lift", "replace": "Replace",
		"reseat": "Reseat", "resolder": "Resolder", "clear": "Find and remove what holds", "current": "Measure the current through", "ripple": "Measure the ripple at",
		"esr": "Power off. Measure the series resistance (ESR) of", "ac": "Measure the signal level at", "gain": "Measure the gain from", "wiper": "Measure the voltage at"}[c.Kind]
}

func during(p *app.ProbeView, c *app.Check) string {
	switch {
	case c.Title != "" && len(c.Do) > 0:
		return c.Title
	case len(c.Do) > 0:
		return strings.Join(c.Do, ", then ")
	case c.Kind == "ohms" || c.Kind == "esr":
		return "with the power off"
	}
	for _, e := range c.Entries {
		if _, fed := e["bench"]; fed {
			return "fed by a bench supply, its own power off"
		}
		_, gain := e["gain"]
		_, ac := e["ac"]
		if ac || gain {
			return "power on, with the signal"
		}
		for _, k := range []string{"ripple", "current", "wiper"} {
			if _, ok := e[k]; ok {
				return "power on"
			}
		}
	}
	if !p.Levels() {
		return "power on"
	}
	return "idle, after start"
}

// needsNoPower tells a repair that is followed by no action: there is nothing that goes on meanwhile.
func needsNoPower(c *app.Check) bool { return repair(c) && len(c.Do) == 0 }

func volts(v float64) string { return app.VoltsText(v) }

// inputMode is the keyboard that a touch screen offers: on an analogue board a figure may carry a prefix.
func inputMode(x screen, kind string) string {
	if f, _ := app.FigureOf(kind); x.P.Analog() || f.Open {
		return "text"
	}
	return "decimal"
}

// pictureURL is the address of a drawing.
func pictureURL(x screen, view string, solder bool) string {
	q := url.Values{}
	if x.At != "" {
		q.Set("at", x.At)
	}
	if x.Do != "" {
		q.Set("do", x.Do)
	}
	if solder {
		q.Set("solder", "1")
	}
	u := shell.JobPath(x.V.Job.ID, "picture/"+view)
	if len(q) > 0 {
		u += "?" + q.Encode()
	}
	return u
}

func barWidth(p float64) string { return fmt.Sprintf("%.2f", 100*min(1, max(0, p))) }

// suspectText is what a suspect says, all its faults together.
func suspectText(s app.Suspect) string {
	var out []string
	for _, f := range s.Faults {
		out = append(out, f.Text)
	}
	return strings.Join(out, "; and ")
}

// bandsText lists the ranges that a meter may show, with what each points to.
type band struct {
	Is, Points string
	P          float64
	Good       bool
}

func bands(p *app.ProbeView, c *app.Check) []band {
	var out []band
	for _, o := range c.Outcomes {
		out = append(out, band{o.Is, points(p, o.Suspects), o.Probability, o.Good || o.Is == c.Good})
	}
	return out
}

// lastEntry is the last line of the log that still stands, for the undo key; 0 when there is none.
func lastEntry(p *app.ProbeView) int64 {
	for i := len(p.Log) - 1; i >= 0; i-- {
		if !p.Log[i].Line.Gone {
			return p.Log[i].Line.Seq
		}
	}
	return 0
}

// onCard tells whether the bench rules stand on the card already.
func onCard(x screen) bool {
	return x.P.Analog() && x.P.RailDue() != nil && len(x.P.Gate) == 0 && !railsLeft(x.V)
}
