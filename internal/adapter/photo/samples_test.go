package photo

// Files that the tests send: made here byte by byte where no encoder is at hand, so that each says what it is for.

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
)

var (
	red    = color.RGBA{200, 30, 30, 255}
	green  = color.RGBA{30, 160, 40, 255}
	blue   = color.RGBA{30, 40, 200, 255}
	yellow = color.RGBA{230, 220, 40, 255}
)

// quarters is a picture with a colour in each corner: red top left, green top right, blue bottom left, yellow bottom right.
func quarters(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := red
			switch {
			case x >= w/2 && y >= h/2:
				c = yellow
			case x >= w/2:
				c = green
			case y >= h/2:
				c = blue
			}
			m.SetRGBA(x, y, c)
		}
	}
	return m
}

func asJPEG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// exif is EXIF data with an orientation, a maker's name before it and a place (GPS directory) after it.
func exif(order binary.AppendByteOrder, orientation uint16) []byte {
	b := []byte("II*\x00")
	if order == binary.BigEndian {
		b = []byte("MM\x00*")
	}
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 3)
	entry := func(tag, kind uint16, count uint32) {
		b = order.AppendUint16(b, tag)
		b = order.AppendUint16(b, kind)
		b = order.AppendUint32(b, count)
	}
	entry(0x010f, 2, 7)
	b = order.AppendUint32(b, 50)
	entry(0x0112, 3, 1)
	b = order.AppendUint16(b, orientation)
	b = order.AppendUint16(b, 0)
	entry(0x8825, 4, 1)
	b = order.AppendUint32(b, 57)
	b = order.AppendUint32(b, 0)
	return append(b, "SECRET\x00SECRET PLACE 52.5N 13.4E"...)
}

// segment is a JPEG segment.
func segment(marker byte, body []byte) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(body)+2)), body...)
}

// laden puts everything into a JPEG file that must not survive: EXIF with a place, XMP, a colour profile, a comment, a page behind the end.
func laden(b []byte, orientation uint16) []byte {
	out := bytes.Clone(b[:2])
	out = append(out, segment(0xe1, append([]byte("Exif\x00\x00"), exif(binary.LittleEndian, orientation)...))...)
	out = append(out, segment(0xe1, []byte("http://ns.adobe.com/xap/1.0/\x00<x:SECRET/>"))...)
	out = append(out, segment(0xe2, []byte("ICC_PROFILE\x00\x01\x01SECRET"))...)
	out = append(out, segment(0xed, []byte("Photoshop 3.0\x00SECRET"))...)
	out = append(out, segment(0xfe, []byte("SECRET <script>alert(1)</script>"))...)
	out = append(out, b[2:]...)
	return append(out, "<html>SECRET<script>alert(1)</script></html>"...)
}

// chunk is a PNG chunk.
func chunk(id string, body []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	b = append(append(b, id...), body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// headPNG is a PNG file that says its size and then ends; enough to be judged by.
func headPNG(w, h uint32, depth, kind, interlace byte) []byte {
	body := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	b := append([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", append(body, depth, kind, 0, 0, interlace))...)
	return append(b, chunk("IDAT", nil)...)
}

// withChunk puts a chunk after the header of a PNG file.
func withChunk(b []byte, c []byte) []byte {
	const header = 8 + 12 + 13
	return append(append(bytes.Clone(b[:header]), c...), b[header:]...)
}

// lossless is a WebP picture of one colour in its lossless form (RFC 9649, section 3): five prefix codes of one symbol each, so that the
// pixels take no bits at all, whatever their number. w and h up to 16384.
func lossless(w, h int, c color.RGBA) []byte {
	var bits uint64
	var n uint
	var b []byte
	put := func(v uint64, size uint) {
		bits |= v << n
		for n += size; n >= 8; n -= 8 {
			b = append(b, byte(bits))
			bits >>= 8
		}
	}
	put(0x2f, 8)
	put(uint64(w-1), 14)
	put(uint64(h-1), 14)
	put(0, 1+3)   // no alpha, version 0
	put(0, 1+1+1) // no transform, no colour cache, one set of codes
	for _, symbol := range []uint8{c.G, c.R, c.B, 255, 0} {
		put(1, 1) // simple code
		put(0, 1) // one symbol
		put(1, 1) // of 8 bits
		put(uint64(symbol), 8)
	}
	put(0, 16)
	return b
}

// riff is a WebP file of chunks, given as id, body, id, body.
func riff(pairs ...any) []byte {
	b := []byte("WEBP")
	for i := 0; i < len(pairs); i += 2 {
		body := pairs[i+1].([]byte)
		b = append(b, pairs[i].(string)...)
		b = binary.LittleEndian.AppendUint32(b, uint32(len(body)))
		b = append(b, body...)
		if len(body)%2 == 1 {
			b = append(b, 0)
		}
	}
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(b))), b...)
}

// vp8x is the extended header.
func vp8x(flags byte, w, h int) []byte {
	w, h = w-1, h-1
	return []byte{flags, 0, 0, 0, byte(w), byte(w >> 8), byte(w >> 16), byte(h), byte(h >> 8), byte(h >> 16)}
}

// progressive is a progressive JPEG in 4:4:4 of one grey: one scan of the mean values, each block one bit (ITU-T T.81, annex G).
func progressive(w, h int) []byte {
	out := []byte{0xff, 0xd8}
	table := append([]byte{0}, bytes.Repeat([]byte{1}, 64)...)
	out = append(out, segment(0xdb, table)...)
	frame := []byte{8, byte(h >> 8), byte(h), byte(w >> 8), byte(w), 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0}
	out = append(out, segment(0xc2, frame)...)
	// Code 0: no difference.
	out = append(out, segment(0xc4, append([]byte{0x00, 1}, append(make([]byte, 15), 0)...))...)
	out = append(out, segment(0xda, []byte{3, 1, 0x00, 2, 0x00, 3, 0x00, 0, 0, 0})...)
	blocks := (w + 7) / 8 * ((h + 7) / 8) * 3
	out = append(out, make([]byte, (blocks+7)/8)...)
	return append(out, 0xff, 0xd9)
}
