package importer

// Bytes that are not as they should be: encodings, line ends, cut files, files of 50 MB.

import (
	"encoding/binary"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"golang.org/x/tools/txtar"

	"halfsplit/internal/core/finding"
)

// sound are files of the corpus without a mistake in them, one for each format.
func sound(t testing.TB) map[Format]File {
	t.Helper()
	out := map[Format]File{}
	for archive, format := range map[string]Format{"bench-s27": Bench, "verilog-hierarchy": Verilog, "edif": EDIF, "ipc356": IPC356, "pins-plain": PinList, "bom-alone": BOM} {
		a, err := txtar.ParseFile(filepath.Join("testdata/corpus", archive+".txtar"))
		if err != nil {
			t.Fatal(err)
		}
		out[format] = File{a.Files[0].Name, a.Files[0].Data}
	}
	return out
}

func wide(text string, order binary.AppendByteOrder, mark bool) []byte {
	var out []byte
	if mark {
		out = order.AppendUint16(out, 0xFEFF)
	}
	for _, u := range utf16.Encode([]rune(text)) {
		out = order.AppendUint16(out, u)
	}
	return out
}

func TestEncodingsAndLineEnds(t *testing.T) {
	checked := 0
	for format, f := range sound(t) {
		_, want := read(t, f)
		text := string(f.Data)
		lines := strings.SplitAfter(text, "\n")
		mixed := ""
		for i, l := range lines {
			mixed += strings.TrimSuffix(l, "\n")
			if strings.HasSuffix(l, "\n") {
				mixed += []string{"\r\n", "\n", "\r"}[i%3]
			}
		}
		for what, data := range map[string][]byte{
			"CR LF": []byte(strings.ReplaceAll(text, "\n", "\r\n")), "CR": []byte(strings.ReplaceAll(text, "\n", "\r")), "mixed": []byte(mixed),
			"mark": []byte("\uFEFF" + text), "UTF-16LE": wide(text, binary.LittleEndian, true), "UTF-16BE": wide(text, binary.BigEndian, true),
			"UTF-16LE without a mark": wide(text, binary.LittleEndian, false), "UTF-16BE without a mark": wide(text, binary.BigEndian, false),
		} {
			res, got := read(t, File{f.Name, data})
			if got != want || res.Files[0].Format != format {
				t.Errorf("%s as %s (%s):\n%s\nwant\n%s", f.Name, what, res.Files[0].Format, got, want)
			}
			checked++
		}
	}
	if checked != 48 {
		t.Errorf("%d files checked", checked)
	}
}

func TestWindows1252(t *testing.T) {
	res, board := read(t, File{"pins.csv", []byte("ref;pin;net\nU1;1;A\rU1;2;B\xB5\r\nU1;3;C\x80\n")})
	if !strings.Contains(board, "Bµ") || !strings.Contains(board, "C€") {
		t.Errorf("%s", board)
	}
	if !slices.ContainsFunc(res.Findings, func(f finding.Finding) bool { return f.Pos.Line == 3 && strings.Contains(f.Text, "B5 is not UTF-8") }) {
		t.Errorf("%v", res.Findings)
	}
}

func TestControlCharacters(t *testing.T) {
	res, board := read(t, File{"c.bench", []byte("INPUT(a)\nINPUT(b)\nOUTPUT(z)\nz = NAND(a,\x00b)\n")})
	if !strings.Contains(board, "[z, a, b]") || len(res.Findings) != 1 || res.Findings[0].Pos.Line != 4 {
		t.Errorf("%s%v", board, res.Findings)
	}
	for _, data := range []string{"", "\n\n", "\x00\x01\x02\x03PK\x05\x06\x00\x00\x00\x12", strings.Repeat("\x7FELF\x02\x01", 100)} {
		if res, _ := read(t, File{"x", []byte(data)}); res.Board != nil || !res.Findings.Errors() {
			t.Errorf("%q: %v", data, res.Findings)
		}
	}
}

// A file that is cut off anywhere keeps what comes before the cut; where the format has an end, that it is missing is an error with a line.
func TestCutOff(t *testing.T) {
	checked, missing := 0, 0
	for format, f := range sound(t) {
		whole := strings.TrimRight(string(f.Data), "\n")
		before := 0
		for at := 1; at < len(whole); at += 7 {
			res, _ := read(t, File{f.Name, []byte(whole[:at])})
			checked++
			pins := 0
			if res.Board != nil {
				for _, p := range res.Board.Parts {
					pins += len(p.Pins)
				}
			}
			ends := format == Verilog && !strings.HasSuffix(strings.TrimSpace(whole[:at]), "endmodule") || format == EDIF || format == IPC356
			switch {
			case pins < before-8: // a part that is cut has fewer pins; a whole one stays
				t.Errorf("%s cut at %d has %d pins, shorter it had %d", f.Name, at, pins, before)
			case ends && !res.Findings.Errors():
				t.Errorf("%s cut at %d: no error", f.Name, at)
			case ends:
				missing++
				for _, e := range res.Findings.Only(finding.Error) {
					if e.Pos.Line < 1 {
						t.Errorf("%s cut at %d: no line: %v", f.Name, at, e)
					}
				}
			}
			if format != EDIF && format != Verilog { // where the top module is only known at the end, an earlier one is shown
				before = max(before, pins)
			}
		}
	}
	if checked < 500 || missing < 300 {
		t.Errorf("%d cuts checked, %d of them with an end missing", checked, missing)
	}
}

// big makes 50 MB of a format.
func big(format Format) string {
	var b strings.Builder
	const size = 50 << 20
	b.Grow(size + 1024)
	line := map[Format]string{
		Bench:   "N%[1]d = NAND(N%[2]d, N%[3]d)\n",
		Verilog: "  nand G%[1]d (N%[1]d, N%[2]d, N%[3]d);\n",
		EDIF:    "(instance U%[1]d (viewRef v (cellRef nand2)))\n(net N%[1]d (joined (portRef Y (instanceRef U%[1]d)) (portRef A (instanceRef U%[2]d))))\n",
		IPC356:  "317N%-13[2]d   U%-5[3]d-%-4[4]d D0320PA00X+010000Y+020000X0600Y0000R000 S0\n",
		PinList: "U%[3]d;%[4]d;N%[2]d\n",
		BOM:     "U%[1]d;74LS00;first lot\n",
	}
	head := map[Format]string{Bench: "INPUT(N0)\nOUTPUT(N1)\n", Verilog: "module big (N0, N1);\n input N0; output N1;\n",
		EDIF:   "(edif b (edifVersion 2 0 0) (library l (cell nand2 (view v (viewType NETLIST) (interface (port A) (port Y)))) (cell top (view v (viewType NETLIST) (interface) (contents\n",
		IPC356: "P  JOB BIG\nP  UNITS CUST 0\n", PinList: "part;pin;net\n", BOM: "ref;type;note\n"}
	b.WriteString(head[format])
	for i := 1; b.Len() < size; i++ {
		fmt.Fprintf(&b, strings.ReplaceAll(line[format], "%[", "%["), i, i/2, i/14, i%14+1)
		if format == BOM && i == 99_999 {
			i = 0 // references have five digits at most
		}
	}
	return b.String()
}

// A file of 50 MB is read within seconds and a bounded memory; a limit that it passes is an error with the line.
func TestFiftyMegabytes(t *testing.T) {
	for _, format := range []Format{Bench, Verilog, EDIF, IPC356, PinList, BOM} {
		data := []byte(big(format))
		runtime.GC()
		var before runtime.MemStats
		runtime.ReadMemStats(&before)
		peak, done := uint64(0), make(chan struct{})
		stopped := make(chan struct{})
		go func() {
			defer close(stopped)
			for {
				select {
				case <-done:
					return
				case <-time.After(20 * time.Millisecond):
					var m runtime.MemStats
					runtime.ReadMemStats(&m)
					peak = max(peak, m.HeapAlloc)
				}
			}
		}()
		began := time.Now()
		lib, _ := library()
		res := Import([]File{{"big", data}}, lib)
		took := time.Since(began)
		close(done)
		<-stopped
		grown := (float64(peak) - float64(before.HeapAlloc)) / (1 << 20)
		t.Logf("%s: %.1f s, %.0f MiB on top, %d findings", format, took.Seconds(), grown, len(res.Findings))
		if took > 20*time.Second || grown > 1024 {
			t.Errorf("%s: %.1f s, %.0f MiB", format, took.Seconds(), grown)
		}
		if res.Files[0].Format != format || res.Board == nil || len(res.Board.Parts) < 10_000 {
			t.Fatalf("%s: taken for %s, board %v, %v", format, res.Files[0].Format, res.Board != nil, res.Findings[:min(3, len(res.Findings))])
		}
		limit := false
		for _, f := range res.Findings.Only(finding.Error) {
			limit = limit || strings.HasPrefix(f.Text, "the rest is left out: more than") && f.Pos.Line > 1000
		}
		if !limit {
			t.Errorf("%s: no limit named with its line: %v", format, res.Findings[:min(5, len(res.Findings))])
		}
	}
}
