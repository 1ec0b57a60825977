// Package importer reads netlists that other programs export and makes a board of them: ISCAS `.bench`, structural Verilog
// (IEEE 1364), EDIF 2.0.0, IPC-D-356A, pin lists and bills of materials as spreadsheets export them.
//
// Each format has a file of its own that fills a netlist; join.go makes a board of the netlist and the part library. What a file is
// is told from its content. Nothing is silently dropped: what could not be read is a finding with its line, what could be read is kept.
package importer

import (
	"path/filepath"
	"slices"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// Limits. A minicomputer of 5000 packages has about 80 000 pins; what is larger is no board, and what is kept can still be written.
const (
	MaxFile     = 64 << 20 // bytes of one file that are looked at
	maxParts    = 20_000
	maxPins     = 200_000
	maxFindings = 100 // for one file
	maxName     = 100 // characters of a net, part or pin, as in a board file
)

// File is one file to be imported, whole.
type File struct {
	Name string
	Data []byte
}

// Read says what one file was taken for.
type Read struct {
	File   string
	Format Format
}

// Result is what came of the files. Board is nil when no part was found.
type Result struct {
	Board    *board.Board
	Records  []byte   // part records for a parts.yaml beside the board: what its parts are that the library does not know; nil when none
	Unknown  []string // parts whose inside is not modelled, natural order
	Outputs  []string // nets that leave the model, in the order of the file; a board file has no place for them
	Files    []Read
	Findings finding.List // sorted
}

// Import reads the files into one board: a netlist and its bill of materials, or several lists of pins.
func Import(files []File, lib *part.Library) Result {
	n := newNetlist()
	var res Result
	for i, f := range files {
		r := &reader{file: f.Name, n: n}
		res.Files = append(res.Files, Read{f.Name, r.read(f.Data)})
		res.Findings = append(res.Findings, r.findings()...)
		if base := strings.TrimSuffix(filepath.Base(f.Name), filepath.Ext(f.Name)); i == 0 && strings.TrimSpace(n.title) == "" {
			n.title = base
		}
	}
	if len(n.parts) == 0 && len(files) > 0 && !res.Findings.Errors() {
		res.Findings.Errorf(finding.Pos{File: files[0].Name, Line: 1}, "", "is the file cut off?", "there is no part in it")
	}
	join(n, lib, &res)
	res.Findings.Sort()
	return res
}

// reader reads one file into the netlist and collects its findings.
type reader struct {
	file    string
	n       *netlist
	list    finding.List
	stops   finding.List // limits that were passed
	stopped bool
}

func (r *reader) read(data []byte) Format {
	text := r.decode(data)
	f := sniff(text)
	switch f {
	case Bench:
		r.bench(text)
	case Verilog:
		r.verilog(text)
	case EDIF:
		r.edif(text)
	case IPC356:
		r.ipc356(text)
	case PinList:
		r.pinList(text)
	case BOM:
		r.bom(text)
	case BoardFile:
		r.errorf(1, "", "it needs no import", "this is a board file of this program already")
	default:
		if len(text) > 0 || len(r.list) == 0 {
			r.errorf(1, "", "known: ISCAS .bench, structural Verilog, EDIF 2.0.0, IPC-D-356A, a pin list or a bill of materials as CSV",
				"nothing in this file shows what it is")
		}
	}
	return f
}

func (r *reader) pos(line int) finding.Pos { return finding.Pos{File: r.file, Line: line} }

func (r *reader) errorf(line int, where, hint, format string, args ...any) {
	if len(r.list) <= maxFindings {
		r.list.Errorf(r.pos(line), where, hint, format, args...)
	}
}

func (r *reader) warnf(line int, where, hint, format string, args ...any) {
	if len(r.list) <= maxFindings {
		r.list.Warnf(r.pos(line), where, hint, format, args...)
	}
}

// findings returns what was collected, and says so when there would be more.
func (r *reader) findings() finding.List {
	l := r.list
	if len(l) > maxFindings {
		l = l[:maxFindings]
		l.Errorf(finding.Pos{File: r.file}, "", "mend these first", "more than %d problems; the rest is not shown", maxFindings)
	}
	return append(l, r.stops...)
}

// part returns the part of that name, which it adds when it is new; nil when there are too many.
func (r *reader) part(ref string, line int) *npart {
	if p := r.n.byRef[ref]; p != nil {
		return p
	}
	if len(r.n.parts) == maxParts {
		r.stop(line, "more than %d parts", maxParts)
		return nil
	}
	p := &npart{ref: ref, pos: r.pos(line), at: map[string]int{}}
	r.n.parts = append(r.n.parts, p)
	r.n.byRef[ref] = p
	return p
}

// pin wires a pin. A pin that is on another net already is an error, and stays where it was.
func (r *reader) pin(p *npart, pin, net string, line int) {
	if i, ok := p.at[pin]; ok {
		switch old := p.pins[i]; {
		case old.net == net:
		case old.net == "-":
			p.pins[i].net = net
		case net != "-":
			r.errorf(line, p.ref+"."+pin, "correct the file; the first is kept", "%s pin %s is on net %s here and on net %s in line %d", p.ref, pin, net, old.net, old.pos.Line)
		}
		return
	}
	if r.n.pins == maxPins {
		r.stop(line, "more than %d pins", maxPins)
		return
	}
	r.n.pins++
	p.at[pin] = len(p.pins)
	p.pins = append(p.pins, npin{pin, net, r.pos(line)})
}

// stop says once that the rest of the file is left out.
func (r *reader) stop(line int, format string, args ...any) {
	text := "the rest is left out: " + sprintf(format, args...)
	if !slices.ContainsFunc(r.stops, func(f finding.Finding) bool { return f.Text == text }) {
		r.stops.Errorf(r.pos(line), "", "split the design", "%s", text)
	}
	r.stopped = true
}

// short cuts a text for a message.
func short(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
