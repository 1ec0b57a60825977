package app

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/job"
)

// unsure is how far a reading is believed that the technician is not sure of (estimate, no source).
const unsure = 0.7

// Answer fills the one open place of a proposed check (Check.Entries as JSON) with what was seen. is may be empty for a repair whose
// reading comes later: then the repair alone is returned. Entries are to be recorded in order.
func Answer(entries string, is string, notSure bool) ([]job.Entry, error) {
	var list []map[string]any
	if err := json.Unmarshal([]byte(entries), &list); err != nil || len(list) == 0 || len(list) > 2 {
		return nil, Wrong{fmt.Errorf("the check came back damaged; load the page again")}
	}
	var out []job.Entry
	for _, m := range list {
		e, reads, err := fill(m, strings.TrimSpace(is))
		if err != nil {
			return nil, err
		}
		if reads && strings.TrimSpace(is) == "" {
			if len(out) == 0 {
				return nil, Wrong{fmt.Errorf("nothing was entered: say what you see")}
			}
			return out, nil
		}
		if reads && notSure {
			e.Sure = unsure
		}
		if e.Reads() || e.Repairs() {
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		return nil, Wrong{fmt.Errorf("the check came back damaged; load the page again")}
	}
	return out, nil
}

// EntriesJSON is a check as it travels to the page and back with its answer.
func EntriesJSON(c *Check) string {
	b, err := json.Marshal(c.Entries)
	if err != nil {
		return "[]" // words and nulls can always be written
	}
	return string(b)
}

// ActionRow is something the technician can do to the board.
type ActionRow struct {
	Name, Title string
	Moments     int
}

// Actions lists what can be done to a board, in its order; the start comes first under the empty name.
func Actions(c *circuit.Circuit) []ActionRow {
	out := []ActionRow{{"", "after " + strings.Join(startNames(c), ", "), 0}}
	for i, a := range c.Actions {
		if !slices.Contains(c.Start(), i) && a.Name != "" {
			out = append(out, ActionRow{a.Name, a.Title, len(a.Moments)})
		}
	}
	return out
}

func startNames(c *circuit.Circuit) []string {
	var out []string
	for _, i := range c.Start() {
		if t := c.Actions[i].Title; t != "" {
			out = append(out, t)
		} else {
			out = append(out, c.Actions[i].Name)
		}
	}
	if len(out) == 0 {
		out = append(out, "power on")
	}
	return out
}
