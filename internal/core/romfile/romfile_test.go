package romfile

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"testing"
)

// The examples that stand in the public descriptions of the formats.
func TestPublishedExamples(t *testing.T) {
	hex := ":10010000214601360121470136007EFE09D2190140\n:100110002146017E17C20001FF5F16002148011928\n:10012000194E79234623965778239EDA3F01B2CAA7\n:100130003F0156702B5E712B722B732146013421C7\n:00000001FF\n"
	img, err := Read([]byte(hex))
	if err != nil || img.Format != IntelHex || img.Start != 0x100 || len(img.Data) != 64 || img.Data[0] != 0x21 || img.Data[63] != 0x21 || img.Gaps != 0 {
		t.Errorf("%+v %v", img, err)
	}
	srec := "S00F000068656C6C6F202020202000003C\nS11F00007C0802A6900100049421FFF07C6C1B787C8C23783C6000003863000026\nS11F001C4BFFFFE5398000007D83637880010014382100107C0803A64E800020E9\nS111003848656C6C6F20776F726C642E0A0042\nS5030003F9\nS9030000FC\n"
	img, err = Read([]byte(srec))
	if err != nil || img.Format != SRecord || img.Start != 0 || len(img.Data) != 70 || string(img.Data[56:68]) != "Hello world." {
		t.Errorf("%+v %v", img, err)
	}
}

// A segment record adds to the address, it is no bit pattern: segment 0001 and address 00F8 make 108.
func TestSegments(t *testing.T) {
	img, err := Read([]byte(":020000020001FB\n:0100F8005AAD\n:00000001FF\n"))
	if err != nil || img.Start != 0x108 || img.Data[0] != 0x5A {
		t.Errorf("%+v %v", img, err)
	}
}

func TestThereAndBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	n := 0
	for _, f := range []Format{IntelHex, SRecord} {
		for range 200 {
			data := make([]byte, 1+rng.IntN(300))
			for i := range data {
				data[i] = byte(rng.Uint32())
			}
			start := rng.IntN(1 << (1 + rng.IntN(20)))
			text, err := Write(f, start, data)
			if err != nil {
				t.Fatal(err)
			}
			img, err := Read(text)
			if err != nil || img.Format != f || img.Start != start || !bytes.Equal(img.Data, data) {
				t.Fatalf("%s from %X: %+v %v\n%s", f, start, img, err, text)
			}
			n++
		}
	}
	if n != 400 {
		t.Error(n)
	}
}

// Every single flipped hexadecimal digit of a file is refused, and so is every file that is cut off.
func TestDamageIsRefused(t *testing.T) {
	n := 0
	for _, f := range []Format{IntelHex, SRecord} {
		text, err := Write(f, 0x40, []byte("a memory of the time"))
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range text {
			if !strings.ContainsRune("0123456789ABCDEF", rune(c)) || f == SRecord && i > 0 && text[i-1] == 'S' {
				continue
			}
			bad := bytes.Clone(text)
			bad[i] = "0123456789ABCDEF0"[strings.IndexByte("0123456789ABCDEF", c)+1]
			if img, err := Read(bad); err == nil {
				t.Errorf("%s: digit %d changed and read as %+v", f, i, img)
			}
			n++
		}
		for cut := 12; cut < len(text)-1; cut++ {
			if img, err := Read(text[:cut]); err == nil {
				t.Errorf("%s cut at %d is read as %+v", f, cut, img)
			}
			n++
		}
	}
	if n < 250 {
		t.Error(n)
	}
}

func TestRawAndBad(t *testing.T) {
	raw := []byte{':', 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}
	if img, err := Read(raw); err != nil || img.Format != Raw || !bytes.Equal(img.Data, raw) {
		t.Errorf("%+v %v", img, err)
	}
	for _, s := range []string{"", ":00000001FF\n", ":0100000001FE\n:0100000002FD\n:00000001FF\n", ":0100000600F9\n:00000001FF\n", ":020000040FFFEC\n:0100000001FE\n:00000001FF\n",
		":00000001FF\n:0100000001FE\n", "S9030000FC\n", "S4030000FC\nS9030000FC\n", "S1020000\nS9030000FC"} {
		if img, err := Read([]byte(s)); err == nil {
			t.Errorf("%q: %+v", s, img)
		}
	}
	if _, err := Write(Raw, Largest, []byte{1}); err == nil {
		t.Error("beyond the largest address")
	}
	if _, err := Write("tape", 0, []byte{1}); err == nil {
		t.Error("tape")
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(":0100000001FE\n:00000001FF\n"))
	f.Add([]byte("S107003848656C6CF6\nS9030000FC\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		img, err := Read(data)
		if err != nil {
			return
		}
		if len(img.Data) == 0 || img.Start < 0 || img.Start+len(img.Data) > 3*Largest {
			t.Fatalf("%+v", img)
		}
	})
}
