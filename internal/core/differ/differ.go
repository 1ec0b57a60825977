// Package differ tells two boards apart by part and by net. Nets are compared by the pins they join, so that a net with another name and
// the same pins is a renamed one, never a removed and an added one.
package differ

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/unit"
)

// Difference is everything in which board B is not board A. All lists are sorted.
type Difference struct {
	Added   []string // parts that only B has
	Removed []string // parts that only A has
	Changed []Change // parts that both have
	Nets    []Net
	Inputs  []Change // Part is "": nets that are driven from outside in one of them only
	Rails   []Change // Part is the net
}

// Change is one property of a part that differs. From and To are "" where there is none.
type Change struct {
	Part, What, From, To string
}

// Kind is what happened to a net.
type Kind string

// Kinds of change.
const (
	Renamed Kind = "renamed"
	Split   Kind = "split"
	Joined  Kind = "joined"
	New     Kind = "new"
	Gone    Kind = "gone"
	Rewired Kind = "rewired" // pins were added to or taken from it
)

// Net is a change of one net: A are the nets of the first board, B those of the second, Pins the pins that were added (+) or taken away (-).
type Net struct {
	Kind  Kind
	A, B  []string
	Plus  []string
	Minus []string
}

// Empty reports whether the boards are the same.
func (d Difference) Empty() bool {
	return len(d.Added)+len(d.Removed)+len(d.Changed)+len(d.Nets)+len(d.Inputs)+len(d.Rails) == 0
}

// Boards compares two boards. wa and wb map each of their pins, written alike in both (U1.4), to its net; pins left open are in neither.
func Boards(a, b *board.Board, wa, wb map[string]string) Difference {
	var d Difference
	pa, pb := byRef(a), byRef(b)
	for _, ref := range slices.SortedFunc(maps.Keys(pa), natural) {
		if q := pb[ref]; q != nil {
			d.Changed = append(d.Changed, part(pa[ref], q)...)
		} else {
			d.Removed = append(d.Removed, ref)
		}
	}
	for _, ref := range slices.SortedFunc(maps.Keys(pb), natural) {
		if pa[ref] == nil {
			d.Added = append(d.Added, ref)
		}
	}
	d.Nets = nets(wa, wb, pa, pb)
	d.Inputs, d.Rails = inputs(a, b, d.Nets), rails(a, b, d.Nets)
	return d
}

func byRef(b *board.Board) map[string]*board.Part {
	out := map[string]*board.Part{}
	for i := range b.Parts {
		out[b.Parts[i].Ref] = &b.Parts[i]
	}
	return out
}

// part compares what two parts of one name are.
func part(a, b *board.Part) []Change {
	var out []Change
	say := func(what, from, to string) {
		if from != to {
			out = append(out, Change{a.Ref, what, from, to})
		}
	}
	value := func(p *board.Part) string {
		if !p.HasValue {
			return ""
		}
		if s := unit.Format(p.Value); exact(s, p.Value) {
			return s
		}
		return strconv.FormatFloat(p.Value, 'g', -1, 64)
	}
	place := func(p *board.Part) string {
		if p.Place == nil {
			return ""
		}
		f := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
		return f(p.Place.X) + ", " + f(p.Place.Y) + " " + p.Place.Side + " " + f(p.Place.Turn) + "°"
	}
	say("type", a.Type, b.Type)
	say("value", value(a), value(b))
	say("contents file", a.ContentsFile, b.ContentsFile)
	if a.ContentsFile == b.ContentsFile && string(a.Contents) != string(b.Contents) {
		out = append(out, Change{a.Ref, "contents", itoa(len(a.Contents)) + " bytes", itoa(len(b.Contents)) + " bytes, not the same"})
	}
	if a.ContentsFile == b.ContentsFile && string(a.Fuses) != string(b.Fuses) {
		out = append(out, Change{a.Ref, "fuses", itoa(len(a.Fuses)) + " fuses", itoa(len(b.Fuses)) + " fuses, not the same"})
	}
	say("rests", rests(a), rests(b))
	say("socketed", strconv.FormatBool(a.Socketed), strconv.FormatBool(b.Socketed))
	say("place", place(a), place(b))
	return out
}

// rests is where a switch stands at rest, as the board file says it.
func rests(p *board.Part) string {
	var out []string
	for _, r := range p.Rests {
		if r.Section == "" {
			return r.To
		}
		out = append(out, r.Section+" "+r.To)
	}
	switch {
	case len(out) > 0:
		slices.SortFunc(out, natural)
		return strings.Join(out, ", ")
	case p.Closed:
		return "closed"
	}
	return "open"
}

func exact(s string, v float64) bool {
	back, err := unit.Parse(s)
	return err == nil && back == v
}

func itoa(n int) string { return strconv.Itoa(n) }

func inputs(a, b *board.Board, ns []Net) []Change {
	names := renames(ns)
	ia, ib := map[string]bool{}, map[string]bool{}
	for _, n := range a.Inputs {
		ia[n.Text] = true
	}
	for _, n := range b.Inputs {
		ib[n.Text] = true
	}
	var out []Change
	for _, n := range slices.SortedFunc(maps.Keys(ia), natural) {
		if !ib[cmp.Or(names[n], n)] {
			out = append(out, Change{What: "input", From: n})
		}
		delete(ib, cmp.Or(names[n], n))
	}
	for _, n := range slices.SortedFunc(maps.Keys(ib), natural) {
		out = append(out, Change{What: "input", To: n})
	}
	return out
}

func rails(a, b *board.Board, ns []Net) []Change {
	names := renames(ns)
	volts := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) + " V" }
	rb := map[string]string{}
	for _, r := range b.Rails {
		rb[r.Net] = volts(r.Volts)
	}
	var out []Change
	for _, r := range a.Rails {
		net := cmp.Or(names[r.Net], r.Net)
		if to := rb[net]; to != volts(r.Volts) {
			out = append(out, Change{net, "rail", volts(r.Volts), to})
		}
		delete(rb, net)
	}
	for _, n := range slices.SortedFunc(maps.Keys(rb), natural) {
		out = append(out, Change{n, "rail", "", rb[n]})
	}
	return out
}

// renames gives the new name of each net that was only renamed, or lives on with other pins under another name.
func renames(ns []Net) map[string]string {
	out := map[string]string{}
	for _, n := range ns {
		if len(n.A) == 1 && len(n.B) == 1 {
			out[n.A[0]] = n.B[0]
		}
	}
	return out
}

// natural orders R2 before R10.
func natural(a, b string) int {
	for x, y := a, b; x != "" && y != ""; {
		dx, dy := len(x)-len(strings.TrimLeft(x, "0123456789")), len(y)-len(strings.TrimLeft(y, "0123456789"))
		if dx > 0 && dy > 0 {
			u, v := strings.TrimLeft(x[:dx], "0"), strings.TrimLeft(y[:dy], "0")
			if c := cmp.Or(cmp.Compare(len(u), len(v)), cmp.Compare(u, v)); c != 0 {
				return c
			}
			x, y = x[dx:], y[dy:]
			continue
		}
		if x[0] != y[0] {
			return cmp.Compare(x[0], y[0])
		}
		x, y = x[1:], y[1:]
	}
	return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b))
}
