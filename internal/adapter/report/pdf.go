// Package report writes the account of a job as PDF, from the same document as the printable page. The fonts are the Go fonts (BSD
// licence, golang.org/x/image/font/gofont), put into the file, so that it looks the same everywhere. The same document gives the same
// bytes.
package report

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"io"
	"math"
	"slices"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"halfsplit/internal/app"
)

// Page measures in millimetres: ISO 216 A4 with margins.
const (
	pageW, pageH = 210.0, 297.0
	margin       = 18.0
	inner        = pageW - 2*margin
	lineH        = 5.0
	textSize     = 10.0 // points
)

// PDF writes the document. photo brings the bytes of a stored picture (JPEG); one that cannot be read is named, not drawn.
func PDF(w io.Writer, r *app.Report, photo func(id int64) ([]byte, error)) error {
	p := &printer{Fpdf: fpdf.New("P", "mm", "A4", ""), photo: photo}
	p.SetCatalogSort(true)
	p.SetCreationDate(r.At.UTC())
	p.SetModificationDate(r.At.UTC())
	p.SetTitle(r.Title, true)
	p.SetCreator("halfsplit", true)
	p.AddUTF8FontFromBytes("go", "", goregular.TTF)
	p.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	p.SetMargins(margin, margin, margin)
	p.SetAutoPageBreak(true, margin)
	p.AliasNbPages("")
	p.SetFooterFunc(func() {
		p.SetY(-12)
		p.SetFont("go", "", 8)
		p.SetTextColor(90, 90, 90)
		p.CellFormat(inner/2, 5, r.Title, "", 0, "L", false, 0, "")
		p.CellFormat(inner/2, 5, fmt.Sprintf("page %d of {nb}", p.PageNo()), "", 0, "R", false, 0, "")
		p.SetTextColor(0, 0, 0)
	})
	p.AddPage()
	p.SetFont("go", "B", 18)
	p.MultiCell(inner, 8, r.Title, "", "L", false)
	p.SetFont("go", "", textSize)
	p.MultiCell(inner, lineH, r.Line, "", "L", false)
	for _, s := range r.Sections {
		p.section(s)
	}
	return p.Output(w)
}

type printer struct {
	*fpdf.Fpdf
	photo  func(id int64) ([]byte, error)
	images int
}

// room begins a new page when less than h is left on this one.
func (p *printer) room(h float64) {
	if p.GetY()+h > pageH-margin {
		p.AddPage()
	}
}

func (p *printer) section(s app.Section) {
	p.room(22)
	p.Ln(4)
	p.SetFont("go", "B", 12.5)
	p.MultiCell(inner, 6.5, s.Title, "", "L", false)
	y := p.GetY()
	p.SetLineWidth(0.3)
	p.Line(margin, y, margin+inner, y)
	p.Ln(1.5)
	p.SetFont("go", "", textSize)
	for _, b := range s.Blocks {
		p.block(b)
	}
}

func (p *printer) block(b app.Block) {
	switch {
	case b.Text != "":
		p.MultiCell(inner, lineH, b.Text, "", "L", false)
		p.Ln(1)
	case len(b.List) > 0:
		for _, t := range b.List {
			p.room(lineH)
			p.CellFormat(5, lineH, "•", "", 0, "L", false, 0, "")
			p.MultiCell(inner-5, lineH, t, "", "L", false)
		}
		p.Ln(1)
	case len(b.Facts) > 0:
		t := &app.Table{}
		for _, f := range b.Facts {
			t.Rows = append(t.Rows, []string{f[0], f[1]})
		}
		p.table(t, true)
	case b.Table != nil:
		p.table(b.Table, false)
	case b.Picture != nil:
		p.picture(b.Picture)
	case b.Photo != nil:
		p.photograph(b)
	}
}

// table sets columns by how much text they hold, none narrower than its longest word as far as the page allows.
func (p *printer) table(t *app.Table, facts bool) {
	widths := p.columns(t, facts)
	row := func(cells []string, bold bool) {
		style := ""
		if bold {
			style = "B"
		}
		p.SetFont("go", style, textSize-1)
		lines, most := make([][]string, len(widths)), 1
		for i := range widths {
			if i < len(cells) {
				lines[i] = p.SplitText(cells[i], widths[i]-2.5)
				most = max(most, len(lines[i]))
			}
		}
		h := float64(most) * (lineH - 0.6)
		if h < pageH/2 {
			p.room(h + 1)
		}
		y := p.GetY()
		x := margin
		for i, w := range widths {
			align := "L"
			if slices.Contains(t.Right, i) {
				align = "R"
			}
			if facts && i == 0 {
				p.SetTextColor(90, 90, 90)
			}
			for k, l := range lines[i] {
				p.SetXY(x, y+float64(k)*(lineH-0.6))
				p.CellFormat(w-1.5, lineH-0.6, l, "", 0, align, false, 0, "")
			}
			p.SetTextColor(0, 0, 0)
			x += w
		}
		p.SetXY(margin, y+h+0.6)
		p.SetDrawColor(190, 190, 190)
		p.SetLineWidth(0.15)
		p.Line(margin, y+h+0.3, margin+inner, y+h+0.3)
		p.SetDrawColor(0, 0, 0)
	}
	if len(t.Head) > 0 {
		p.room(3 * lineH)
		row(t.Head, true)
	}
	for i, r := range t.Rows {
		row(r, t.Total && i == len(t.Rows)-1)
	}
	p.SetFont("go", "", textSize)
	p.Ln(2)
}

func (p *printer) columns(t *app.Table, facts bool) []float64 {
	n := len(t.Head)
	for _, r := range t.Rows {
		n = max(n, len(r))
	}
	if facts {
		return []float64{36, inner - 36}
	}
	p.SetFont("go", "B", textSize-1)
	want := make([]float64, n)
	for _, r := range append([][]string{t.Head}, t.Rows...) {
		for i, c := range r {
			want[i] = max(want[i], min(p.GetStringWidth(c)+4, inner*0.6))
		}
	}
	sum := 0.0
	for _, w := range want {
		sum += w
	}
	if sum <= 0 {
		sum, want[0] = inner, inner
	}
	for i := range want {
		want[i] *= inner / sum
	}
	return want
}

// photograph sets a picture with its marks as numbered rings.
func (p *printer) photograph(b app.Block) {
	data, err := p.photo(b.Photo.ID)
	if err == nil {
		_, err = jpeg.DecodeConfig(bytes.NewReader(data))
	}
	if err != nil {
		p.MultiCell(inner, lineH, fmt.Sprintf("[photo %d cannot be read] %s", b.Photo.ID, b.Photo.Caption), "", "L", false)
		return
	}
	p.images++
	name := fmt.Sprint("photo", p.images)
	info := p.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPEG"}, bytes.NewReader(data))
	if p.Err() {
		return
	}
	w, h := info.Width(), info.Height()
	scale := min(inner/w, 110/h)
	w, h = w*scale, h*scale
	p.room(h + 8)
	x, y := margin, p.GetY()
	p.ImageOptions(name, x, y, w, h, false, fpdf.ImageOptions{ImageType: "JPEG"}, 0, "")
	for i, s := range b.Photo.Spots {
		p.SetLineWidth(1.4)
		p.SetDrawColor(255, 255, 255)
		p.Circle(x+s.X*w, y+s.Y*h, 3.2, "D")
		p.SetLineWidth(0.7)
		p.SetDrawColor(0, 0, 0)
		p.Circle(x+s.X*w, y+s.Y*h, 3.2, "D")
		p.SetFont("go", "B", 9)
		p.SetFillColor(255, 255, 255)
		p.SetXY(min(x+s.X*w+3, x+w-5), math.Max(y, y+s.Y*h-6))
		p.CellFormat(5, 4, fmt.Sprint(i+1), "", 0, "C", true, 0, "")
	}
	p.SetXY(margin, y+h+1)
	p.SetFont("go", "", textSize-1)
	text := b.Photo.Caption
	for i, s := range b.Photo.Spots {
		text += fmt.Sprintf("  %d: %s %s", i+1, s.Part, s.Text)
	}
	if text != "" {
		p.MultiCell(inner, lineH-0.5, text, "", "L", false)
	}
	p.SetFont("go", "", textSize)
	p.Ln(2)
}
