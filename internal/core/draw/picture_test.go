package draw_test

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/part"
)

// checkPicture holds every picture to what all of them promise; it returns how many tap targets and lines of text there are.
func checkPicture(t *testing.T, what string, p draw.Picture) (taps, texts int) {
	t.Helper()
	if p.W <= 0 || p.H <= 0 || p.Title == "" {
		t.Errorf("%s: %v x %v, title %q", what, p.W, p.H, p.Title)
	}
	svg := p.SVG()
	d := xml.NewDecoder(strings.NewReader(p.Standalone())) // the page's text with a style sheet more
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
	}
	for _, no := range []string{" style=", "<script", "<style", " onclick", "NaN", "Inf", "href"} {
		if strings.Contains(svg, no) {
			t.Errorf("%s: the page gets %q", what, no)
		}
	}
	type boxed struct {
		s draw.Shape
		b [4]float64
	}
	var all []boxed
	walk(p.Shapes, func(s draw.Shape, _ string) {
		b := draw.Bounds(s)
		if s.Kind != draw.Group && (b[0] < -0.01 || b[1] < -0.01 || b[2] > p.W+0.01 || b[3] > p.H+0.01) && s.Class != draw.Hit {
			t.Errorf("%s: %s %q at %v sticks out of %v x %v", what, s.Kind, s.Text, b, p.W, p.H)
		}
		if s.Place != "" {
			taps++
			if s.Say == "" || s.Kind != draw.Group {
				t.Errorf("%s: tap target %s has no name", what, s.Place)
			}
		}
		if s.Kind != draw.Text {
			return
		}
		texts++
		if s.Size < 13 {
			t.Errorf("%s: %q is lettered %v high", what, s.Text, s.Size)
		}
		if s.Text == "" {
			t.Errorf("%s: an empty text", what)
		}
		tb := draw.TextBox(s)
		for _, o := range all {
			if tb[0] < o.b[2] && o.b[0] < tb[2] && tb[1]+1 < o.b[3] && o.b[1]+1 < tb[3] {
				t.Errorf("%s: %q at %.0f lies on %q at %.0f", what, s.Text, tb, o.s.Text, o.b)
			}
		}
		all = append(all, boxed{s, tb})
	})
	if n := strings.Count(svg, `class="tap`); n != taps {
		t.Errorf("%s: %d tap targets written of %d", what, n, taps)
	}
	return taps, texts
}

// Names that look like markup stay names, in every drawing.
func TestNamesAreOnlyNames(t *testing.T) {
	evil := `</text><script>alert("1")&'`
	b := &board.Board{Title: evil, Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND"}}}
	b.Parts = []board.Part{
		{Ref: evil + "U1", Type: "74LS00", Note: evil, Place: &board.Place{X: 1e300, Y: 2}, Pins: []board.Pin{{Pin: "1", Net: evil}, {Pin: "2", Net: evil + "B"}, {Pin: "3", Net: strings.Repeat("a very long name ", 30)}}},
		{Ref: "U2\x00\x1b", Type: "74LS04", Place: &board.Place{X: 3, Y: 4, Turn: 90}, Pins: []board.Pin{{Pin: "1", Net: strings.Repeat("a very long name ", 30)}, {Pin: "2", Net: evil}}},
	}
	lib, _ := part.Embedded()
	c := build(t, b, lib)
	levels := map[int]draw.Level{0: {}, 1: {}, 2: {Seen: evil, Expected: "low"}, 3: {Seen: "low"}, 4: {Expected: "high"}}
	n := 0
	for name, p := range map[string]draw.Picture{
		"package":       draw.Package(c, 0, draw.PackageOptions{Pin: 0, Levels: levels}),
		"neighbourhood": draw.Neighbourhood(c, draw.NeighbourhoodOptions{Parts: []int{0, 1}, Levels: levels, Path: []int{2, 4}}),
		"board":         draw.Board(c, draw.BoardOptions{Pin: circuit.None, Marks: map[int]draw.BoardMark{1: {Text: "most likely", Weight: 7}}}),
		"timing":        draw.Timing(draw.TimingOptions{Title: evil, Captions: []string{evil, evil}, Rows: []draw.TimingRow{{Label: evil, Expected: []byte("0?"), Seen: "low", Place: evil}}}),
		"digit":         draw.DigitPicture(evil, evil),
	} {
		checkPicture(t, name, p)
		if got := p.SVG() + p.Standalone(); strings.Contains(got, "<script") {
			t.Errorf("%s: markup gets through", name)
		}
		n++
	}
	if n != 5 {
		t.Errorf("%d drawings", n)
	}
}

func TestDigit(t *testing.T) {
	for segs, lit := range map[string]int{"": 0, "abc": 3, "abcdefg": 7, "gdp": 2, "dp": 1, "xyz": 0} {
		n := 0
		p := draw.DigitPicture(segs, "digit")
		walk(p.Shapes, func(s draw.Shape, _ string) {
			if s.Class == draw.Mark {
				n++
			}
		})
		if n != lit {
			t.Errorf("%q: %d segments lit, want %d", segs, n, lit)
		}
		checkPicture(t, segs, p)
	}
}

// A reading and a good level meet as the trade understands the words.
func TestTimingSigns(t *testing.T) {
	tests := []struct {
		good, seen string
		differs    bool
		hatched    int // moments
	}{
		{"0000", "low", false, 0}, {"0110", "low", true, 2}, {"1111", "high", false, 0}, {"1101", "high", true, 1},
		{"0101", "pulses", false, 0}, {"0000", "pulses", true, 0}, {"XX00", "pulses", false, 0}, {"ZZ01", "floating", true, 2},
		{"ZZZZ", "floating", false, 0}, {"FF0X", "between", true, 1}, {"0101", "", false, 0}, {"Z1", "low", true, 2},
	}
	for _, x := range tests {
		p := draw.Timing(draw.TimingOptions{Title: "t", Rows: []draw.TimingRow{{Label: "N", Expected: []byte(x.good), Seen: x.seen, Place: "N"}}})
		checkPicture(t, x.good+" "+x.seen, p)
		signs, cols, x0 := 0, map[int]bool{}, -1.0
		walk(p.Shapes, func(s draw.Shape, _ string) {
			if s.Class == draw.Sign {
				signs++
			}
			if s.Class == draw.Grid && x0 < 0 {
				x0 = s.Points[0].X
			}
			if s.Class == draw.Wrong && s.Kind == draw.Line && s.Thick == 1 {
				cols[int((s.Points[0].X+s.Points[1].X)/2-x0)/44] = true
			}
		})
		if (signs == 1) != x.differs || len(cols) != x.hatched {
			t.Errorf("good %s, seen %s: %d signs, %d hatched moments; want %v, %d", x.good, x.seen, signs, len(cols), x.differs, x.hatched)
		}
	}
}

func TestLongActionIsCut(t *testing.T) {
	said := make([]string, 5000)
	for i := range said {
		said[i] = []string{"CLK = 1", "CLK = 0"}[i%2]
	}
	p := draw.Timing(draw.TimingOptions{Title: "long", Captions: said, Rows: []draw.TimingRow{{Label: "CLK", Expected: []byte(strings.Repeat("10", 2500))}}})
	_, texts := checkPicture(t, "long", p)
	if svg := p.SVG(); texts > 60 || !strings.Contains(svg, "4969 moments in the middle are left out") || !strings.Contains(svg, ">5000<") {
		t.Errorf("%d texts in %.300s", texts, svg)
	}
	if p := draw.Timing(draw.TimingOptions{}); p.W != 0 {
		t.Error("nothing to draw, and yet a picture")
	}
}
