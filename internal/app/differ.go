package app

import (
	"cmp"
	"strconv"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/differ"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// DifferenceView is the answer to: in what do two boards differ?
type DifferenceView struct {
	A       string          `json:"a"`
	B       string          `json:"b"`
	Same    bool            `json:"same"`
	Added   []DifferentPart `json:"added"`
	Removed []DifferentPart `json:"removed"`
	Changed []ChangedPart   `json:"changed"`
	Nets    []ChangedNet    `json:"nets"`
	Inputs  []ChangedPart   `json:"inputs"`
	Rails   []ChangedPart   `json:"rails"`
	Notes   []FindingRow    `json:"warnings"`
}

// DifferentPart is a part that one of the boards lacks.
type DifferentPart struct {
	Part string `json:"part"`
	Type string `json:"type"`
}

// ChangedPart is one property that is not the same. At is the part or net.
type ChangedPart struct {
	At   string `json:"at,omitempty"`
	What string `json:"what"`
	From string `json:"from"`
	To   string `json:"to"`
}

// ChangedNet is what happened to a net: renamed, split, joined, rewired, new, gone.
type ChangedNet struct {
	Kind  string   `json:"kind"`
	A     []string `json:"a"`
	B     []string `json:"b"`
	Plus  []string `json:"added"`
	Minus []string `json:"removed"`
}

// Differ compares two board files. Mistakes in the wiring of a board (a pin that its type does not have) do not stand in the way; findings
// that say a file could not be read do.
func Differ(files Files, pathA, pathB string, partsFiles []string) (DifferenceView, finding.List) {
	a, wa, fl := wiresOf(files, pathA, partsFiles)
	b, wb, more := wiresOf(files, pathB, partsFiles)
	fl = append(fl, more...)
	fl.Sort()
	if fl.Errors() {
		return DifferenceView{}, fl
	}
	d := differ.Boards(a, b, wa, wb)
	v := DifferenceView{A: pathA, B: pathB, Same: d.Empty(), Added: partsOf(b, d.Added), Removed: partsOf(a, d.Removed), Changed: changedOf(d.Changed), Inputs: changedOf(d.Inputs),
		Rails: changedOf(d.Rails), Nets: []ChangedNet{}, Notes: Rows(fl)}
	for _, n := range d.Nets {
		v.Nets = append(v.Nets, ChangedNet{string(n.Kind), netsOf(n.A), netsOf(n.B), netsOf(n.Plus), netsOf(n.Minus)})
	}
	return v, fl
}

func netsOf(s []string) []string { return append([]string{}, s...) }

func changedOf(cs []differ.Change) []ChangedPart {
	out := []ChangedPart{}
	for _, c := range cs {
		out = append(out, ChangedPart{c.Part, c.What, c.From, c.To})
	}
	return out
}

func partsOf(b *board.Board, refs []string) []DifferentPart {
	types := map[string]string{}
	for _, p := range b.Parts {
		types[p.Ref] = p.Type
	}
	out := []DifferentPart{}
	for _, r := range refs {
		out = append(out, DifferentPart{r, types[r]})
	}
	return out
}

// wiresOf reads a board and maps every pin, by number where its type is known, to its net; supply pins that the file leaves to the rails included.
func wiresOf(files Files, path string, partsFiles []string) (*board.Board, map[string]string, finding.List) {
	b, fl := files.Board(path)
	lib, more := library(files, path, partsFiles)
	fl = append(fl, more...)
	if b == nil || fl.Errors() {
		return nil, nil, fl
	}
	wires := map[string]string{}
	for i := range b.Parts {
		p := &b.Parts[i]
		m, err := typeOf(lib, p)
		for k, w := range p.Pins {
			if w.Net == "-" {
				continue
			}
			word := cmp.Or(w.Pin, strconv.Itoa(k+1))
			names := []string{word}
			if err == nil {
				if nums := m.Type.PinByName(word); nums != nil {
					names = nil
					for _, n := range nums {
						names = append(names, strconv.Itoa(n))
					}
				}
			}
			for _, n := range names {
				wires[p.Ref+"."+n] = w.Net
			}
		}
	}
	c, _ := circuit.Build(b, lib)
	if c != nil {
		for _, p := range c.Pins {
			name := c.Parts[p.Part].Ref + "." + strconv.Itoa(p.Number)
			if _, listed := wires[name]; p.Supply && p.Wired && !listed {
				wires[name] = c.NetName(p.Net)
			}
		}
	}
	return b, wires, fl
}

func typeOf(lib *part.Library, p *board.Part) (part.Match, error) {
	if part.IsGate(p.Type) {
		return part.Gate(p.Type, len(p.Pins)-1)
	}
	return lib.Find(p.Type)
}
