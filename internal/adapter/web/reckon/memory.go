package reckon

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/memtest"
)

// memoryView is the page of failing memory reads. F holds the fields as typed.
type memoryView struct {
	shell.Info
	Src    source
	F      map[string]string
	Wrong  mistakes
	Shape  string // of the board's memory, in words
	Answer *app.MemoryView
	March  *app.MarchView
}

// memory says what failing reads point to. The reads are sent, not put into the address, since they may be many; they are not kept.
func (p *pages) memory(w http.ResponseWriter, r *http.Request) error {
	if err := parse(r); err != nil {
		return err
	}
	src, err := p.source(r)
	if err != nil {
		return err
	}
	v := memoryView{Info: shell.Info{Shell: p.Shell, Title: "Failing memory reads", Nav: "reckon"}, Src: src, F: map[string]string{}, Wrong: mistakes{}}
	for _, f := range []string{"reads", "words", "width", "chips", "march"} {
		v.F[f] = strings.TrimSpace(strings.ReplaceAll(r.FormValue(f), "\r\n", "\n"))
	}
	if m := src.missing(); m != "" {
		v.Wrong.add("", m)
	}
	shape := memtest.Shape{}
	if src.Circuit != nil {
		if shape, err = app.MemoryOf(src.Circuit); err != nil {
			v.Wrong.add("", err.Error())
		} else {
			v.Shape = shapeText(shape)
		}
	}
	if r.Method == http.MethodPost {
		v.diagnose(shape)
	}
	p.Render(w, r, v.Wrong.status(r), memoryPage(v))
	return nil
}

// diagnose reads the form and answers, or notes what is wrong with it.
func (v *memoryView) diagnose(s memtest.Shape) {
	if v.Src.Circuit == nil {
		s = v.shape()
	}
	reads, err := app.MemoryReads(v.F["reads"])
	switch {
	case err != nil:
		v.Wrong.add("reads", "failing reads, "+err.Error())
	case len(reads) == 0:
		v.Wrong.add("reads", "write the failing reads, one to a line: address, expected, read")
	}
	if len(v.Wrong) > 0 {
		return
	}
	a, err := app.Memory(s, v.F["march"], reads)
	if err != nil {
		v.Wrong.add("reads", "failing reads, "+err.Error())
		return
	}
	v.Answer = &a
	if v.F["march"] != "" {
		if m, err := app.March(v.F["march"], s.Words, s.Width, false); err == nil {
			v.March = &m
		}
	}
}

// shape is the memory that was typed.
func (v *memoryView) shape() memtest.Shape {
	s := memtest.Shape{}
	for _, f := range []struct {
		name, title string
		into        *int
		least, most int
		usual       string
	}{{"words", "Words", &s.Words, 2, memtest.MaxWords, ""}, {"width", "Bits of a word", &s.Width, 1, memtest.MaxWidth, "8"}} {
		t := v.F[f.name]
		if t == "" {
			t = f.usual
		}
		n, err := strconv.Atoi(t)
		switch {
		case t == "":
			v.Wrong.add(f.name, f.title+": how many has the memory? 1024 for 1 K")
		case err != nil || n < f.least || n > f.most:
			v.Wrong.add(f.name, fmt.Sprintf("%s: %.20q is no whole number from %d to %d", f.title, t, f.least, f.most))
		}
		*f.into = n
	}
	for line := range strings.Lines(v.F["chips"]) {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		k, err := app.MemoryChip(line, s.Words)
		if err != nil {
			v.Wrong.add("chips", "chips: "+err.Error())
			continue
		}
		s.Chips = append(s.Chips, k)
	}
	if len(v.Wrong) == 0 {
		if err := s.Check(); err != nil {
			v.Wrong.add("chips", "chips: "+err.Error())
		}
	}
	return s
}

func shapeText(s memtest.Shape) string {
	var out []string
	for _, c := range s.Chips {
		out = append(out, fmt.Sprintf("%s (D%d to D%d)", c.Name, c.LowBit, c.LowBit+c.Bits-1))
	}
	return fmt.Sprintf("%d words of %d bits in %s", s.Words, s.Width, strings.Join(out, ", "))
}

// marchTitle is a march test as the choice shows it.
func marchTitle(name string) string { return "March " + strings.ToUpper(name) }

// notFitting says where a cause does not fit what failed; "" when it fits exactly.
func notFitting(s app.MemorySuspect) string {
	var out []string
	if s.Missed > 0 {
		out = append(out, fmt.Sprintf("leaves %d failing reads unexplained", s.Missed))
	}
	if s.Extra > 0 {
		out = append(out, fmt.Sprintf("would cause %d failures that were not seen", s.Extra))
	}
	return strings.Join(out, " and ")
}

// romView is the page of two dumps.
type romView struct {
	shell.Info
	Wrong  mistakes
	Answer *app.RomView
}

// uploads are the two dumps, for the time of one answer.
type uploads map[string][]byte

// Bytes returns a dump by the name that it goes by here.
func (u uploads) Bytes(name string) ([]byte, error) {
	if b, ok := u[name]; ok {
		return b, nil
	}
	return nil, fs.ErrNotExist
}

// Board is not among them.
func (uploads) Board(name string) (*board.Board, finding.List) { return nil, none(name) }

// Case is not among them.
func (uploads) Case(name string) (*evidence.Case, finding.List) { return nil, none(name) }

func none(name string) finding.List {
	var fl finding.List
	fl.Errorf(finding.Pos{File: name}, name, "", "there is no such file")
	return fl
}

// roms compares two dumps, or looks at one. They are not kept.
func (p *pages) roms(w http.ResponseWriter, r *http.Request) error {
	v := romView{Info: shell.Info{Shell: p.Shell, Title: "Two dumps of a ROM", Nav: "reckon"}, Wrong: mistakes{}}
	if r.Method == http.MethodPost {
		if err := parse(r); err != nil {
			return err
		}
		if err := v.compare(r); err != nil {
			return err
		}
	}
	p.Render(w, r, v.Wrong.status(r), romPage(v))
	return nil
}

func (v *romView) compare(r *http.Request) error {
	files, names := uploads{}, map[string]string{}
	for field, what := range map[string]string{"good": "good dump ", "bad": "doubtful dump "} {
		f, h, err := r.FormFile(field)
		if errors.Is(err, http.ErrMissingFile) || errors.Is(err, http.ErrNotMultipart) {
			continue
		}
		if err != nil {
			return err
		}
		data, err := io.ReadAll(f)
		f.Close()
		if err != nil {
			return err
		}
		if h.Filename != "" || len(data) > 0 {
			names[field] = what + fmt.Sprintf("%.60s", h.Filename)
			files[names[field]] = data
		}
	}
	if names["good"] == "" {
		v.Wrong.add("good", "choose the dump that is known to be good")
		return nil
	}
	a, err := app.Rom(files, names["good"], names["bad"])
	if err != nil {
		field := "good"
		if names["bad"] != "" && strings.HasPrefix(err.Error(), names["bad"]) {
			field = "bad"
		}
		v.Wrong.add(field, err.Error())
		return nil
	}
	v.Answer = &a
	return nil
}
