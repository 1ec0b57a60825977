package yamlfile

// A board as canonical text.

import (
	"fmt"
	"strconv"

	"halfsplit/internal/core/board"
)

// WriteBoard writes a board so that reading it gives the same board, but for places in the text. Contents are not
// written: the file that ContentsFile names must lie beside the board. It returns an error for what no board
// file can hold: control characters, numbers that are not finite, contents without a file name.
func WriteBoard(b *board.Board) ([]byte, error) {
	w := &boardWriter{b: b, buses: map[string]bool{}}
	w.line(0, "board: %s", w.word(b.Title))
	if len(b.Rails) > 0 {
		var out []string
		for _, r := range b.Rails {
			out = append(out, w.word(r.Net)+": "+w.value(r.Volts)+" V")
		}
		w.wrapped(0, "rails: ", "{", out, "}")
	}
	if len(b.Inputs) > 0 {
		w.wrapped(0, "inputs: ", "[", w.texts(b.Inputs), "]")
	}
	if len(b.Buses) > 0 {
		w.line(0, "buses:")
		for _, bus := range b.Buses {
			w.buses[bus.Name] = true
			w.wrapped(1, w.word(bus.Name)+": ", "[", w.texts(bus.Nets), "]")
		}
	}
	w.line(0, "parts:%s", map[bool]string{true: " {}"}[len(b.Parts) == 0])
	for i := range b.Parts {
		w.part(&b.Parts[i])
	}
	if len(b.Near) > 0 {
		var out []string
		for _, n := range b.Near {
			out = append(out, w.words([]string{n[0].Text, n[1].Text}))
		}
		w.wrapped(0, "near: ", "[", out, "]")
	}
	if len(b.Start) > 0 {
		w.line(0, "start: %s", w.oneOrMore(texts(b.Start)))
	}
	if len(b.Actions) > 0 {
		w.line(0, "actions:")
		for i := range b.Actions {
			w.action(&b.Actions[i])
		}
	}
	if b.Analog != nil {
		w.analog(b.Analog)
	}
	return w.bytes()
}

type boardWriter struct {
	emitter
	b     *board.Board
	buses map[string]bool
}

func texts(names []board.Name) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = n.Text
	}
	return out
}

func (w *boardWriter) texts(names []board.Name) []string {
	out := texts(names)
	for i, s := range out {
		out[i] = w.word(s)
	}
	return out
}

func (w *boardWriter) part(p *board.Part) {
	w.line(1, "%s:", w.word(p.Ref))
	w.line(2, "type: %s", w.word(p.Type))
	if p.HasValue {
		w.line(2, "value: %s", w.value(p.Value))
	}
	if (p.Contents != nil || p.Fuses != nil) && p.ContentsFile == "" {
		w.fail("%s has contents but no name for their file", p.Ref)
	}
	if p.ContentsFile != "" {
		w.line(2, "contents: %s", w.word(p.ContentsFile))
	}
	var pins []string
	for _, pin := range p.Pins {
		if p.Listed {
			pins = append(pins, w.word(pin.Net))
		} else {
			pins = append(pins, w.word(pin.Pin)+": "+w.word(pin.Net))
		}
	}
	if p.Listed {
		w.wrapped(2, "pins: ", "[", pins, "]")
	} else {
		w.wrapped(2, "pins: ", "{", pins, "}")
	}
	if p.Closed {
		w.line(2, "rests: closed")
	}
	if len(p.Rests) > 0 {
		w.rests(p.Rests)
	}
	if p.Socketed {
		w.line(2, "socketed: true")
	}
	if s := map[board.Access]string{board.Easy: "easy", board.Hard: "hard"}[p.Access]; s != "" {
		w.line(2, "access: %s", s)
	}
	if p.Replaced {
		w.line(2, "fitted: replaced")
	}
	if p.Place != nil {
		w.line(2, "place: {x: %s, y: %s, side: %s, turn: %s}", w.decimal(p.Place.X), w.decimal(p.Place.Y), w.word(p.Place.Side), w.decimal(p.Place.Turn))
	}
	if p.Note != "" {
		w.line(2, "note: %s", w.word(p.Note))
	}
}

// rests writes where a switch stands: one word for the whole, or one for each section.
func (w *boardWriter) rests(rests []board.Rest) {
	if rests[0].Section == "" {
		w.line(2, "rests: %s", w.word(rests[0].To))
		return
	}
	var out []string
	for _, r := range rests {
		out = append(out, w.word(r.Section)+": "+w.word(r.To))
	}
	w.wrapped(2, "rests: ", "{", out, "}")
}

func (w *boardWriter) action(a *board.Action) {
	w.line(1, "%s:", w.word(a.Name))
	if a.Title != "" {
		w.line(2, "title: %s", w.word(a.Title))
	}
	if a.Whole {
		w.line(2, "look: whole")
	}
	w.line(2, "steps:%s", map[bool]string{true: " []"}[len(a.Steps) == 0])
	w.steps(a.Steps, 3)
}

func (w *boardWriter) steps(steps []board.Step, level int) {
	for _, s := range steps {
		switch {
		case s.Times > 0:
			w.line(level, "- repeat:")
			w.line(level+2, "times: %d", s.Times)
			w.line(level+2, "steps:")
			w.steps(s.Steps, level+3)
		case s.Pulse.Text != "":
			w.line(level, "- pulse: %s", w.word(s.Pulse.Text))
		case len(s.Cycles) > 0:
			var out []string
			for _, c := range s.Cycles {
				out = append(out, fmt.Sprintf("%s: %d", w.word(c.Net), c.N))
			}
			w.wrapped(level, "- cycles: ", "{", out, "}")
		default:
			w.moment(s, level)
		}
	}
}

// moment writes what happens at once.
func (w *boardWriter) moment(s board.Step, level int) {
	var out []string
	if len(s.Press) > 0 {
		out = append(out, "press: "+w.oneOrMore(texts(s.Press)))
	}
	if len(s.Release) > 0 {
		out = append(out, "release: "+w.oneOrMore(texts(s.Release)))
	}
	for _, m := range s.Moves {
		out = append(out, w.word(m.Switch)+": "+w.word(m.To))
	}
	for _, set := range s.Sets {
		v := strconv.FormatUint(set.Value.Number, 10)
		if set.Value.Letter != 0 {
			v = string(rune(set.Value.Letter))
		}
		out = append(out, w.word(set.Net)+": "+v)
	}
	w.wrapped(level, "- ", "{", out, "}")
}
