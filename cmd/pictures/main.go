// Command pictures takes the three pictures of the README anew: go run ./cmd/pictures. It starts the program over an empty folder, works on
// an invented machine in Chromium and writes docs/pictures/*.png. What they show depends on the program, and on the day in the report.
package main

import (
	"bytes"
	"cmp"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"log"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"halfsplit/internal/e2e"
)

// most is how large a picture may be, in bytes.
const most = 300_000

// stop is what a failed step throws, so that the browser and the program are ended before this command is.
type stop string

type witness struct{}

func (witness) Helper()                           {}
func (witness) Fatalf(format string, args ...any) { panic(stop(fmt.Sprintf(format, args...))) }

func main() {
	if err := run(filepath.Join("docs", "pictures")); err != nil {
		log.Fatal(err)
	}
}

func run(out string) (err error) {
	dir, err := os.MkdirTemp("", "halfsplit-pictures")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	defer func() {
		if r := recover(); r != nil {
			s, ok := r.(stop)
			if !ok {
				panic(r)
			}
			err = fmt.Errorf("%s", string(s))
		}
	}()
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	w := witness{}
	bin := e2e.Build(w, dir)
	server := e2e.Serve(w, bin, filepath.Join(dir, "data"), "127.0.0.1:0")
	defer server.Kill()
	browser, end := e2e.Open(w)
	defer end()
	desktop, _ := browser.Tab(w, server.URL, e2e.Size{Name: "desktop", W: 1440, H: 1640})
	phone, _ := browser.Tab(w, server.URL, e2e.Phone)
	desktop.Dark(false)
	phone.Dark(false)

	desktop.Go("/jobs")
	desktop.Choose("select[name=name]", "lift-panel/never-goes-up")
	desktop.Press("button", "Try it on this one")
	phone.Go("/jobs/1/safety")
	phone.Send(func() { phone.Press("button", "Read, and done") })
	phone.Go("/jobs/1/safety")
	e2e.Eval[bool](phone, `(document.querySelector("#c-charge").scrollIntoView(), scrollBy(0, 64), true)`) // past the hour of the tick above
	phone.Shot(out, "safety", false)
	for e2e.Eval[bool](phone, `[...document.querySelectorAll("button")].some(b => b.innerText.includes("Read, and done"))`) {
		phone.Send(func() { phone.Press("button", "Read, and done") })
	}

	desktop.Go("/jobs/1/terms")
	desktop.Fill("[name=rate]", "60")
	desktop.Fill("[name=currency]", "EUR")
	desktop.Fill("[name=limit]", "400")
	desktop.Send(func() { desktop.Press("button", "Save what was agreed") })
	desktop.Go("/jobs/1/probe")
	desktop.Press("summary", "On this bench") // a scope alone: its readings are answered by one tap
	desktop.Press("label", "Meter")
	desktop.Send(func() { desktop.Press("form[action$=have] button", "Keep") })
	desktop.Send(func() { desktop.Press("button", "Let the invented machine show") })
	probed := false
	for n := 0; e2e.Eval[bool](desktop, `!!document.querySelector(".card button[name=ask]")`); n++ {
		if n == 60 {
			w.Fatalf("the machine is not mended after %d checks", n)
		}
		if n >= 4 && !probed && e2e.Eval[bool](desktop, `document.querySelectorAll(".card .answers button").length >= 3 || `+fmt.Sprint(n > 6)) {
			probed = true
			desktop.Await(`[...document.querySelectorAll(".canvas svg")].length >= 2`)
			desktop.Shot(out, "probe", false)
		}
		desktop.Send(func() { desktop.Press(".card button[name=ask]", "") })
	}
	desktop.Go("/jobs/1/report")
	desktop.Shot(out, "report", false)

	for _, name := range []string{"probe", "safety", "report"} {
		file := filepath.Join(out, name+".png")
		if err := fewColours(file); err != nil {
			return err
		}
		i, err := os.Stat(file)
		if err != nil {
			return err
		}
		if i.Size() > most {
			return fmt.Errorf("%s has %d bytes, at most %d are allowed", file, i.Size(), most)
		}
		fmt.Printf("%s: %d kB\n", file, i.Size()/1000)
	}
	return nil
}

// fewColours writes a picture anew with its 256 most frequent colours, each other one as the nearest of them: a page has few, and many
// shades at the edges of letters.
func fewColours(file string) error {
	data, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	src, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return err
	}
	count := map[color.RGBA]int{}
	b := src.Bounds()
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(src.At(x, y)).(color.RGBA) }
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			count[at(x, y)]++
		}
	}
	order := slices.SortedFunc(maps.Keys(count), func(p, q color.RGBA) int {
		return cmp.Or(count[q]-count[p], int(p.R)-int(q.R), int(p.G)-int(q.G), int(p.B)-int(q.B))
	})
	var few color.Palette
	for _, c := range order[:min(256, len(order))] {
		few = append(few, c)
	}
	nearest := map[color.RGBA]uint8{}
	for c := range count {
		nearest[c] = uint8(few.Index(c))
	}
	dst := image.NewPaletted(b, few)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			dst.SetColorIndex(x, y, nearest[at(x, y)])
		}
	}
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, dst); err != nil {
		return err
	}
	return os.WriteFile(file, out.Bytes(), 0o644)
}
