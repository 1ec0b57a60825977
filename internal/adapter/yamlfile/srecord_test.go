package yamlfile

import (
	"strings"
	"testing"
)

// A memory's contents as S-records: bytes, what comes before them, and a wrong checksum with its line.
func TestContentsAsSRecords(t *testing.T) {
	read := func(text string) ([]byte, string) {
		b, fl := ParseBoard("b.yaml", []byte("board: T\nparts: {U1: {type: 2716, pins: {}, contents: a.s19}}"), func(string) ([]byte, error) { return []byte(text), nil })
		var said []string
		for _, f := range fl {
			said = append(said, f.String())
		}
		return b.Parts[0].Contents, strings.Join(said, "\n")
	}
	data, said := read("S107000041424344EE\nS9030000FC\n")
	if string(data) != "ABCD" || said != "" {
		t.Errorf("%q, %s", data, said)
	}
	data, said = read("S107000241424344EC\nS9030000FC\n")
	if string(data) != "\xff\xffABCD" || !strings.Contains(said, "begins at address 0002") {
		t.Errorf("%q, %s", data, said)
	}
	data, said = read("S107000041424344EF\nS9030000FC\n")
	if data != nil || !strings.Contains(said, "line 1") || !strings.Contains(said, "EE") {
		t.Errorf("%q, %s", data, said)
	}
	if data, said = read("ABCD"); data != nil || !strings.Contains(said, "S0 to S9") {
		t.Errorf("%q, %s", data, said)
	}
}
