package app

import (
	"halfsplit/internal/core/part"
)

// PartRow is one line of the library's list.
type PartRow struct {
	Name     string   `json:"part"`
	Title    string   `json:"title"`
	Families []string `json:"families,omitempty"`
	Package  string   `json:"package,omitempty"`
}

// PartView is everything the library says about one part.
type PartView struct {
	PartRow
	Aka    []string       `json:"aka,omitempty"`
	Pins   []PinView      `json:"pins"` // by number, from 1
	Table  *FunctionTable `json:"table,omitempty"`
	Logic  []string       `json:"logic,omitempty"` // statements of docs/part-language.md, in words where that has none
	Opaque bool           `json:"opaque,omitempty"`
	Source string         `json:"source"`
	Notes  string         `json:"notes,omitempty"`
}

// PinView is one terminal. Use is input, output, both, supply, terminal or none.
type PinView struct {
	Number int      `json:"number"`
	Name   string   `json:"name"`
	Also   []string `json:"also,omitempty"`
	Use    string   `json:"use"`
}

// PartList lists the records of a library in the order in which they are kept.
func PartList(lib *part.Library) []PartRow {
	out := []PartRow{}
	for _, t := range lib.Types() {
		out = append(out, rowOf(t))
	}
	return out
}

// Part looks up what stands in `type:`; the error names the nearest right word.
func Part(lib *part.Library, name string) (PartView, error) {
	m, err := lib.Find(name)
	if err != nil {
		return PartView{}, err
	}
	t := m.Type
	v := PartView{PartRow: rowOf(t), Aka: t.Aka, Opaque: t.Opaque, Source: t.Source, Notes: t.Notes}
	for i, p := range t.Pins {
		v.Pins = append(v.Pins, pinView(t, i+1, p))
	}
	if !t.Opaque {
		v.Logic = statements(t)
		v.Table = functionTable(t)
	}
	return v, nil
}

func rowOf(t *part.Type) PartRow {
	return PartRow{Name: t.Name, Title: t.Title, Families: t.Families, Package: t.Package}
}

func pinView(t *part.Type, number int, p part.Pin) PinView {
	if p.Node < 0 {
		return PinView{Number: number, Name: p.Name, Use: "none"}
	}
	n := t.Nodes[p.Node]
	return PinView{Number: number, Name: n.Name, Also: n.Also, Use: n.Direction()}
}
