// Package photo takes pictures in: whatever a camera, a phone or a stranger sends is judged by its content, decoded, turned upright,
// made small enough to show, and written anew as JPEG. Nothing of the received bytes is kept, so neither the place where a photo was
// taken nor anything hidden in the file survives, and a file that is two things at once comes out as a photo only.
//
// Colours are taken as sRGB: a colour profile is dropped like all else, so pictures of wide-gamut cameras come out a little paler.
package photo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"time"

	"golang.org/x/image/webp"
)

// Limits of what is taken and what is made. Zero values mean the defaults.
type Limits struct {
	Bytes  int64         // of the file: 40 MiB
	Pixels int           // of the picture: 120 million
	Memory int64         // for decoding, bytes: 700 MiB, enough for 40 megapixels in every form that is read
	Time   time.Duration // for all work on one picture once it has its turn: 1 min
	Edge   int           // longest edge of the picture that is kept, pixels: 2560, on which a pin number can be read
	Thumb  int           // longest edge of the small one, pixels: 480
}

const (
	quality = 85      // of the JPEG files that are written, 1 to 100
	maxEdge = 1 << 16 // longest edge that is read, pixels: JPEG has no longer one
	arrive  = 4       // files that may be in memory at a time, while one is being worked on
)

// Photo is a picture as it is kept, twice: both upright, JPEG without any metadata.
type Photo struct {
	JPEG          []byte
	Width, Height int    // pixels
	Sum           string // SHA-256 of JPEG in hexadecimal, a name for its content

	Thumb                   []byte
	ThumbWidth, ThumbHeight int // pixels
}

// Reason says why a file was refused.
type Reason int

// Reasons, with the HTTP status that fits.
const (
	TooLarge   Reason = iota + 1 // too many bytes or pixels: 413
	NotAPhoto                    // something else than JPEG, PNG or WebP: 415
	Damaged                      // named so, but cannot be read: 422
	Incomplete                   // it did not arrive whole: 400
)

// Refused is the error of a file that is not taken, in words for the technician.
type Refused struct {
	Reason  Reason
	Message string // what is the matter
	WayOut  string // what to do
}

func (r *Refused) Error() string { return r.Message + " " + r.WayOut }

// Taker takes photos in, one at a time however many are sent at once, so that the memory it needs is bounded. Make it with New.
type Taker struct {
	limits Limits
	files  chan struct{} // places for files in memory
	turn   chan struct{} // held while decoding
}

// New makes a Taker.
func New(l Limits) *Taker {
	orDefault(&l.Bytes, 40<<20)
	orDefault(&l.Pixels, 120_000_000)
	orDefault(&l.Memory, 700<<20)
	orDefault(&l.Time, time.Minute)
	orDefault(&l.Edge, 2560)
	orDefault(&l.Thumb, 480)
	return &Taker{limits: l, files: make(chan struct{}, arrive), turn: make(chan struct{}, 1)}
}

func orDefault[T int | int64 | time.Duration](v *T, d T) {
	if *v <= 0 {
		*v = d
	}
}

// Take reads one file and makes the pictures that are kept. The error is a *Refused, or the end of ctx, or what r failed with.
func (t *Taker) Take(ctx context.Context, r io.Reader) (*Photo, error) {
	if err := enter(ctx, t.files); err != nil {
		return nil, err
	}
	defer func() { <-t.files }()
	b, err := io.ReadAll(io.LimitReader(ctxReader{ctx, r}, t.limits.Bytes+1))
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF):
		return nil, &Refused{Incomplete, "The photo did not arrive whole.", "Nothing was stored; send it again."}
	case err != nil:
		return nil, fmt.Errorf("receiving a photo: %w", err)
	case int64(len(b)) > t.limits.Bytes:
		return nil, &Refused{TooLarge, fmt.Sprintf("The file is larger than %d MB.", t.limits.Bytes>>20),
			"Take the photo with fewer pixels, or as JPEG."}
	case len(b) == 0:
		return nil, &Refused{Incomplete, "The file is empty.", "Nothing was stored; choose the photo again."}
	}
	if err := enter(ctx, t.turn); err != nil {
		return nil, err
	}
	defer func() { <-t.turn }()
	timed, cancel := context.WithTimeout(ctx, t.limits.Time)
	defer cancel()
	p, err := t.make(timed, b)
	if err != nil && ctx.Err() == nil && timed.Err() != nil {
		return nil, &Refused{Damaged, fmt.Sprintf("Reading this photo took longer than %v.", t.limits.Time),
			"Open it in a picture program, save it as JPEG, and send that."}
	}
	return p, err
}

// enter waits for a place.
func enter(ctx context.Context, places chan struct{}) error {
	select {
	case places <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// make does the work on a whole file.
func (t *Taker) make(ctx context.Context, b []byte) (*Photo, error) {
	k, err := sniff(b)
	if err != nil {
		return nil, err
	}
	if err := t.fits(k, b); err != nil {
		return nil, err
	}
	img, err := k.decode(ctxReader{ctx, bytes.NewReader(b)})
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, unreadable(k, err)
	}
	size := img.Bounds().Size()
	kept, err := shrink(ctx, img, scaled(size, t.limits.Edge))
	if err != nil {
		return nil, err
	}
	kept = upright(kept, k.orientation(b))
	small, err := shrink(ctx, kept, scaled(kept.Rect.Size(), t.limits.Thumb))
	if err != nil {
		return nil, err
	}
	p := &Photo{Width: kept.Rect.Dx(), Height: kept.Rect.Dy(), ThumbWidth: small.Rect.Dx(), ThumbHeight: small.Rect.Dy()}
	if p.JPEG, err = write(kept); err != nil {
		return nil, err
	}
	if p.Thumb, err = write(small); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(p.JPEG)
	p.Sum = hex.EncodeToString(sum[:])
	return p, nil
}

func write(m *image.RGBA) ([]byte, error) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}); err != nil {
		return nil, fmt.Errorf("writing a photo: %w", err)
	}
	return b.Bytes(), nil
}

// fits judges from the header alone whether the picture can be decoded within the limits.
func (t *Taker) fits(k *kind, b []byte) error {
	c, err := k.config(bytes.NewReader(b))
	if err != nil {
		return unreadable(k, err)
	}
	if c.Width < 1 || c.Height < 1 {
		return &Refused{Damaged, fmt.Sprintf("This %s file says that it has no pixels.", k.name), "Choose another photo."}
	}
	pixels := int64(c.Width) * int64(c.Height)
	if c.Width > maxEdge || c.Height > maxEdge || pixels > int64(t.limits.Pixels) {
		return &Refused{TooLarge, fmt.Sprintf("The picture has %d by %d pixels; at most %d million are taken.", c.Width, c.Height,
			t.limits.Pixels/1_000_000), "Take the photo with fewer pixels, or make it smaller first."}
	}
	if need := k.memory(b, c, pixels); need > t.limits.Memory {
		return &Refused{TooLarge, fmt.Sprintf("Reading this %s file of %d by %d pixels would take %d MB of memory; %d MB are allowed.", k.name,
			c.Width, c.Height, need>>20, t.limits.Memory>>20), "Save it as ordinary JPEG, or make it smaller first."}
	}
	return nil
}

func unreadable(k *kind, err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return &Refused{Damaged, fmt.Sprintf("This %s file breaks off before its end.", k.name),
			"Nothing was stored; copy it from the camera again and send it once more."}
	}
	return &Refused{Damaged, fmt.Sprintf("This %s file cannot be read (%v).", k.name, err),
		"Open it in a picture program, save it as JPEG, and send that."}
}

// ctxReader fails when the context has ended; the decoders have no other way to be stopped.
type ctxReader struct {
	ctx context.Context
	r   io.Reader
}

func (c ctxReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}

// kind is a form of file that is read.
type kind struct {
	name        string
	config      func(io.Reader) (image.Config, error)
	decode      func(io.Reader) (image.Image, error)
	orientation func([]byte) int // 1 to 8, see upright
	memory      func(b []byte, c image.Config, pixels int64) int64
}

func jpegKind() *kind {
	return &kind{"JPEG", jpeg.DecodeConfig, jpeg.Decode, func(b []byte) int { return walkJPEG(b).orientation },
		func(b []byte, _ image.Config, pixels int64) int64 { return walkJPEG(b).memory(pixels) }}
}

func pngKind() *kind {
	return &kind{"PNG", png.DecodeConfig, png.Decode, orientationPNG, memoryPNG}
}

func webpKind() *kind {
	// 4 bytes a pixel, and as much again while the transforms of the lossless form, or the alpha plane of the lossy one, are undone.
	return &kind{"WebP", webp.DecodeConfig, decodeWebP, orientationWebP,
		func(_ []byte, _ image.Config, pixels int64) int64 { return 8 * pixels }}
}

// decodeWebP mends the levels of the lossy form: its planes hold the studio range of ITU-R BT.601 (brightness 16 to 235, colour 16 to
// 240), which the library hands on as if it were the full range of JPEG; pictures would come out flat and grey.
func decodeWebP(r io.Reader) (image.Image, error) {
	m, err := webp.Decode(r)
	if err != nil {
		return nil, err
	}
	switch m := m.(type) {
	case *image.YCbCr:
		fullRange(m)
	case *image.NYCbCrA:
		fullRange(&m.YCbCr)
	}
	return m, nil
}

func fullRange(m *image.YCbCr) {
	var bright, colour [256]uint8
	for v := range 256 {
		bright[v] = uint8(min(255, max(0, ((v-16)*255+109)/219)))
		colour[v] = uint8(min(255, max(0, ((v-16)*255+112)/224)))
	}
	for i, v := range m.Y {
		m.Y[i] = bright[v]
	}
	for i := range m.Cb {
		m.Cb[i], m.Cr[i] = colour[m.Cb[i]], colour[m.Cr[i]]
	}
}

func memoryPNG(b []byte, c image.Config, pixels int64) int64 {
	per := int64(4)
	switch c.ColorModel {
	case color.GrayModel:
		per = 1
	case color.Gray16Model:
		per = 2
	case color.RGBA64Model, color.NRGBA64Model:
		per = 8
	}
	if _, paletted := c.ColorModel.(color.Palette); paletted {
		per = 1
	}
	const interlace = 28 // offset in the file: signature 8, length and type 8, IHDR 13
	if len(b) > interlace && b[interlace] != 0 {
		return per * pixels * 3 / 2 // beside the picture the largest pass, half of it
	}
	return per * pixels
}
