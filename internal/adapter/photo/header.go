package photo

// The little that is read from the files by ourselves: which way up the photo is, and what decoding a JPEG will take. Everything is
// bounds-checked and nothing here can fail: what is not understood counts as upright, and as the most expensive form.

import (
	"bytes"
	"encoding/binary"
)

// jpegFacts is what stands in a JPEG file before the picture itself.
type jpegFacts struct {
	orientation int
	progressive bool
	eighths     int64 // bytes a pixel of all planes together, in eighths: 8 for grey, 12 for 4:2:0, 24 for 4:4:4
	four        bool  // four inks (CMYK)
}

// memory is what decoding takes: the planes; for the progressive form also every coefficient, 4 bytes each; for inks the mixed picture.
func (f jpegFacts) memory(pixels int64) int64 {
	need := f.eighths * pixels / 8
	if f.progressive {
		need *= 5
	}
	if f.four {
		need += 4 * pixels
	}
	return need
}

// walkJPEG goes from marker to marker (ITU-T T.81, annex B) up to the first scan.
func walkJPEG(b []byte) jpegFacts {
	f := jpegFacts{orientation: 1, progressive: true, eighths: 32, four: true}
	framed, turned := false, false
	for i := 2; i+4 <= len(b); {
		m := b[i+1]
		if b[i] != 0xff || m == 0xff || m == 0 {
			i++ // filling, or rubbish that decoders skip too
			continue
		}
		if m == 0x01 || m >= 0xd0 && m <= 0xd7 { // markers without content
			i += 2
			continue
		}
		end := i + 2 + int(binary.BigEndian.Uint16(b[i+2:]))
		if end < i+4 || end > len(b) || m == 0xda || m == 0xd9 { // broken, first scan, or end
			return f
		}
		body := b[i+4 : end]
		i = end
		switch {
		case m >= 0xc0 && m <= 0xc2 && !framed:
			framed = true
			f.frame(m, body)
		case m == 0xe1 && !turned && bytes.HasPrefix(body, []byte("Exif\x00\x00")):
			turned = true
			f.orientation = orientationTIFF(body[6:])
		}
	}
	return f
}

// frame reads the components' sampling from a frame header (ITU-T T.81, B.2.2).
func (f *jpegFacts) frame(marker byte, body []byte) {
	if len(body) < 6 || len(body) < 6+3*int(body[5]) || body[5] == 0 || body[5] > 4 {
		return
	}
	var sum, hMax, vMax int64
	for c := range int(body[5]) {
		s := body[6+3*c+1]
		h, v := int64(s>>4), int64(s&15)
		if h < 1 || h > 4 || v < 1 || v > 4 {
			return
		}
		sum += h * v
		hMax, vMax = max(hMax, h), max(vMax, v)
	}
	f.progressive = marker == 0xc2
	f.four = body[5] == 4
	f.eighths = (8*sum + hMax*vMax - 1) / (hMax * vMax)
}

// orientationTIFF finds the orientation in the first directory of EXIF data: 1 to 8, and 1 whenever it is not there or makes no sense
// (CIPA DC-008, tag 0x0112, type SHORT).
func orientationTIFF(b []byte) int {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(b, []byte("II*\x00")):
		order = binary.LittleEndian
	case bytes.HasPrefix(b, []byte("MM\x00*")):
		order = binary.BigEndian
	default:
		return 1
	}
	if len(b) < 8 {
		return 1
	}
	at := int64(order.Uint32(b[4:]))
	if at < 8 || at+2 > int64(len(b)) {
		return 1
	}
	entries := b[at+2:]
	for range order.Uint16(b[at:]) {
		if len(entries) < 12 {
			return 1
		}
		const orientation, short = 0x0112, 3
		if order.Uint16(entries) == orientation {
			v := int(order.Uint16(entries[8:]))
			if order.Uint16(entries[2:]) != short || order.Uint32(entries[4:]) != 1 || v < 1 || v > 8 {
				return 1
			}
			return v
		}
		entries = entries[12:]
	}
	return 1
}

// orientationPNG looks into the eXIf chunk (PNG third edition, 11.3.4.5).
func orientationPNG(b []byte) int {
	for i := 8; i+12 <= len(b); {
		n := int64(binary.BigEndian.Uint32(b[i:]))
		if n > int64(len(b)-i-12) {
			return 1
		}
		if string(b[i+4:i+8]) == "eXIf" {
			return orientationTIFF(b[i+8 : i+8+int(n)])
		}
		i += 12 + int(n)
	}
	return 1
}

// orientationWebP looks into the EXIF chunk (RFC 9649, section 2.7.1.5); some writers put JPEG's prefix before it.
func orientationWebP(b []byte) int {
	o := 1
	eachChunk(b, func(id string, body []byte) {
		if id == "EXIF" && o == 1 {
			o = orientationTIFF(bytes.TrimPrefix(body, []byte("Exif\x00\x00")))
		}
	})
	return o
}

// animatedWebP reports the animation bit of the extended header or an animation's chunks.
func animatedWebP(b []byte) bool {
	moving := false
	eachChunk(b, func(id string, body []byte) {
		moving = moving || id == "ANIM" || id == "ANMF" || id == "VP8X" && len(body) > 0 && body[0]&2 != 0
	})
	return moving
}

// eachChunk visits the whole chunks of a RIFF file.
func eachChunk(b []byte, visit func(id string, body []byte)) {
	for i := 12; i+8 <= len(b); {
		n := int64(binary.LittleEndian.Uint32(b[i+4:]))
		if n > int64(len(b)-i-8) {
			return
		}
		visit(string(b[i:i+4]), b[i+8:i+8+int(n)])
		i += 8 + int(n) + int(n&1)
	}
}
