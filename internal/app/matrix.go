package app

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/matrix"
)

// KeysRequest is what is known of a key matrix in trouble. Keys are named as in the layout; keys that no list names work.
type KeysRequest struct {
	Dead, Repeats, Stuck, Untested []string
	Trials                         []KeyTrial // combinations that were tried
	Held                           []string   // predict the ghosts of these
}

// KeyTrial is keys held together and the keys that the machine took for pressed.
type KeyTrial struct {
	Pressed []string `json:"pressed"`
	Read    []string `json:"read"`
}

// KeysView is the answer.
type KeysView struct {
	Rows     []string       `json:"rows"`
	Columns  []string       `json:"columns"`
	Grid     [][]string     `json:"grid"` // key at row and column, "" for none
	Diodes   bool           `json:"diodes"`
	Chips    []string       `json:"chips,omitempty"`
	Healthy  bool           `json:"healthy"`
	Suspects []KeySuspect   `json:"suspects"`
	Meter    []string       `json:"meter,omitempty"` // checks that no key press replaces, for the first suspect
	Next     []KeyTry       `json:"next"`
	Ghosts   []string       `json:"ghosts,omitempty"`   // what the held keys bring on a good matrix
	Avoid    []matrix.Ghost `json:"ghosting,omitempty"` // one key more than held, and what it would bring
	Wrong    []KeyTrial     `json:"unexplained,omitempty"`
	Cut      bool           `json:"cut_short,omitempty"` // the search stopped at its limit
	Notes    []string       `json:"notes,omitempty"`
}

// KeySuspect is a set of faults; each has its look-alikes in Or.
type KeySuspect struct {
	Faults      []KeyFault `json:"faults"`
	Probability float64    `json:"probability"`
}

// KeyFault is one fault and what reads the same so far.
type KeyFault struct {
	Kind string   `json:"kind"`
	Text string   `json:"text"`
	Or   []string `json:"or,omitempty"`
}

// KeyTry is a key, or keys together, worth pressing next.
type KeyTry struct {
	Press    []string  `json:"press"`
	Bits     float64   `json:"bits"`
	Outcomes []Outcome `json:"outcomes"`
}

// Keys diagnoses a key matrix.
func Keys(l matrix.Layout, req KeysRequest, notes []string) (KeysView, error) {
	if err := l.Check(); err != nil {
		return KeysView{}, err
	}
	v := KeysView{Rows: l.Rows, Columns: l.Columns, Suspects: []KeySuspect{}, Next: []KeyTry{}, Notes: notes, Diodes: slices.ContainsFunc(l.Keys, func(k matrix.Key) bool { return k.Diode })}
	for range l.Rows {
		v.Grid = append(v.Grid, make([]string, len(l.Columns)))
	}
	for _, k := range l.Keys {
		v.Grid[k.Row][k.Column] = k.Name
	}
	for _, c := range l.Chips {
		v.Chips = append(v.Chips, c.Name)
	}
	trials, err := keyTrials(l, req)
	if err != nil {
		return KeysView{}, err
	}
	d := matrix.Diagnose(l, trials)
	v.Healthy, v.Cut = d.Healthy, !d.Complete
	for _, s := range d.Suspects {
		if s.Probability < 0.005 && len(v.Suspects) > 0 {
			continue
		}
		ks := KeySuspect{Probability: s.Probability}
		for _, class := range s.Faults {
			kf := KeyFault{Kind: string(class[0].Kind), Text: class[0].Text(l)}
			for _, f := range class[1:] {
				if len(kf.Or) == 6 {
					kf.Or = append(kf.Or, fmt.Sprintf("and %d more", len(class)-7))
					break
				}
				kf.Or = append(kf.Or, f.Text(l))
			}
			ks.Faults = append(ks.Faults, kf)
		}
		v.Suspects = append(v.Suspects, ks)
	}
	if len(d.Suspects) > 0 {
		v.Meter = matrix.Meter(l, d.Suspects[0])
		for _, i := range d.Unexplained {
			v.Wrong = append(v.Wrong, KeyTrial{keyNames(l, trials[i].Pressed), keyNames(l, trials[i].Read)})
		}
	}
	for _, n := range matrix.Next(l, trials, d, 5) {
		t := KeyTry{Press: n.Keys, Bits: n.Bits}
		for _, o := range n.Outcomes {
			is := "nothing"
			if len(o.Read) > 0 {
				is = strings.Join(o.Read, ", ")
			}
			if o.Repeats {
				is += ", repeating"
			}
			t.Outcomes = append(t.Outcomes, Outcome{Is: is, Probability: o.Probability})
		}
		v.Next = append(v.Next, t)
	}
	held, err := keyIndices(l, req.Held)
	if err != nil {
		return KeysView{}, err
	}
	if len(held) > 0 {
		v.Ghosts = l.Ghosts(held)
		v.Avoid = l.GhostKeys(held)
	}
	return v, nil
}

func keyNames(l matrix.Layout, keys []int) []string {
	out := []string{}
	for _, k := range keys {
		out = append(out, l.Keys[k].Name)
	}
	return out
}

// keyIndices finds keys by name; the error names the nearest.
func keyIndices(l matrix.Layout, names []string) ([]int, error) {
	var out []int
	for _, n := range names {
		i := l.Find(n)
		if i < 0 {
			var known []string
			for _, k := range l.Keys {
				known = append(known, k.Name)
			}
			return nil, fmt.Errorf("no key %s in this matrix; %s", n, orRange(n, known))
		}
		out = append(out, i)
	}
	return out, nil
}

func orRange(n string, known []string) string {
	if h := finding.DidYouMean(n, known); h != "" {
		return h
	}
	return fmt.Sprintf("keys are %s to %s", known[0], known[len(known)-1])
}

// keyTrials puts the lists together. A single key under Trials says what it reads; combinations are added as they are.
func keyTrials(l matrix.Layout, req KeysRequest) ([]matrix.Trial, error) {
	var lists [4][]int
	for i, names := range [][]string{req.Dead, req.Repeats, req.Stuck, req.Untested} {
		keys, err := keyIndices(l, names)
		if err != nil {
			return nil, err
		}
		lists[i] = keys
	}
	for _, k := range lists[0] {
		for i, what := range map[int]string{1: "repeats", 2: "is stuck", 3: "is untested"} {
			if slices.Contains(lists[i], k) {
				return nil, fmt.Errorf("key %s is dead and %s: say one of them", l.Keys[k].Name, what)
			}
		}
	}
	var combos []matrix.Trial
	alone := map[int]matrix.Trial{}
	for _, t := range req.Trials {
		pressed, err := keyIndices(l, t.Pressed)
		if err != nil {
			return nil, err
		}
		read, err := keyIndices(l, t.Read)
		if err != nil {
			return nil, err
		}
		slices.Sort(read)
		m := matrix.Trial{Pressed: pressed, Read: slices.Compact(read)}
		if len(pressed) == 1 {
			alone[pressed[0]] = m
			continue
		}
		combos = append(combos, m)
	}
	out := matrix.Trials(l, lists[0], lists[1], lists[2], lists[3], nil)
	for i, t := range out {
		if len(t.Pressed) == 1 {
			if m, ok := alone[t.Pressed[0]]; ok {
				m.Repeats = t.Repeats
				out[i] = m
			}
		}
	}
	return append(out, combos...), nil
}
