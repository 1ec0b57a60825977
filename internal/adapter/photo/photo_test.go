package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"
)

func take(b []byte) (*Photo, error) {
	return New(Limits{}).Take(context.Background(), bytes.NewReader(b))
}

func mustTake(t *testing.T, name string, b []byte) *Photo {
	t.Helper()
	p, err := take(b)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	wantClean(t, name, p.JPEG, p.Width, p.Height)
	wantClean(t, name+", small", p.Thumb, p.ThumbWidth, p.ThumbHeight)
	if len(p.Sum) != 64 {
		t.Errorf("%s: sum %q", name, p.Sum)
	}
	return p
}

// wantClean asserts that a file is a JPEG of the size, with no segment but those that a picture needs, and nothing behind its end.
func wantClean(t testing.TB, name string, b []byte, w, h int) {
	t.Helper()
	m, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if s := m.Bounds().Size(); s != image.Pt(w, h) {
		t.Errorf("%s: is %v, said %d by %d", name, s, w, h)
	}
	if bytes.Contains(b, []byte("SECRET")) || bytes.Contains(b, []byte("script")) || bytes.Contains(b, []byte("Exif")) {
		t.Errorf("%s: something survived", name)
	}
	seen := ""
	for i := 2; ; {
		if b[i] != 0xff {
			t.Fatalf("%s: no marker at %d", name, i)
		}
		seen += fmt.Sprintf("%02x ", b[i+1])
		i += 2 + int(binary.BigEndian.Uint16(b[i+2:]))
		if strings.HasSuffix(seen, "da ") {
			if end := bytes.Index(b[i:], []byte("\xff\xd9")); end != len(b)-i-2 {
				t.Errorf("%s: %d bytes behind the end", name, len(b)-i-2-end)
			}
			break
		}
	}
	if seen != "db c0 c4 da " {
		t.Errorf("%s: segments %s", name, seen)
	}
}

// at is the colour seen at a place given in hundredths of the picture.
func at(t *testing.T, b []byte, x, y int) color.RGBA {
	t.Helper()
	m, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	s := m.Bounds().Size()
	return color.RGBAModel.Convert(m.At(s.X*x/100, s.Y*y/100)).(color.RGBA)
}

// near allows what two rounds of JPEG change.
func near(a, b color.RGBA) bool {
	d := func(x, y uint8) bool { return max(x, y)-min(x, y) <= 6 }
	return d(a.R, b.R) && d(a.G, b.G) && d(a.B, b.B)
}

// Every orientation, in every file form and byte order that can say it: the corner where the stored first row and column are seen
// (CIPA DC-008, tag 0x0112) shows the stored first pixel, and the neighbours follow.
func TestUprightAndClean(t *testing.T) {
	// Where row 0 and column 0 are seen; index: orientation.
	seen := []struct{ row, column string }{1: {"top", "left"}, {"top", "right"}, {"bottom", "right"}, {"bottom", "left"},
		{"left", "top"}, {"right", "top"}, {"right", "bottom"}, {"left", "bottom"}}
	opposite := map[string]string{"top": "bottom", "bottom": "top", "left": "right", "right": "left"}
	corner := func(a, b string) (x, y int) {
		place := map[string]int{"left": 25, "right": 75, "top": 25, "bottom": 75}
		if a == "left" || a == "right" {
			a, b = b, a
		}
		return place[b], place[a]
	}
	m := quarters(320, 200)
	plainJPEG, plainPNG := asJPEG(t, m), asPNG(t, m)
	checked := 0
	for o := uint16(1); o <= 8; o++ {
		files := map[string][]byte{
			"JPEG":                laden(plainJPEG, o),
			"JPEG, Motorola":      append(append([]byte{0xff, 0xd8}, segment(0xe1, append([]byte("Exif\x00\x00"), exif(binary.BigEndian, o)...))...), plainJPEG[2:]...),
			"PNG":                 withChunk(withChunk(plainPNG, chunk("tEXt", []byte("Comment\x00SECRET"))), chunk("eXIf", exif(binary.BigEndian, o))),
			"PNG, later chunk":    withChunk(withChunk(plainPNG, chunk("eXIf", exif(binary.LittleEndian, o))), chunk("tEXt", []byte("Comment\x00SECRET"))),
			"JPEG, filling bytes": append(append([]byte{0xff, 0xd8, 0xff}, segment(0xe1, append([]byte("Exif\x00\x00"), exif(binary.BigEndian, o)...))...), plainJPEG[2:]...),
		}
		for name, b := range files {
			name = fmt.Sprintf("%s, orientation %d", name, o)
			p := mustTake(t, name, b)
			if want := (o >= 5); want != (p.Width == 200 && p.Height == 320) {
				t.Errorf("%s: %d by %d", name, p.Width, p.Height)
			}
			s := seen[o]
			for _, c := range []struct {
				row, column string
				want        color.RGBA
			}{
				{s.row, s.column, red}, {s.row, opposite[s.column], green},
				{opposite[s.row], s.column, blue}, {opposite[s.row], opposite[s.column], yellow},
			} {
				x, y := corner(c.row, c.column)
				for _, file := range [][]byte{p.JPEG, p.Thumb} {
					if got := at(t, file, x, y); !near(got, c.want) {
						t.Errorf("%s: at %d %d %v, want %v", name, x, y, got, c.want)
					}
					checked++
				}
			}
		}
	}
	if checked != 8*5*4*2 {
		t.Errorf("%d places checked", checked)
	}
}

// WebP: lossless, extended with EXIF and XMP, and lossy with and without alpha from a browser's own encoder (the testdata, drawn for
// this: a green board with two dark packages and a red round part; without background in the second).
func TestWebP(t *testing.T) {
	turned := mustTake(t, "turned", riff("VP8X", vp8x(0x08|0x04, 300, 100), "VP8L", lossless(300, 100, blue),
		"EXIF", exif(binary.LittleEndian, 6), "XMP ", []byte("<SECRET/>")))
	if turned.Width != 100 || turned.Height != 300 || !near(at(t, turned.JPEG, 50, 50), blue) {
		t.Errorf("%d by %d %v", turned.Width, turned.Height, at(t, turned.JPEG, 50, 50))
	}
	prefixed := mustTake(t, "prefixed", riff("VP8X", vp8x(0x08, 300, 100), "VP8L", lossless(300, 100, green),
		"EXIF", append([]byte("Exif\x00\x00"), exif(binary.BigEndian, 8)...)))
	if prefixed.Width != 100 || !near(at(t, prefixed.JPEG, 50, 50), green) {
		t.Errorf("%d by %d", prefixed.Width, prefixed.Height)
	}
	for name, background := range map[string]color.RGBA{"lossy.webp": {0x1d, 0x6b, 0x3a, 255}, "lossy-alpha.webp": {255, 255, 255, 255}} {
		b, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		p := mustTake(t, name, b)
		if p.Width != 96 || p.Height != 64 || !near(at(t, p.JPEG, 95, 95), background) || !near(at(t, p.JPEG, 77, 50), color.RGBA{0xb0, 0x30, 0x30, 255}) {
			t.Errorf("%s: %d by %d, %v, %v", name, p.Width, p.Height, at(t, p.JPEG, 95, 95), at(t, p.JPEG, 77, 50))
		}
	}
}

// 40 megapixels from a camera: as ordinary JPEG, progressive JPEG, PNG and WebP. Memory and sizes are bounded.
func TestFortyMegapixels(t *testing.T) {
	const w, h = 7304, 5478
	m := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	for y := range h {
		row := m.Y[y*m.YStride:][:m.YStride]
		if y%64 > 0 {
			copy(row, m.Y[(y-1)*m.YStride:])
			continue
		}
		for x := range row {
			row[x] = uint8(x*255/w ^ (y/64)&31)
		}
	}
	for x := range m.CStride {
		m.Cb[x], m.Cr[x] = uint8(x*255/m.CStride), 128
	}
	for i := m.CStride; i < len(m.Cb); i += m.CStride {
		copy(m.Cb[i:i+m.CStride], m.Cb)
		copy(m.Cr[i:i+m.CStride], m.Cr)
	}
	paletted := image.NewPaletted(image.Rect(0, 0, w, h), color.Palette{green, blue})
	files := map[string][]byte{"JPEG": laden(asJPEG(t, m), 6), "progressive JPEG": progressive(w, h), "PNG": asPNG(t, paletted),
		"WebP": riff("VP8L", lossless(w, h, yellow))}
	m, paletted = nil, nil
	checked := 0
	for name, b := range files {
		if name == "JPEG" && len(b) < 1<<20 {
			t.Fatalf("the sample has only %d bytes", len(b))
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		began := time.Now()
		p := mustTake(t, name, b)
		took := time.Since(began)
		runtime.ReadMemStats(&after)
		used := (after.TotalAlloc - before.TotalAlloc) >> 20
		t.Logf("%s: %v, %d MB in all, kept %d and %d bytes", name, took.Round(time.Millisecond), used, len(p.JPEG), len(p.Thumb))
		if used > 800 {
			t.Errorf("%s took %d MB", name, used)
		}
		long, short := max(p.Width, p.Height), min(p.Width, p.Height)
		if long != 2560 || short != 1920 || max(p.ThumbWidth, p.ThumbHeight) != 480 || min(p.ThumbWidth, p.ThumbHeight) != 360 {
			t.Errorf("%s: %d by %d, %d by %d", name, p.Width, p.Height, p.ThumbWidth, p.ThumbHeight)
		}
		if (name == "JPEG") != (p.Height > p.Width) {
			t.Errorf("%s lies on its side", name)
		}
		checked++
	}
	if checked != 4 {
		t.Error(checked)
	}
}

// Files that say they are enormous are refused by what they say, before any pixel is made.
func TestBombs(t *testing.T) {
	pageless := make([]byte, 8)
	checked := 0
	for name, b := range map[string][]byte{
		"PNG of 10^9 pixels":             headPNG(50_000, 20_000, 8, 2, 0),
		"PNG a pixel high":               headPNG(2_000_000_000, 1, 1, 0, 0),
		"PNG with too long an edge":      headPNG(70_000, 1, 1, 0, 0),
		"PNG of 16 bits":                 headPNG(10_000, 10_000, 16, 6, 0),
		"PNG of 16 bits, interlaced":     headPNG(9_000, 8_000, 16, 6, 1),
		"JPEG of the largest size":       progressive(65500, 65500)[:1000],
		"JPEG whose coefficients are it": progressive(9000, 9000),
		"WebP of the largest size":       riff("VP8L", lossless(16384, 16384, red)),
		"WebP, extended":                 riff("VP8X", vp8x(0, 1<<24, 100), "VP8L", lossless(10, 10, red)),
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := take(append(bytes.Clone(b), pageless...))
		runtime.ReadMemStats(&after)
		var r *Refused
		if !errors.As(err, &r) || r.Reason != TooLarge || !strings.Contains(r.Message, "pixels") || r.WayOut == "" {
			t.Errorf("%s: %v", name, err)
		}
		if used := (after.TotalAlloc - before.TotalAlloc) >> 20; used > 8 {
			t.Errorf("%s took %d MB to refuse", name, used)
		}
		checked++
	}
	if checked != 9 {
		t.Error(checked)
	}
	// A small header before a large picture: the decoder itself refuses.
	var r *Refused
	if _, err := take(riff("VP8X", vp8x(0, 10, 10), "VP8L", lossless(16384, 16384, red))); !errors.As(err, &r) || r.Reason != Damaged {
		t.Errorf("small header, large picture: %v", err)
	}
}

// What is no photo is named for what it is, whatever its name says.
func TestNamesWhatItReallyIs(t *testing.T) {
	checked := 0
	for content, says := range map[string]string{
		"%PDF-1.7\n%\xe2\xe3":                                "a PDF document",
		"GIF89a\x01\x00\x01\x00":                             "a GIF picture",
		"<svg xmlns='http://www.w3.org/2000/svg'/>":          "a drawing in SVG",
		"<?xml version='1.0'?>\n<!-- x --><SVG onload='x'/>": "a drawing in SVG",
		"\xef\xbb\xbf <!DOCTYPE html><script>":               "a web page",
		"<html><body>":                                       "a web page",
		"<?xml version='1.0'?><a/>":                          "a text (XML)",
		"Pin 5 is stuck low.\n":                              "a text",
		"\x00\x00\x00\x18ftypheic\x00\x00":                   "HEIC",
		"\x00\x00\x00\x18ftypmif1\x00\x00":                   "HEIC",
		"\x00\x00\x00\x18ftypavif\x00\x00":                   "AVIF",
		"\x00\x00\x00\x18ftypisom\x00\x00":                   "a film",
		"\x00\x00\x00\x18ftypcrx \x00\x00":                   "raw file",
		"II*\x00\x08\x00\x00\x00":                            "TIFF",
		"MM\x00*\x00\x00\x00\x08":                            "TIFF",
		"BM\x00\x00":                                         "BMP",
		"PK\x03\x04":                                         "an archive",
		"\x1f\x8b\x08":                                       "an archive",
		"MZ\x90\x00":                                         "a program",
		"RIFF\x00\x00\x00\x00AVI LIST":                       "a film",
		"\x00\x01\x02\x03\x04":                               "no photo of a kind",
		"\xff\xd8":                                           "no photo of a kind",
		string(riff("VP8X", vp8x(2, 10, 10), "ANIM", make([]byte, 6))): "an animation",
	} {
		_, err := take([]byte(content))
		var r *Refused
		if !errors.As(err, &r) || r.Reason != NotAPhoto || !strings.Contains(r.Message, says) || r.WayOut == "" {
			t.Errorf("%q: %v, want %s", content, err, says)
		}
		checked++
	}
	if checked != 23 {
		t.Error(checked)
	}
}

// Cut anywhere, a file is refused in words or, when only its last bytes are missing, taken; it never breaks the program.
func TestCutAnywhere(t *testing.T) {
	m := quarters(64, 48)
	lossy, err := os.ReadFile("testdata/lossy-alpha.webp")
	if err != nil {
		t.Fatal(err)
	}
	taker := New(Limits{})
	refused, taken := 0, 0
	for _, b := range [][]byte{laden(asJPEG(t, m), 3), withChunk(asPNG(t, m), chunk("eXIf", exif(binary.BigEndian, 3))), lossy, progressive(64, 64)} {
		for n := range b {
			p, err := taker.Take(context.Background(), bytes.NewReader(b[:n]))
			var r *Refused
			switch {
			case err == nil && p != nil:
				taken++
			case errors.As(err, &r) && r.Message != "" && r.WayOut != "":
				refused++
			default:
				t.Fatalf("%d bytes: %v", n, err)
			}
		}
	}
	if refused < 3000 || taken > 300 {
		t.Errorf("%d refused, %d taken", refused, taken)
	}
}

func TestOrientationOfNonsense(t *testing.T) {
	good := exif(binary.LittleEndian, 6)
	if orientationTIFF(good) != 6 {
		t.Fatal("the sample is wrong")
	}
	checked := 0
	for n := range good {
		if o := orientationTIFF(good[:n]); o != 1 && o != 6 || n < 34 && o != 1 {
			t.Errorf("%d bytes: %d", n, o)
		}
		checked++
	}
	for _, v := range []uint16{0, 9, 65535} {
		if o := orientationTIFF(exif(binary.BigEndian, v)); o != 1 {
			t.Errorf("%d: %d", v, o)
		}
		checked++
	}
	for _, change := range []struct {
		at int
		to byte
	}{{0, 'M'}, {2, 0}, {4, 0xff}, {7, 0xff}, {4, 4}, {24, 4}, {26, 2}} {
		b := bytes.Clone(good)
		b[change.at] = change.to
		if o := orientationTIFF(b); o != 1 {
			t.Errorf("byte %d: %d", change.at, o)
		}
		checked++
	}
	if checked != len(good)+10 {
		t.Error(checked)
	}
}

// The mean of the area, exactly: sums are kept, no pixel is shifted.
func TestShrink(t *testing.T) {
	m := image.NewGray(image.Rect(5, 7, 5+3, 7+2)) // bounds that do not begin at 0
	copy(m.Pix, []byte{0, 60, 240, 30, 90, 210})
	got, err := shrink(context.Background(), m, image.Pt(2, 1))
	if err != nil {
		t.Fatal(err)
	}
	// Columns 1.5 wide, rows 2 high: (0 + 60/2 + 30 + 90/2)/3 and (60/2 + 240 + 90/2 + 210)/3.
	if got.Pix[0] != 35 || got.Pix[4] != 175 || got.Pix[3] != 255 {
		t.Error(got.Pix)
	}
	alpha := image.NewNRGBA(image.Rect(0, 0, 2, 2))
	copy(alpha.Pix, []byte{255, 0, 0, 255, 9, 9, 9, 0, 0, 0, 255, 255, 9, 9, 9, 0})
	got, err = shrink(context.Background(), alpha, image.Pt(1, 1))
	if err != nil || got.Pix[0] != 191 || got.Pix[1] != 128 || got.Pix[2] != 191 {
		t.Error(got.Pix, err)
	}
	checked := 0
	for _, c := range []struct{ w, h, edge, wantW, wantH int }{{7304, 5478, 2560, 2560, 1920}, {100, 50, 480, 100, 50}, {1, 65535, 480, 1, 480},
		{65535, 2, 2560, 2560, 1}, {2561, 2560, 2560, 2560, 2559}} {
		if s := scaled(image.Pt(c.w, c.h), c.edge); s != image.Pt(c.wantW, c.wantH) {
			t.Errorf("%d by %d: %v", c.w, c.h, s)
		}
		checked++
	}
	if checked != 5 {
		t.Error(checked)
	}
}

func TestLimitsOfOneFile(t *testing.T) {
	small := New(Limits{Bytes: 1 << 20, Pixels: 1_000_000})
	var r *Refused
	if _, err := small.Take(context.Background(), io.LimitReader(zeros{}, 1<<40)); !errors.As(err, &r) || r.Reason != TooLarge || !strings.Contains(r.Message, "1 MB") {
		t.Error(err)
	}
	if _, err := small.Take(context.Background(), bytes.NewReader(headPNG(1001, 1000, 1, 0, 0))); !errors.As(err, &r) || r.Reason != TooLarge {
		t.Error(err)
	}
	if _, err := take(nil); !errors.As(err, &r) || r.Reason != Incomplete {
		t.Error(err)
	}
	if _, err := small.Take(context.Background(), iotest.ErrReader(io.ErrUnexpectedEOF)); !errors.As(err, &r) || r.Reason != Incomplete {
		t.Error(err)
	}
	broken := errors.New("the line is dead")
	if _, err := small.Take(context.Background(), iotest.ErrReader(broken)); !errors.Is(err, broken) {
		t.Error(err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// A client that has gone away ends the work: while it waits for its turn, while the file is read, while it is decoded.
func TestEndsWithContext(t *testing.T) {
	taker := New(Limits{})
	b := asJPEG(t, quarters(3000, 2000))
	taker.turn <- struct{}{} // someone else's turn
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	if _, err := taker.Take(ctx, bytes.NewReader(b)); !errors.Is(err, context.DeadlineExceeded) {
		t.Error(err)
	}
	<-taker.turn
	done, stop := context.WithCancel(context.Background())
	stop()
	if _, err := taker.Take(done, bytes.NewReader(b)); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if _, err := taker.make(done, b); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if _, err := shrink(done, quarters(10, 10), image.Pt(5, 5)); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	// Its time is up, though nobody has gone away.
	var r *Refused
	if _, err := New(Limits{Time: time.Nanosecond}).Take(context.Background(), bytes.NewReader(b)); !errors.As(err, &r) || r.Reason != Damaged || !strings.Contains(r.Message, "longer than") {
		t.Error(err)
	}
	if len(taker.turn) != 0 || len(taker.files) != 0 {
		t.Error("a place was not given back")
	}
}

// Many at once: one is decoded at a time, a few are in memory, all come out, the same bytes from the same file.
func TestManyAtOnce(t *testing.T) {
	taker := New(Limits{})
	b := asJPEG(t, quarters(1200, 900))
	var mu sync.Mutex
	reading, most := 0, 0
	var all sync.WaitGroup
	sums := map[string]int{}
	for range 20 {
		all.Go(func() {
			r := &watched{r: bytes.NewReader(b), first: func() { mu.Lock(); reading++; most = max(most, reading, len(taker.files)); mu.Unlock() },
				last: func() { mu.Lock(); reading--; mu.Unlock() }}
			p, err := taker.Take(context.Background(), r)
			if err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			sums[p.Sum]++
			mu.Unlock()
		})
	}
	all.Wait()
	if len(sums) != 1 || most < 1 || most > arrive {
		t.Errorf("%d results, %d read at once", len(sums), most)
	}
	for _, n := range sums {
		if n != 20 {
			t.Errorf("%d came out", n)
		}
	}
}

type watched struct {
	r           io.Reader
	first, last func()
	begun       bool
}

func (w *watched) Read(p []byte) (int, error) {
	if !w.begun {
		w.begun = true
		w.first()
	}
	n, err := w.r.Read(p)
	if err == io.EOF {
		w.last()
	}
	return n, err
}

// Whatever is sent, the answer is a clean photo within the limits or a refusal in words.
func FuzzTake(f *testing.F) {
	m := quarters(24, 16)
	f.Add(laden(asJPEG(f, m), 6))
	f.Add(withChunk(asPNG(f, m), chunk("eXIf", exif(binary.BigEndian, 3))))
	f.Add(riff("VP8X", vp8x(8, 30, 10), "VP8L", lossless(30, 10, blue), "EXIF", exif(binary.LittleEndian, 5)))
	f.Add(progressive(40, 30))
	f.Add(headPNG(3, 3, 16, 6, 1))
	for _, name := range []string{"lossy.webp", "lossy-alpha.webp"} {
		b, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte("%PDF-1.4"))
	f.Add([]byte("<svg/>"))
	f.Add([]byte{})
	taker := New(Limits{Bytes: 1 << 20, Pixels: 250_000, Memory: 4 << 20, Edge: 64, Thumb: 16, Time: 20 * time.Second})
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := taker.Take(context.Background(), bytes.NewReader(b))
		if err != nil {
			var r *Refused
			if !errors.As(err, &r) || r.Message == "" || r.WayOut == "" || r.Reason < TooLarge || r.Reason > Incomplete {
				t.Fatal(err)
			}
			return
		}
		if max(p.Width, p.Height) > 64 || max(p.ThumbWidth, p.ThumbHeight) > 16 || min(p.Width, p.Height, p.ThumbWidth, p.ThumbHeight) < 1 {
			t.Errorf("%d by %d, %d by %d", p.Width, p.Height, p.ThumbWidth, p.ThumbHeight)
		}
		wantClean(t, "kept", p.JPEG, p.Width, p.Height)
		wantClean(t, "small", p.Thumb, p.ThumbWidth, p.ThumbHeight)
	})
}
