package memtest

import (
	"bytes"
	"hash/crc32"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func content(n int, seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 1))
	out := make([]byte, n)
	for i := range out {
		out[i] = byte(rng.Uint32())
	}
	return out
}

// Check values: CRC-32 of "123456789" is CBF43926 in the published catalogues of CRCs.
func TestIdentify(t *testing.T) {
	if d := Identify([]byte("123456789")); d.CRC != 0xCBF43926 || d.Sum != 477 || d.CRC != crc32.ChecksumIEEE([]byte("123456789")) {
		t.Errorf("%+v", d)
	}
	if d := Identify([]byte{1, 0xFF, 2, 0xFF, 0xFF}); d.Blank != 2 {
		t.Errorf("%+v", d)
	}
}

// Every fault of the lines that is listed, made on random content with its own code, is named first and exactly; with a few more bytes spoilt it is still first.
func TestEveryLineFaultOfARom(t *testing.T) {
	good := content(1024, 2)
	n := 0
	check := func(kind, text string, f func(i int) byte) {
		bad := make([]byte, len(good))
		for i := range bad {
			bad[i] = f(i)
		}
		for _, spoil := range []bool{false, true} {
			if spoil {
				for _, i := range []int{17, 333, 700} {
					bad[i] ^= 0x5A
				}
			}
			c, err := Compare(good, bad)
			if err != nil || len(c.Causes) == 0 || c.Causes[0].Kind != kind || !strings.Contains(c.Causes[0].Text, text) || c.Causes[0].Exact == spoil {
				t.Errorf("%s %s (spoilt %v): %+v %v", kind, text, spoil, c.Causes, err)
			}
			n++
		}
	}
	names := func(l string, a, b int) string { return l + string(rune('0'+a)) + " and " + l + string(rune('0'+b)) }
	bit := func(v, b int) bool { return v>>b&1 == 1 }
	put := func(v, b int, on bool) int {
		if bit(v, b) != on {
			return v ^ 1<<b
		}
		return v
	}
	for a := range 10 {
		for _, on := range []bool{false, true} {
			word := map[bool]string{false: "low", true: "high"}[on]
			check("address-line-stuck", "A"+string(rune('0'+a))+" is stuck "+word, func(i int) byte { return good[put(i, a, on)] })
			if a < 8 {
				check("data-line-stuck", "D"+string(rune('0'+a))+" is stuck "+word, func(i int) byte { return byte(put(int(good[i]), a, on)) })
			}
		}
		check("halves-exchanged", "", func(i int) byte { return good[put(i, a, !bit(i, a))] })
		for b := a + 1; b < 10; b++ {
			check("address-lines-swapped", names("A", a, b), func(i int) byte { return good[put(put(i, a, bit(i, b)), b, bit(i, a))] })
			check("address-lines-shorted", names("A", a, b), func(i int) byte { return good[put(put(i, a, bit(i, a) && bit(i, b)), b, bit(i, a) && bit(i, b))] })
			if b < 8 {
				check("data-lines-swapped", names("D", a, b), func(i int) byte { v := int(good[i]); return byte(put(put(v, a, bit(v, b)), b, bit(v, a))) })
				check("data-lines-shorted", names("D", a, b), func(i int) byte {
					v := int(good[i])
					return byte(put(put(v, a, bit(v, a) || bit(v, b)), b, bit(v, a) || bit(v, b)))
				})
			}
		}
	}
	check("inverted", "", func(i int) byte { return 255 - good[i] })
	check("nibbles", "", func(i int) byte { return good[i]>>4 + good[i]<<4 })
	check("blank", "", func(int) byte { return 255 })
	check("zero", "", func(int) byte { return 0 })
	check("shifted", "3 bytes too late", func(i int) byte { return good[(i+1024-3)%1024] })
	check("shifted", "100 bytes too early", func(i int) byte { return good[(i+100)%1024] })
	if n != 2*(20+16+10+45+45+28+28+6) {
		t.Error(n)
	}
}

// Decay: bits that only rose are named as such, and never when one fell.
func TestDecay(t *testing.T) {
	good := content(4096, 3)
	bad := bytes.Clone(good)
	rng := rand.New(rand.NewPCG(4, 4))
	risen := 0
	for risen < 40 {
		i, b := rng.IntN(len(bad)), rng.IntN(8)
		if bad[i]>>b&1 == 0 {
			bad[i] |= 1 << b
			risen++
		}
	}
	c, err := Compare(good, bad)
	if err != nil || !c.OnlyRose || c.Causes[0].Kind != "decay" || !strings.Contains(c.Causes[0].Text, "40 bits") {
		t.Errorf("%+v %v", c, err)
	}
	i := slices.IndexFunc(bad, func(b byte) bool { return b&4 != 0 })
	bad[i] &^= 4
	if c, _ := Compare(good, bad); c.OnlyRose || slices.ContainsFunc(c.Causes, func(r RomCause) bool { return r.Kind == "decay" }) {
		t.Errorf("%+v", c)
	}
}

func TestSizes(t *testing.T) {
	good := content(2048, 5)
	c, err := Compare(good, append(bytes.Clone(good), good...))
	if err != nil || c.Different != 0 || c.Causes[0].Kind != "mirrored" || !c.Causes[0].Exact {
		t.Errorf("%+v %v", c, err)
	}
	c, err = Compare(good, good[1024:])
	if err != nil || c.Causes[0].Kind != "part" || !strings.Contains(c.Causes[0].Text, "from 400 on") {
		t.Errorf("%+v %v", c, err)
	}
	if c, err := Compare(good, good); err != nil || c.Different != 0 || len(c.Causes) != 0 {
		t.Errorf("%+v %v", c, err)
	}
	if _, err := Compare(nil, good); err == nil {
		t.Error("an empty dump is compared")
	}
}

func TestInspect(t *testing.T) {
	n := 0
	for _, c := range []struct {
		change func(d []byte)
		want   string
	}{
		{func(d []byte) {
			for i := range d {
				d[i] |= 8
			}
		}, "D3 always reads 1"},
		{func(d []byte) {
			for i := range d {
				d[i] &^= 1
			}
		}, "D0 always reads 0"},
		{func(d []byte) {
			for i := range d {
				d[i] = d[i]&^0x20 | d[i]<<1&0x20
			}
		}, "D4 and D5 always read the same"},
		{func(d []byte) { copy(d[512:], d[:512]) }, "A9 makes no difference"},
		{func(d []byte) { copy(d[1000:], bytes.Repeat([]byte{0xFF}, 24)) }, "the last 24 bytes are blank"},
		{func(d []byte) { copy(d, bytes.Repeat([]byte{0xFF}, 1024)) }, "blank: every byte reads FF"},
	} {
		d := content(1024, 6)
		d[999], d[1023] = 0, 0 // the content does not end in FF by chance
		if _, facts, err := Inspect(d); err != nil || len(facts) != 0 {
			t.Errorf("good content: %v %v", facts, err)
		}
		c.change(d)
		if _, facts, err := Inspect(d); err != nil || len(facts) == 0 || !strings.Contains(strings.Join(facts, "\n"), c.want) {
			t.Errorf("%v, want %s (%v)", facts, c.want, err)
		}
		n++
	}
	if n != 6 {
		t.Error(n)
	}
}

func FuzzCompare(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4}, []byte{1, 2, 3, 5})
	f.Fuzz(func(t *testing.T, a, b []byte) {
		if c, err := Compare(a, b); err == nil && (c.Different > len(a) || c.Good.Size != len(a)) {
			t.Errorf("%+v", c)
		}
		if len(a) > 0 {
			if _, _, err := Inspect(a); err != nil {
				t.Error(err)
			}
		}
	})
}
