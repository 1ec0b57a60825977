package yamlfile

// Actions: what the technician can do, as steps that each last one moment or more.

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
)

var actionKeys = []string{"title", "look", "steps"}

func (r *boardReader) readActions(n *node) {
	if n.kind != mapping {
		r.errorf(n, "actions", "write {power-up: {steps: [{A: 0}]}}", "expected actions as a map by name, found %s", n.found())
		return
	}
	for _, p := range n.pairs {
		name, ok := r.name(p.key, "actions", "the name of an action")
		if !ok {
			continue
		}
		a := board.Action{Name: name, Pos: p.key.pos}
		r.readAction(p.value, p.key, &a)
		r.b.Actions = append(r.b.Actions, a)
	}
}

func (r *boardReader) readAction(n, key *node, a *board.Action) {
	where := "action " + a.Name
	f := r.fields(n, where, "an action", actionKeys)
	if f == nil {
		return
	}
	if v := f["title"]; v != nil {
		a.Title = r.text(v, where, "a title")
	}
	if v := f["look"]; v != nil {
		w, _ := r.word(v, where, "look", "end", "whole")
		a.Whole = w == "whole"
	}
	v := f["steps"]
	if v == nil {
		if !n.has("steps") {
			r.errorf(key, where, "write `steps: [{A: 0}]`, or `steps: []` if nothing is to be done", "the action has no `steps:`")
		}
		return
	}
	a.Steps = r.readSteps(v, where, 0)
	if board.Moments(a.Steps) > board.MaxMoments {
		r.errorf(key, where, "lower `times:` or `cycles:`, or split the action in two", "the action has more than %d moments", board.MaxMoments)
	}
}

func (r *boardReader) readSteps(n *node, where string, depth int) []board.Step {
	var out []board.Step
	for i, it := range r.items(n, where, "steps", "[{A: 0}, {pulse: /WR}]") {
		if s, ok := r.readStep(it, fmt.Sprintf("%s step %d", where, i+1), depth); ok {
			out = append(out, s)
		}
	}
	return out
}

// readStep reads one entry of `steps:`; false when nothing of it is left.
func (r *boardReader) readStep(n *node, where string, depth int) (board.Step, bool) {
	s := board.Step{Pos: n.pos}
	if n.kind != mapping {
		r.errorf(n, where, "write {A: 0}, {pulse: /WR} or {press: SW7}", "expected a step as a map, found %s", n.found())
		return s, false
	}
	if len(n.pairs) == 0 {
		r.errorf(n, where, "to let a moment pass, set an input to what it is already", "the step does nothing")
		return s, false
	}
	for _, p := range n.pairs {
		if alone := slices.Contains([]string{"pulse", "cycles", "repeat"}, p.key.text); alone && len(n.pairs) > 1 {
			r.errorf(p.key, where, "make each a step of its own", "`%s:` cannot be mixed with other things in one step", p.key.text)
			return s, false
		}
		if p.value.null {
			r.errorf(p.key, where, "", "`%s:` has no value", p.key.text)
			continue
		}
		switch p.key.text {
		case "pulse":
			s.Pulse = r.readPulse(p.value, where)
		case "cycles":
			s.Cycles = r.readCycles(p.value, where)
		case "repeat":
			s.Times, s.Steps = r.readRepeat(p.value, where, depth+1)
		case "press":
			s.Press = r.readButtons(p.value, where)
		case "release":
			s.Release = r.readButtons(p.value, where)
		default:
			if r.isSwitch(p) {
				if to, ok := r.name(p.value, where, "where "+p.key.text+" is put"); ok {
					s.Moves = append(s.Moves, board.Move{Switch: p.key.text, To: to, Pos: p.key.pos})
				}
			} else if set, ok := r.readSet(p, where); ok {
				s.Sets = append(s.Sets, set)
			}
		}
	}
	r.checkTwice(n, s, where)
	return s, s.Pulse.Text != "" || len(s.Cycles)+len(s.Press)+len(s.Release)+len(s.Moves)+len(s.Sets)+len(s.Steps) > 0
}

// drivable demands a net that can be set: an input, or any net on a pin (clock sources; the circuit knows which).
func (r *boardReader) drivable(n *node, where string) (string, bool) {
	net, ok := r.net(n, where)
	switch {
	case !ok:
	case r.buses[net].width > 0:
		r.errorf(n, where, "name one net of it", "%s is a bus; expected a single net", quote(net))
	case r.rails[net]:
		r.errorf(n, where, "", "%s is a rail, which the supply holds; expected an input", quote(net))
	case r.inputs[net] || r.onPin[net]:
		return net, true
	case !r.full():
		r.unknown(n, where, r.nets(), "no input %s", quote(net))
	}
	return "", false
}

func (r *boardReader) readPulse(n *node, where string) board.Name {
	net, _ := r.drivable(n, where)
	return board.Name{Text: net, Pos: n.pos}
}

func (r *boardReader) readCycles(n *node, where string) []board.Cycle {
	if n.kind != mapping || len(n.pairs) == 0 {
		r.errorf(n, where, "write {CLK: 16}", "expected nets and numbers of periods, found %s", n.found())
		return nil
	}
	var out []board.Cycle
	for _, p := range n.pairs {
		net, ok := r.drivable(p.key, where)
		count, ok2 := r.whole(p.value, where, "the number of periods", 1, board.MaxMoments/2)
		if ok && ok2 {
			out = append(out, board.Cycle{Net: net, N: count, Pos: p.key.pos})
		}
	}
	return out
}

func (r *boardReader) readRepeat(n *node, where string, depth int) (int, []board.Step) {
	if depth > maxRepeats {
		r.errorf(n, where, "", "more than %d repeats inside each other", maxRepeats)
		return 0, nil
	}
	f := r.fields(n, where, "a repeat", []string{"times", "steps"})
	if f == nil {
		return 0, nil
	}
	for _, key := range []string{"times", "steps"} {
		if !n.has(key) {
			r.errorf(n, where, "write {times: 4, steps: [{pulse: /WR}]}", "the repeat has no `%s:`", key)
		}
	}
	times := 1
	if v := f["times"]; v != nil {
		times, _ = r.whole(v, where, "times", 1, maxTimes)
	}
	v := f["steps"]
	if v == nil {
		return 0, nil
	}
	if v.kind == list && len(v.items) == 0 {
		r.errorf(v, where, "", "the repeat has no steps")
		return 0, nil
	}
	steps := r.readSteps(v, where, depth)
	if times == 0 || len(steps) == 0 {
		return 0, nil
	}
	return times, steps
}

func (r *boardReader) readButtons(n *node, where string) []board.Name {
	var out []board.Name
	for _, it := range r.distinct(r.oneOrMore(n, where, "switches or buttons", "SW7 or [SW1, SW2]"), where, "part") {
		word, ok := r.name(it, where, "a switch or button")
		if !ok {
			continue
		}
		ref, _, _ := strings.Cut(word, ".")
		if !r.parts[ref] {
			if !r.full() {
				r.unknown(it, where, sorted(r.parts), "no part %s", quote(ref))
			}
			continue
		}
		out = append(out, board.Name{Text: word, Pos: it.pos})
	}
	return out
}

// isSwitch tells `S1: down` and `S1.3: closed` from a net that is set. A net that an action sets wins over a part of its name, but for a value
// that no net takes.
func (r *boardReader) isSwitch(p pair) bool {
	word := p.key.text
	ref, _, _ := strings.Cut(word, ".")
	switch {
	case !r.parts[ref], r.buses[word].width > 0:
		return false
	case r.inputs[word] || r.onPin[word] || r.rails[word]:
		return p.value.kind == scalar && !slices.Contains([]string{"0", "1", "x", "z", "X", "Z"}, p.value.text)
	}
	return true
}

// readSet reads `NET: VALUE` or `BUS: NUMBER`.
func (r *boardReader) readSet(p pair, where string) (board.Set, bool) {
	set := board.Set{Net: p.key.text, Pos: p.key.pos}
	width := r.buses[set.Net].width
	switch {
	case width > 0:
	case !r.inputs[set.Net] && !r.onPin[set.Net] && !r.rails[set.Net]:
		if !r.full() {
			known := slices.Concat(sorted(r.inputs), sorted(r.buses), stepWords, sorted(r.parts))
			r.unknown(p.key, where, known, "no input or bus %s", quote(set.Net))
		}
		return set, false
	default:
		if _, ok := r.drivable(p.key, where); !ok {
			return set, false
		}
	}
	var ok bool
	set.Value, ok = r.readLevel(p.value, where, set.Net, width)
	return set, ok
}

// readLevel reads what an input (width 0) or a bus is set to.
func (r *boardReader) readLevel(n *node, where, net string, width int) (board.Value, bool) {
	switch {
	case n.kind == scalar && (n.text == "x" || n.text == "z"):
		return board.Value{Letter: n.text[0]}, true
	case width == 0:
		if n.kind == scalar && (n.text == "0" || n.text == "1") {
			return board.Value{Number: uint64(n.text[0] - '0')}, true
		}
		r.errorf(n, where, levelHint(n, "x", "z"), "%s takes 0, 1, x (unknown) or z (let go), found %s", net, n.found())
		return board.Value{}, false
	case n.kind != scalar:
		r.errorf(n, where, "", "bus %s takes a number such as 5, 0x1F or 0b101, x or z, found %s", net, n.found())
		return board.Value{}, false
	}
	v, hint, err := busNumber(n.text)
	if err != nil {
		if hint == "" {
			hint = levelHint(n, "x", "z")
		}
		r.errorf(n, where, hint, "bus %s takes a number such as 5, 0x1F or 0b101, x or z, found %s", net, quote(n.text))
		return board.Value{}, false
	}
	if width < 64 && v>>width != 0 {
		r.errorf(n, where, fmt.Sprintf("the largest is %d", uint64(1)<<width-1), "%s does not fit bus %s, which has %s", quote(n.text), net, bits(width))
		return board.Value{}, false
	}
	return board.Value{Number: v}, true
}

func bits(width int) string {
	if width == 1 {
		return "1 bit"
	}
	return fmt.Sprintf("%d bits", width)
}

// busNumber reads decimal, 0x and 0b. A decimal number with leading zeros is refused: 0101 may be meant as bits.
func busNumber(s string) (v uint64, hint string, err error) {
	low := strings.ToLower(s)
	if digits, ok := strings.CutPrefix(low, "0x"); ok {
		v, err = strconv.ParseUint(digits, 16, 64)
		return v, "", err
	}
	if digits, ok := strings.CutPrefix(low, "0b"); ok {
		v, err = strconv.ParseUint(digits, 2, 64)
		return v, "", err
	}
	if v, err = strconv.ParseUint(s, 10, 64); err == nil && len(s) > 1 && s[0] == '0' {
		hint, err = "write "+strings.TrimLeft(s[:len(s)-1], "0")+s[len(s)-1:]+" for the decimal number", strconv.ErrSyntax
		if strings.Trim(s, "01") == "" {
			hint += ", 0b" + s + " for the bits"
		}
	}
	return v, hint, err
}

// levelHint offers the lower-case letter for an upper-case one.
func levelHint(n *node, letters ...string) string {
	for _, l := range letters {
		if n.kind == scalar && strings.EqualFold(n.text, l) {
			return "did you mean " + l + "?"
		}
	}
	return ""
}

// checkTwice finds what one step would do twice at the same moment: a net alone and in its bus, a part pressed and released.
func (r *boardReader) checkTwice(n *node, s board.Step, where string) {
	for _, p := range s.Press {
		if slices.ContainsFunc(s.Release, func(q board.Name) bool { return q.Text == p.Text }) {
			r.errorf(n, where, "make two steps of it", "%s is pressed and released in the same moment", p.Text)
		}
	}
	by := map[string]string{}
	note := func(net, setting string) {
		if other, twice := by[net]; twice && other != setting {
			r.errorf(n, where, "", "net %s is set twice in one moment, by `%s:` and by `%s:`", net, other, setting)
		}
		by[net] = setting
	}
	for _, set := range s.Sets {
		bus := r.buses[set.Net]
		if bus.width == 0 {
			note(set.Net, set.Net)
		}
		for _, net := range bus.nets {
			note(net.Text, set.Net)
		}
	}
}
