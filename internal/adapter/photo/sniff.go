package photo

// What a file really is, by its first bytes; its name is not even asked for.

import (
	"bytes"
	"fmt"
	"slices"
)

// sniff returns how to read the file, or a *Refused that says what it is instead.
func sniff(b []byte) (*kind, error) {
	switch {
	case bytes.HasPrefix(b, []byte("\xff\xd8\xff")):
		return jpegKind(), nil
	case bytes.HasPrefix(b, []byte("\x89PNG\r\n\x1a\n")):
		return pngKind(), nil
	case isRIFF(b, "WEBP"):
		if animatedWebP(b) {
			return nil, other("an animation (WebP)", "Take a photo, or save one of its pictures as JPEG.")
		}
		return webpKind(), nil
	}
	const save = "Open it in the program that made it and save the picture as JPEG or PNG."
	if brand := ftyp(b); brand != "" {
		switch {
		case slices.Contains([]string{"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1"}, brand):
			return nil, other("an HEIC photo, which this program cannot read",
				"Set the camera to JPEG (often called \"most compatible\"), or share the photo as JPEG.")
		case brand == "avif" || brand == "avis":
			return nil, other("an AVIF picture, which this program cannot read", save)
		case brand == "crx ":
			return nil, other("a camera's raw file", "Set the camera to JPEG, or develop it first.")
		}
		return nil, other("a film", "Take a photo, or save one of its pictures as JPEG.")
	}
	for _, s := range signatures {
		if bytes.HasPrefix(b, []byte(s.first)) {
			return nil, other(s.is, save)
		}
	}
	if what := text(b); what != "" {
		return nil, other(what, save)
	}
	return nil, other("no photo of a kind that this program reads", "Send a JPEG, PNG or WebP file.")
}

func other(is, wayOut string) error {
	return &Refused{NotAPhoto, fmt.Sprintf("This file is %s, whatever its name says.", is), wayOut}
}

// signatures are the first bytes of files that are sent by mistake. From memory, as common file-type tables have them.
var signatures = []struct{ first, is string }{
	{"%PDF-", "a PDF document"},
	{"GIF8", "a GIF picture"},
	{"II*\x00", "a TIFF picture or a camera's raw file"},
	{"MM\x00*", "a TIFF picture or a camera's raw file"},
	{"BM", "a BMP picture"},
	{"\x00\x00\x01\x00", "an icon"},
	{"8BPS", "a layered picture (PSD)"},
	{"\xff\x0a", "a JPEG XL picture, which this program cannot read"},
	{"\x00\x00\x00\x0cJXL ", "a JPEG XL picture, which this program cannot read"},
	{"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture, which this program cannot read"},
	{"PK\x03\x04", "an archive or an office document (ZIP)"},
	{"\x1f\x8b", "an archive (gzip)"},
	{"7z\xbc\xaf\x27\x1c", "an archive (7z)"},
	{"\xd0\xcf\x11\xe0", "an office document"},
	{"\x1aE\xdf\xa3", "a film"},
	{"RIFF", "a film or a sound (RIFF)"},
	{"\x7fELF", "a program"},
	{"MZ", "a program"},
	{"SQLite format 3\x00", "a database"},
	{"%!PS", "a PostScript document"},
}

func isRIFF(b []byte, form string) bool {
	return len(b) >= 12 && string(b[:4]) == "RIFF" && string(b[8:12]) == form
}

// ftyp is the main brand of a file of the ISO base media format (ISO/IEC 14496-12); empty for others.
func ftyp(b []byte) string {
	if len(b) < 12 || string(b[4:8]) != "ftyp" {
		return ""
	}
	return string(b[8:12])
}

// text names the kinds of text that come in place of a photo; empty when it is no text.
func text(b []byte) string {
	head := bytes.ToLower(bytes.TrimLeft(bytes.TrimPrefix(b[:min(len(b), 2048)], []byte("\xef\xbb\xbf")), " \t\r\n"))
	switch {
	case bytes.Contains(head, []byte("<svg")):
		return "a drawing in SVG"
	case bytes.HasPrefix(head, []byte("<!doctype html")) || bytes.Contains(head, []byte("<html")):
		return "a web page (HTML)"
	case bytes.HasPrefix(head, []byte("<")):
		return "a text (XML)"
	case len(head) > 0 && !bytes.ContainsFunc(head, func(c rune) bool { return c < ' ' && c != '\n' && c != '\r' && c != '\t' || c == 0xfffd }):
		return "a text"
	}
	return ""
}
