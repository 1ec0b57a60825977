package importer

// Whatever the bytes: no panic, places inside the file, a board that can be written and read back, and the same answer twice.

import (
	"bytes"
	"path/filepath"
	"testing"

	"golang.org/x/tools/txtar"
)

func FuzzImport(f *testing.F) {
	paths, err := filepath.Glob("testdata/corpus/*.txtar")
	if err != nil {
		f.Fatal(err)
	}
	n := 0
	for _, p := range paths {
		a, err := txtar.ParseFile(p)
		if err != nil {
			f.Fatal(err)
		}
		for _, file := range a.Files {
			if filepath.Dir(file.Name) == "." {
				f.Add(file.Data)
				n++
			}
		}
	}
	if n < 15 {
		f.Fatalf("%d seeds", n)
	}
	for _, s := range []string{"\xFF\xFE(\x00e\x00d\x00i\x00f\x00", "(edif((((((((", "(edif a(design \"", "module m(\\", "module m;wire[9:0]a;assign{2{a}}=4'bz;endmodule", "U1;\"1;A\nU1;2;\"\"\n",
		"P  NNAME\n317", "317A                 U1    -1", "INPUT(=)\n=NOT()", "ref,pin,net\n,,\nU1,,\n-,1,-\n", "N: U1.1 U1.2\n N: U1(3)\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		res, board := read(t, File{"f", data})
		total := 1 + bytes.Count(data, []byte("\n")) + bytes.Count(data, []byte("\r"))
		for _, x := range res.Findings {
			if x.Pos.Line > total && wideLines(data) == 0 {
				t.Fatalf("line %d of %d: %v", x.Pos.Line, total, x)
			}
		}
		if _, again := read(t, File{"f", data}); again != board {
			t.Fatalf("%s\nand then\n%s", board, again)
		}
	})
}

// wideLines is 1 for UTF-16, whose line ends are other bytes.
func wideLines(data []byte) int {
	if _, wide := wideText(data); wide {
		return 1
	}
	return 0
}
