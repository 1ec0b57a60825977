package photo

// Smaller and upright.

import (
	"context"
	"image"
	"image/draw"
)

// scaled is the size of a picture whose longer edge is at most edge; never larger than it was, never without pixels.
func scaled(size image.Point, edge int) image.Point {
	long := max(size.X, size.Y)
	if long <= edge {
		return size
	}
	fit := func(v int) int { return max(1, int((int64(v)*int64(edge)+int64(long)/2)/int64(long))) }
	return image.Pt(fit(size.X), fit(size.Y))
}

// shrink scales src down to size, every new pixel the exact mean of the area that it covers, transparent parts on white.
//
// golang.org/x/image/draw has good kernels too, but keeps a row of four float64 for every source line and target column: 450 MB for 40
// megapixels. This works through bands of about a million pixels, and stops when ctx ends.
func shrink(ctx context.Context, src image.Image, size image.Point) (*image.RGBA, error) {
	from := src.Bounds()
	w, h := from.Dx(), from.Dy()
	dst := image.NewRGBA(image.Rectangle{Max: size})
	band := image.NewRGBA(image.Rect(0, 0, w, min(h, max(1, 1<<20/w))))
	m := mean{dst: dst, w: w, h: h, row: make([]uint32, 3*size.X), sum: make([]uint64, 3*size.X), left: h}
	for y := 0; y < h; y += band.Rect.Dy() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		rows := min(band.Rect.Dy(), h-y)
		part := image.Rect(0, 0, w, rows)
		draw.Draw(band, part, image.White, image.Point{}, draw.Src)
		draw.Draw(band, part, src, from.Min.Add(image.Pt(0, y)), draw.Over)
		for r := range rows {
			m.add(band.Pix[r*band.Stride : r*band.Stride+4*w])
		}
	}
	return dst, nil
}

// mean gathers source rows into target rows. Lengths are counted in whole numbers: across, a source pixel is as long as the target has
// columns and a target pixel as long as the source has columns, so that both sides add up to the same; down likewise.
type mean struct {
	dst  *image.RGBA
	w, h int      // of the source, pixels
	row  []uint32 // [3*column+channel] one source row across; at most 255 × 65536
	sum  []uint64 // [3*column+channel] rows gathered so far for the target row y
	y    int
	left int // length still missing to the target row, of h
}

// add takes the next source row, 4 bytes a pixel.
func (m *mean) add(pix []byte) {
	m.across(pix)
	for length := m.dst.Rect.Dy(); length > 0; {
		take := min(length, m.left)
		for i, v := range m.row {
			m.sum[i] += uint64(v) * uint64(take)
		}
		length -= take
		if m.left -= take; m.left == 0 {
			m.finish()
		}
	}
}

// across adds the pixels of one row into the columns of the target.
func (m *mean) across(pix []byte) {
	columns, left := uint32(m.dst.Rect.Dx()), uint32(m.w)
	var sumR, sumG, sumB uint32
	out := m.row
	for ; len(pix) >= 4; pix = pix[4:] {
		r, g, b := uint32(pix[0]), uint32(pix[1]), uint32(pix[2])
		for length := columns; length > 0; {
			take := min(length, left)
			sumR += r * take
			sumG += g * take
			sumB += b * take
			length -= take
			if left -= take; left == 0 {
				out[0], out[1], out[2] = sumR, sumG, sumB
				out, left = out[3:], uint32(m.w)
				sumR, sumG, sumB = 0, 0, 0
			}
		}
	}
}

// finish writes the target row and begins the next.
func (m *mean) finish() {
	area := uint64(m.w) * uint64(m.h)
	out := m.dst.Pix[m.y*m.dst.Stride:]
	for x := range m.dst.Rect.Dx() {
		for c := range 3 {
			out[4*x+c] = uint8((m.sum[3*x+c] + area/2) / area)
		}
		out[4*x+3] = 0xff
	}
	clear(m.sum)
	m.y++
	m.left = m.h
}

// upright turns and mirrors a picture whose file says orientation o: where its first row and first column are seen (CIPA DC-008, tag
// 0x0112): 1 top left, 2 top right, 3 bottom right, 4 bottom left, 5 left top, 6 right top, 7 right bottom, 8 left bottom.
func upright(m *image.RGBA, o int) *image.RGBA {
	if o < 2 || o > 8 {
		return m
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	if o >= 5 {
		out = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range h {
		for x := range w {
			var to image.Point
			switch o {
			case 2:
				to = image.Pt(w-1-x, y)
			case 3:
				to = image.Pt(w-1-x, h-1-y)
			case 4:
				to = image.Pt(x, h-1-y)
			case 5:
				to = image.Pt(y, x)
			case 6:
				to = image.Pt(h-1-y, x)
			case 7:
				to = image.Pt(h-1-y, w-1-x)
			case 8:
				to = image.Pt(y, w-1-x)
			}
			copy(out.Pix[out.PixOffset(to.X, to.Y):][:4], m.Pix[m.PixOffset(x, y):][:4])
		}
	}
	return out
}
