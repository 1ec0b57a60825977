package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/diagnose"
)

// A short on the copper, or a bad source before the board, is no part that can be replaced: it has to be looked for and removed. When what
// is known points to a net and no reading would help much more, that is what to do next.

const (
	copperAt    = 0.5  // probability of the net
	copperSure  = 0.93 // whatever the checks could still show
	littleToGet = 0.1  // bits of the best check
)

// copper is the search for what holds a net, as a check with the reading that shows whether it was found; nil when it is not yet time.
func copper(ctx context.Context, v *ProbeView, b *Bench) (*Check, error) {
	d := &v.Diagnosis
	if len(d.Parts) == 0 || d.Parts[0].Net == "" || d.Parts[0].Probability < copperAt || b.unpowered {
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
	if o, ok := lastWrong(b); ok {
		e := map[string]any{}
		for _, a := range o.Setting.Actions {
			c.Do = append(c.Do, v.Circuit.Actions[a].Name)
			c.Title = v.Circuit.Actions[a].Title
		}
		if len(c.Do) > 0 {
			e["do"] = c.Do
		}
		kind := "read"
		if o.Kind == diagnose.See {
			kind = "see"
		}
		e[kind] = map[string]any{o.At: nil}
		c.Entries = append(c.Entries, e)
		x, err := Expect(ctx, v.Circuit, ExpectRequest{Do: c.Do, At: []string{o.At}})
		if err != nil {
			return nil, err
		}
		c.Good = x.At[o.At].Reading
	}
	return c, nil
}

// lastWrong is the latest reading by scope or eye that a good board would not have shown.
func lastWrong(b *Bench) (diagnose.Obs, bool) {
	for i := len(b.S.Obs) - 1; i >= 0; i-- {
		if o := b.S.Obs[i]; (o.Kind == diagnose.Read || o.Kind == diagnose.See) && b.S.Surprising(i) {
			return o, true
		}
	}
	return diagnose.Obs{}, false
}
