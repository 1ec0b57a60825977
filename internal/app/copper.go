package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
)

// A short on the copper, or a bad source before the board, is no part that can be replaced: it has to be looked for and removed. When what
// is known points to a net and no reading would help much more, that is what to do next.

const (
	copperAt    = 0.5  // probability of the net
	copperSure  = 0.93 // whatever the checks could still show
	littleToGet = 0.1  // bits of the best check
)

// copper is the search for what holds a net, as a check with the reading that shows whether it was found; nil when it is not yet time. sees is the circuit as its logic sees it.
func copper(ctx context.Context, v *ProbeView, sees *circuit.Circuit, unpowered bool) (*Check, error) {
	d := &v.Diagnosis
	if len(d.Parts) == 0 || d.Parts[0].Net == "" || d.Parts[0].Probability < copperAt || unpowered {
		return nil, nil
	}
	if d.Parts[0].Probability < copperSure && len(d.Next) > 0 && d.Next[0].Bits >= littleToGet {
		return nil, nil
	}
	net := d.Parts[0].Net
	c := &Check{Kind: "clear", At: net, Net: net, Where: "net " + net, Minutes: advise.SearchMinutes, Good: "as on a good board", Outcomes: []Outcome{}}
	var found []string
	for _, s := range d.Suspects {
		for _, f := range s.Faults {
			if f.Part == "" && (f.Net == net || strings.Contains(f.At, net)) && !slices.Contains(found, f.Text) && len(found) < 3 {
				found = append(found, f.Text)
			}
		}
	}
	c.Setup = "Power off, capacitors empty. Look along the copper with a lens: solder splashes, whiskers, cut ends, dirt between pins, a wire under a chip. Millivolts along the track, " +
		"with a small current, fall towards the short. A line that comes from outside: follow it to where it comes from."
	c.Why = fmt.Sprintf("With %.0f %% probability the cause lies on this net outside the parts: %s. No reading is expected to say more than the search itself.", 100*d.Parts[0].Probability, strings.Join(found, "; or "))
	c.Cautions = []string{"Unplug, wait, and measure that the rails are at 0 V before you scratch or solder. Old solder holds lead and flux fume harms."}
	c.Entries = []map[string]any{{"cleared": []string{net}}}
	if w, ok := lastWrong(v.weighed.wrong, v.Analog()); ok {
		c.Do, c.Good = w.Do, w.Good
		if len(w.Do) > 0 {
			if a, ok := v.Circuit.ActionByName(w.Do[len(w.Do)-1]); ok {
				c.Title = v.Circuit.Actions[a].Title
			}
		}
		c.Entries = append(c.Entries, w.Open)
		if c.Good == "" {
			x, err := Expect(ctx, sees, ExpectRequest{Do: c.Do, At: []string{w.At}})
			if err != nil {
				return nil, err
			}
			c.Good = x.At[w.At].Reading
		}
	}
	return c, nil
}

// lastWrong is the latest reading that a good board would not have shown: on a board of logic one by scope or eye.
func lastWrong(list []WrongReading, figures bool) (best WrongReading, ok bool) {
	for _, w := range list {
		if (figures || w.Kind == "read" || w.Kind == "see") && (!ok || w.Entry >= best.Entry) {
			best, ok = w, true
		}
	}
	return best, ok
}
