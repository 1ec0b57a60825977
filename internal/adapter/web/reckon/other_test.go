package reckon_test

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"
	"testing"
)

// A column whose keys are all dead is an open column, typed and from a board.
func TestKeys(t *testing.T) {
	s := open(t)
	code, page := s.get("/reckon/keys?rows=4&columns=4&dead=2,6,10,14&held=1,2,5&nodiodes=1")
	if code != 200 || !hasAnswer(page) {
		t.Fatal(code)
	}
	has(t, "keys", page, "Column 1 is open before its first key", "1,2,5 held together bring: <strong>6</strong>", "dead")
	code, page = s.get(fmt.Sprintf("/reckon/keys?job=%d&dead=SW1,SW5,SW9", s.job))
	if code != 200 {
		t.Error(code)
	}
	has(t, "keys of the board", page, "COL1 is open", "SW12 is no key of a matrix")
	n := 0
	for _, c := range []struct{ query, field, text string }{
		{"rows=x&columns=4", "rows", "x"}, {"rows=4", "columns", "How many columns"}, {"rows=4&columns=65", "columns", "65"}, {"rows=0&columns=4", "rows", "whole number"},
		{"rows=4&columns=4&dead=99", "dead", "No key 99"}, {"rows=4&columns=4&tried=1%2B2", "tried", "write the keys held"}, {"rows=4&columns=4&tried=1%3D77", "tried", "no key 77"},
		{"rows=4&columns=4&first=-3", "first", "-3"}, {"rows=4&columns=4&held=<script>", "held", "<script>"}, {"rows=4&columns=4&dead=1&stuck=1", "", "say one of them"},
	} {
		code, page := s.get("/reckon/keys?" + c.query)
		if code != 422 || hasAnswer(page) || !strings.Contains(page, `id="e-`+c.field+`">`) {
			t.Errorf("%s: %d", c.query, code)
		}
		has(t, c.query, page, c.text)
		n++
	}
	if code, page := s.get("/reckon/keys"); code != 200 || mistakeText.MatchString(page) {
		t.Error(code)
	}
	if n != 10 {
		t.Error(n)
	}
}

// A data bit that is low wherever the test looks is that line; a mistake is told with its line of the text.
func TestMemory(t *testing.T) {
	s := open(t)
	var reads strings.Builder
	for i := range 64 {
		fmt.Fprintf(&reads, "%03X FF FB\r\n", i*16)
	}
	code, page := s.post("/reckon/memory", url.Values{"words": {"1024"}, "chips": {"U5=0-3\nU6=4-7"}, "reads": {reads.String()}})
	if code != 200 || !hasAnswer(page) {
		t.Fatal(code, mistakeText.FindString(page))
	}
	has(t, "memory", page, "D2", "64 of 64 reads fail", "000 FF FB")
	code, page = s.post("/reckon/memory", url.Values{"job": {fmt.Sprint(s.job)}, "march": {"c-"}, "reads": {"M2 01F FF FE\nM4 01F FF FE"}})
	if code != 200 || !hasAnswer(page) {
		t.Fatal(code, mistakeText.FindString(page))
	}
	has(t, "memory of the board", page, "2048 words of 8 bits in U8", "cannot rise", "March C-: what it does", "finds 8 of 8 stuck-at faults")
	n := 0
	for _, c := range []struct {
		form        url.Values
		field, text string
	}{
		{url.Values{"words": {"many"}, "reads": {"1 2 3"}}, "words", `"many"`}, {url.Values{"reads": {"1 2 3"}}, "words", "how many"}, {url.Values{"words": {"64"}, "width": {"17"}, "reads": {"1 2 3"}}, "width", `"17"`},
		{url.Values{"words": {"64"}}, "reads", "Write the failing reads"}, {url.Values{"words": {"64"}, "reads": {"1 2 3\n<i>"}}, "reads", "line 2"}, {url.Values{"words": {"64"}, "chips": {"U5"}, "reads": {"1 2 3"}}, "chips", "U5"},
		{url.Values{"words": {"64"}, "reads": {"FFF 00 01"}}, "reads", "FFF"}, {url.Values{"words": {"64"}, "march": {"zz"}, "reads": {"1 2 3"}}, "reads", "no march test"},
	} {
		code, page := s.post("/reckon/memory", c.form)
		if code != 422 || hasAnswer(page) || !strings.Contains(page, `id="e-`+c.field+`">`) || strings.Contains(page, "<i>") {
			t.Errorf("%v: %d %s", c.form, code, mistakeText.FindString(page))
		}
		has(t, fmt.Sprint(c.form), page, c.text)
		for _, v := range c.form {
			has(t, "kept", page, v[0])
		}
		n++
	}
	if n != 8 {
		t.Error(n)
	}
}

// Bits that only rise are age; one dump alone is summed; nothing at all is told. File names are escaped.
func TestRoms(t *testing.T) {
	s := open(t)
	good := make([]byte, 2048)
	for i := range good {
		good[i] = byte(i*37 + 11*(i>>4))
	}
	bad := bytes.Clone(good)
	for i := range bad {
		if i%97 == 3 {
			bad[i] |= 0x10
		}
	}
	code, page := s.upload(good, bad)
	if code != 200 || !hasAnswer(page) || strings.Contains(page, "<b>") {
		t.Fatal(code, mistakeText.FindString(page))
	}
	has(t, "two dumps", page, "11 bytes differ", "losing charge", "good<b>.bin")
	code, page = s.upload(good, nil)
	if code != 200 || !hasAnswer(page) {
		t.Error(code)
	}
	has(t, "one dump", page, "2048", "CRC-32")
	if code, page := s.upload(good, good); code != 200 || !strings.Contains(page, "Both hold the same") {
		t.Error(code)
	}
	if code, page := s.upload(nil, nil); code != 422 || !strings.Contains(page, `id="e-good">Choose the dump`) {
		t.Error(code)
	}
	if code, page := s.upload(good, []byte(":0100000041BF\n:00000001FF\n")); code != 422 || !strings.Contains(page, `id="e-bad">Doubtful dump bad`) {
		t.Error(code, mistakeText.FindString(page))
	}
	if code, page := s.upload(good, []byte{}); code != 422 || !strings.Contains(page, `id="e-bad">`) {
		t.Error(code, mistakeText.FindString(page))
	}
	if code, _ := s.get("/reckon/roms"); code != 200 {
		t.Error(code)
	}
	if code, page := s.post("/reckon/roms", url.Values{"good": {"text"}}); code != 422 || !strings.Contains(page, `id="e-good">`) {
		t.Error(code)
	}
}

// A track with a hole in it is found worn there; readings that make no sense are told.
func TestSweep(t *testing.T) {
	s := open(t)
	code, page := s.get("/reckon/sweep?readings=" + url.QueryEscape("0 12\n10 1k\n20 2k\n30 3k\n40 4k\n50 open\n60 6k\n70 7k\n80 8k\n90 9k\n100 10k"))
	if code != 200 || !hasAnswer(page) {
		t.Fatal(code, mistakeText.FindString(page))
	}
	has(t, "sweep", page, "No contact at 50 %", "linear", "<svg")
	n := 0
	for _, c := range []struct{ readings, total, field, text string }{
		{"", "", "readings", "Write the readings"}, {"0 12\n<u>50 x", "", "readings", "<u>50"}, {"0 12", "", "readings", "Readings:"}, {"0 12\n50 5k\n75 7k\n100 10k", "lots", "total", `"lots"`},
	} {
		code, page := s.get("/reckon/sweep?" + url.Values{"readings": {c.readings}, "total": {c.total}}.Encode())
		if code != 422 || hasAnswer(page) || !strings.Contains(page, `id="e-`+c.field+`">`) || strings.Contains(page, "<u>") {
			t.Errorf("%q: %d %s", c.readings, code, mistakeText.FindString(page))
		}
		has(t, c.readings, page, c.text, c.readings)
		n++
	}
	if code, page := s.get("/reckon/sweep"); code != 200 || mistakeText.MatchString(page) || n != 4 {
		t.Error(code, n)
	}
}
