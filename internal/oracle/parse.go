package oracle

// The reader of the table files.

import (
	"fmt"
	"strconv"
	"strings"
)

type tableReader struct {
	file    string
	line    int
	records []*Record
	common  map[string]int
	unitsOK bool // unit lines may still be added to the current section
	rows    *[]Row
	ins     []string
	outs    []string
}

func parseTables(file, text string) ([]*Record, error) {
	r := &tableReader{file: file}
	for i, line := range strings.Split(text, "\n") {
		r.line = i + 1
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if err := r.statement(line); err != nil {
			return nil, fmt.Errorf("%s:%d: %w", file, r.line, err)
		}
	}
	return r.records, nil
}

func (r *tableReader) statement(line string) error {
	if strings.ContainsAny(line[:1], "LHX") || strings.HasPrefix(line, "↑") || strings.HasPrefix(line, "↓") {
		return r.row(line)
	}
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.TrimSpace(rest)
	if word == "part" {
		r.records = append(r.records, &Record{Names: strings.Fields(rest), Supply: map[int]string{}})
		r.common, r.unitsOK, r.rows = map[string]int{}, false, nil
		return nil
	}
	if len(r.records) == 0 {
		return fmt.Errorf("%q before the first part", word)
	}
	rec := r.records[len(r.records)-1]
	switch word {
	case "doc":
		rec.Doc = rest
		return nil
	case "supply":
		for _, f := range strings.Fields(rest) {
			pin, volts, _ := strings.Cut(f, "=")
			n, err := strconv.Atoi(pin)
			if err != nil {
				return err
			}
			rec.Supply[n] = volts
		}
		return nil
	case "nc", "other":
		for _, f := range strings.Fields(rest) {
			n, err := strconv.Atoi(f)
			if err != nil {
				return err
			}
			if word == "nc" {
				rec.NC = append(rec.NC, n)
			} else {
				rec.Other = append(rec.Other, n)
			}
		}
		return nil
	case "pins":
		return readPins(rest, r.common)
	case "unit":
		names := map[string]int{}
		for k, v := range r.common {
			names[k] = v
		}
		if err := readPins(rest, names); err != nil {
			return err
		}
		if !r.unitsOK {
			rec.Sections = append(rec.Sections, &Section{})
			r.unitsOK = true
		}
		s := rec.Sections[len(rec.Sections)-1]
		s.Units = append(s.Units, names)
		return nil
	}
	r.unitsOK = false
	if len(rec.Sections) == 0 {
		rec.Sections = append(rec.Sections, &Section{Units: []map[string]int{r.common}})
	}
	return r.body(rec.Sections[len(rec.Sections)-1], word, rest)
}

func readPins(text string, into map[string]int) error {
	for _, f := range strings.Fields(text) {
		name, pin, ok := strings.Cut(f, "=")
		n, err := strconv.Atoi(pin)
		if !ok || err != nil {
			return fmt.Errorf("not a pin: %q", f)
		}
		if _, twice := into[name]; twice {
			return fmt.Errorf("pin name %s twice", name)
		}
		into[name] = n
	}
	return nil
}

func (r *tableReader) body(s *Section, word, rest string) error {
	switch word {
	case "table":
		t := &Table{}
		if trimmed, ok := strings.CutSuffix(rest, " oc"); ok {
			t.OpenCollector, rest = true, trimmed
		}
		if err := r.head(rest); err != nil {
			return err
		}
		t.In, t.Out, r.rows = r.ins, r.outs, &t.Rows
		s.Tables = append(s.Tables, t)
	case "function":
		state, columns, ok := strings.Cut(rest, ":")
		if !ok {
			return fmt.Errorf("function without a bit")
		}
		f := &Function{State: strings.TrimSpace(state)}
		if err := r.head(columns); err != nil {
			return err
		}
		for _, name := range r.ins {
			bare, async := strings.CutSuffix(name, "!")
			f.In, f.Async = append(f.In, bare), append(f.Async, async)
		}
		f.Out, r.rows = r.outs, &f.Rows
		s.Functions = append(s.Functions, f)
		s.States = append(s.States, &State{Name: f.State, Width: 1})
	case "store":
		_, columns, _ := strings.Cut(rest, ":")
		if len(s.Functions) == 0 {
			return fmt.Errorf("store without a function")
		}
		s.Functions[len(s.Functions)-1].Store = strings.Fields(columns)
	case "state", "pulse", "count":
		f := strings.Fields(rest)
		if len(f) != 2 {
			return fmt.Errorf("%s needs two words", word)
		}
		n, err := strconv.Atoi(f[1])
		if err != nil {
			return err
		}
		if word == "count" {
			s.Count = &Count{Clock: f[0], Edges: n}
		} else {
			s.States = append(s.States, &State{Name: f[0], Width: n, Pulse: word == "pulse"})
		}
	case "decade":
		s.Decade = strings.Fields(rest)
	case "expr":
		name, text, ok := strings.Cut(rest, "=")
		if !ok {
			return fmt.Errorf("expr without =")
		}
		e := Expr{Name: strings.TrimSpace(name), Width: 1, Text: strings.TrimSpace(text)}
		if base, width, ok := strings.Cut(e.Name, "["); ok {
			n, err := strconv.Atoi(strings.TrimSuffix(width, "]"))
			if err != nil {
				return err
			}
			e.Name, e.Width = base, n
		}
		s.Exprs = append(s.Exprs, e)
	case "out", "oc", "tri":
		pin, text, ok := strings.Cut(rest, "=")
		text, when, _ := strings.Cut(text, " when ")
		if !ok || (word == "tri") != (when != "") {
			return fmt.Errorf("not an output: %q", rest)
		}
		s.Outs = append(s.Outs, Out{Kind: word, Pin: strings.TrimSpace(pin), Text: strings.TrimSpace(text), When: strings.TrimSpace(when)})
	case "level", "rise", "fall":
		when, action, ok1 := strings.Cut(rest, " : ")
		target, text, ok2 := strings.Cut(action, "=")
		if !ok1 || !ok2 {
			return fmt.Errorf("not a clause: %q", rest)
		}
		s.Clauses = append(s.Clauses, Clause{Kind: word, When: strings.TrimSpace(when), State: strings.TrimSpace(target), Text: strings.TrimSpace(text)})
	case "switch":
		for _, f := range strings.Fields(rest) {
			name, ends, _ := strings.Cut(f, "=")
			a, b, ok := strings.Cut(ends, "-")
			if !ok {
				return fmt.Errorf("not a switch: %q", f)
			}
			s.Switches = append(s.Switches, Switch{name, a, b})
		}
	case "sequence":
		if err := r.head(rest); err != nil {
			return err
		}
		q := &Sequence{In: r.ins, Out: r.outs}
		r.rows = &q.Rows
		s.Sequences = append(s.Sequences, q)
	default:
		return r.memory(s, word, rest)
	}
	return nil
}

func (r *tableReader) memory(s *Section, word, rest string) error {
	if word == "memory" {
		f := strings.Fields(rest)
		if len(f) != 3 {
			return fmt.Errorf("memory needs name, words, bits")
		}
		words, err1 := strconv.Atoi(f[1])
		bits, err2 := strconv.Atoi(f[2])
		if err1 != nil || err2 != nil {
			return fmt.Errorf("not a size: %q", rest)
		}
		s.Memory = &Memory{Name: f[0], Words: words, Bits: bits}
		return nil
	}
	if s.Memory == nil {
		return fmt.Errorf("unknown statement %q", word)
	}
	switch word {
	case "address":
		s.Memory.Address = strings.Fields(rest)
	case "data":
		s.Memory.Data = strings.Fields(rest)
	case "write":
		s.Memory.Write = rest
	default:
		return fmt.Errorf("unknown statement %q", word)
	}
	return nil
}

func (r *tableReader) head(text string) error {
	in, out, ok := strings.Cut(text, "->")
	if !ok {
		return fmt.Errorf("no -> in %q", text)
	}
	r.ins, r.outs = strings.Fields(in), strings.Fields(out)
	if len(r.ins) == 0 || len(r.outs) == 0 {
		return fmt.Errorf("no columns in %q", text)
	}
	return nil
}

// row reads one printed line. A line whose outputs are input names stands for the two lines with that input L and H.
func (r *tableReader) row(line string) error {
	if r.rows == nil {
		return fmt.Errorf("row outside a table")
	}
	left, right, ok := strings.Cut(line, ":")
	if !ok {
		return fmt.Errorf("row without a colon")
	}
	in := []rune(strings.Join(strings.Fields(left), ""))
	out := strings.Fields(right)
	if joined := strings.Join(out, ""); len(out) != len(r.outs) {
		out = out[:0]
		for _, c := range joined {
			out = append(out, string(c))
		}
	}
	if len(in) != len(r.ins) || len(out) != len(r.outs) {
		return fmt.Errorf("%d inputs and %d outputs, not %d and %d", len(in), len(out), len(r.ins), len(r.outs))
	}
	follow := -1
	for _, o := range out {
		for i, name := range r.ins {
			if strings.TrimPrefix(o, "/") == name {
				follow = i
			}
		}
	}
	if follow < 0 {
		return r.addRow(in, out)
	}
	for _, level := range "LH" {
		in2 := append([]rune(nil), in...)
		in2[follow] = level
		out2 := append([]string(nil), out...)
		for i, o := range out {
			if (o[0] == '/') == (level == 'L') {
				out2[i] = "H"
			} else {
				out2[i] = "L"
			}
		}
		if err := r.addRow(in2, out2); err != nil {
			return err
		}
	}
	return nil
}

func (r *tableReader) addRow(in []rune, out []string) error {
	row := Row{In: in, Line: r.line}
	for _, c := range in {
		if !strings.ContainsRune("HLX↑↓", c) {
			return fmt.Errorf("unknown input symbol %q", c)
		}
	}
	for _, o := range out {
		if len(o) != 1 || !strings.Contains("HLZQN-", o) {
			return fmt.Errorf("unknown output symbol %q", o)
		}
		row.Out = append(row.Out, rune(o[0]))
	}
	*r.rows = append(*r.rows, row)
	return nil
}
