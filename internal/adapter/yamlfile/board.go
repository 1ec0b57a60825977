package yamlfile

// The board file: rails, inputs, buses, neighbours and the order of reading. Parts are in part.go, actions in action.go.

import (
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
)

var (
	boardKeys = []string{"board", "rails", "inputs", "buses", "parts", "near", "start", "actions", "analog"}
	// stepWords are the keys of a step that are not nets.
	stepWords = []string{"pulse", "cycles", "repeat", "press", "release"}
)

// ReadBoard reads a board file and the contents files it names, which must lie in its folder or below. The board
// holds what could be read and is nil when nothing could; it may be trusted only when the findings hold no error.
func ReadBoard(path string) (*board.Board, finding.List) {
	data, l := readFile(path)
	if l != nil {
		return nil, l
	}
	return ParseBoard(path, data, func(name string) ([]byte, error) {
		root, err := os.OpenRoot(filepath.Dir(path))
		if err != nil {
			return nil, plainError(err)
		}
		defer root.Close()
		f, err := root.Open(filepath.FromSlash(name))
		if err != nil {
			return nil, plainError(err)
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil && info.IsDir() {
			return nil, errors.New("this is a folder, not a file")
		}
		return readAtMost(f, maxContents)
	})
}

// ParseBoard is ReadBoard for text already in memory; file is the name shown in findings. open returns the bytes of
// a contents file, named relative to the board file; nil when there are none to be had.
func ParseBoard(file string, data []byte, open func(name string) ([]byte, error)) (*board.Board, finding.List) {
	r := &boardReader{reader: &reader{file: file}, b: &board.Board{File: file}, open: open,
		onPin: map[string]bool{}, rails: map[string]bool{}, inputs: map[string]bool{}, buses: map[string]busNets{}, parts: map[string]bool{}}
	root := r.parse(data, "a board file", "`board: TITLE`")
	if root == nil {
		return nil, r.findings()
	}
	if root.has("case") || root.has("log") {
		r.errorf(root, "", "give the board file that its `board:` names", "this is a case file; expected a board file")
		return nil, r.findings()
	}
	r.read(root)
	return r.b, r.findings()
}

// boardReader knows what the sections read so far have declared.
type boardReader struct {
	*reader
	b      *board.Board
	open   func(string) ([]byte, error)
	onPin  map[string]bool // nets that some pin is on
	rails  map[string]bool
	inputs map[string]bool
	buses  map[string]busNets
	parts  map[string]bool
}

// busNets is what setting a bus means: how many bits, and for which nets.
type busNets struct {
	width int // 0 when there is no such bus
	nets  []board.Name
}

// read takes the sections in the order in which they refer to each other, whatever their order in the file.
func (r *boardReader) read(root *node) {
	f := r.fields(root, "", "a board file", boardKeys)
	if n := f["board"]; n != nil {
		r.b.Title = r.text(n, "board", "the title")
	} else if !root.has("board") {
		r.warnf(root, "", "begin the file with `board: TITLE`", "the board has no title")
	}
	if n := f["rails"]; n != nil {
		r.readRails(n)
	}
	if n := f["inputs"]; n != nil {
		r.readInputs(n)
	}
	if n := f["parts"]; n != nil {
		r.readParts(n)
	} else if !root.has("parts") {
		r.errorf(root, "", "list them as `parts: {U1: {type: 74LS00, pins: {1: A}}}`", "the board has no parts")
	}
	if n := f["analog"]; n != nil {
		r.readAnalog(n)
	}
	if n := f["buses"]; n != nil {
		r.readBuses(n)
	}
	if n := f["near"]; n != nil {
		r.readNear(n)
	}
	if n := f["actions"]; n != nil {
		r.readActions(n)
	}
	if n := f["start"]; n != nil {
		r.readStart(n)
	}
}

func (r *boardReader) readRails(n *node) {
	if n.kind != mapping {
		r.errorf(n, "rails", "write {VCC: 5 V, GND: 0 V}", "expected rails as a map of nets and volts, found %s", n.found())
		return
	}
	for _, p := range n.pairs {
		net, ok := r.net(p.key, "rails")
		if !ok {
			continue
		}
		r.rails[net] = true
		v, ok := r.quantity(p.value, "net "+net, quantity{what: "volts", units: []string{"V"}, lo: -1e5, hi: 1e5, example: "5 V"})
		if ok {
			r.b.Rails = append(r.b.Rails, board.Rail{Net: net, Volts: v, Pos: p.key.pos})
		}
	}
}

func (r *boardReader) readInputs(n *node) {
	for _, it := range r.distinct(r.items(n, "inputs", "nets", "[A0, A1]"), "inputs", "net") {
		net, ok := r.net(it, "inputs")
		switch {
		case !ok:
		case r.rails[net]:
			r.errorf(it, "net "+net, "", "%s is a rail; an input is driven from outside to 0 and 1", quote(net))
		case slices.Contains(stepWords, net):
			r.errorf(it, "net "+net, "give the net another name", "%s is a word of the steps and cannot be set as an input", quote(net))
		default:
			r.inputs[net] = true
			r.b.Inputs = append(r.b.Inputs, board.Name{Text: net, Pos: it.pos})
		}
	}
}

func (r *boardReader) readBuses(n *node) {
	if n.kind != mapping {
		r.errorf(n, "buses", "write {A: [A1, A0]}, most significant bit first", "expected buses as a map of names and lists of nets, found %s", n.found())
		return
	}
	for _, p := range n.pairs {
		name, ok := r.name(p.key, "buses", "the name of a bus")
		if !ok {
			continue
		}
		where := "bus " + name
		switch {
		case slices.Contains(stepWords, name):
			r.errorf(p.key, where, "give the bus another name", "%s is a word of the steps and cannot be set as a bus", quote(name))
			continue
		case r.inputs[name] || r.onPin[name] || r.rails[name]:
			r.errorf(p.key, where, "give the bus another name", "%s is a net already", quote(name))
			continue
		}
		bus := board.Bus{Name: name, Pos: p.key.pos}
		for _, it := range r.distinct(r.items(p.value, where, "nets, most significant bit first", "[A1, A0]"), where, "net") {
			if net, ok := r.net(it, where); ok && r.known(it, where, net) {
				bus.Nets = append(bus.Nets, board.Name{Text: net, Pos: it.pos})
			}
		}
		if p.value.kind == list {
			switch width := len(p.value.items); {
			case width == 0:
				r.errorf(p.value, where, "", "the bus has no nets")
			case width > maxBusWidth:
				r.errorf(p.value, where, "make two buses of it", "the bus has %d nets; at most %d are possible", width, maxBusWidth)
			default:
				r.buses[name] = busNets{width, bus.Nets}
				r.b.Buses = append(r.b.Buses, bus)
			}
		}
	}
}

// known demands a net that is an input or that some pin is on.
func (r *boardReader) known(n *node, where, net string) bool {
	if r.inputs[net] || r.onPin[net] {
		return true
	}
	if !r.full() {
		r.unknown(n, where, r.nets(), "no pin is on a net %s", quote(net))
	}
	return false
}

// nets lists the inputs and the nets on pins.
func (r *boardReader) nets() []string {
	all := maps.Clone(r.inputs)
	maps.Copy(all, r.onPin)
	return sorted(all)
}

func (r *boardReader) readNear(n *node) {
	for _, it := range r.items(n, "near", "pairs of nets", "[[D3, D4]]") {
		if it.kind != list || len(it.items) != 2 {
			r.errorf(it, "near", "write [[D3, D4], [D4, D5]]", "expected two nets that run side by side, found %s", it.found())
			continue
		}
		var two [2]board.Name
		good := true
		for i, v := range it.items {
			net, ok := r.net(v, "near")
			good = ok && r.known(v, "near", net) && good
			two[i] = board.Name{Text: net, Pos: v.pos}
		}
		if good && two[0].Text == two[1].Text {
			r.errorf(it, "near", "", "net %s cannot be near itself", quote(two[0].Text))
			good = false
		}
		if good {
			r.b.Near = append(r.b.Near, two)
		}
	}
}

func (r *boardReader) readStart(n *node) {
	nodes := []*node{n}
	if n.kind == list {
		nodes = n.items
	}
	var known []string
	for _, a := range r.b.Actions {
		known = append(known, a.Name)
	}
	for _, it := range nodes {
		name, ok := r.name(it, "start", "the name of an action")
		if !ok {
			continue
		}
		if !slices.Contains(known, name) {
			r.unknown(it, "start", known, "no action %s", quote(name))
			continue
		}
		r.b.Start = append(r.b.Start, board.Name{Text: name, Pos: it.pos})
	}
}

func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
