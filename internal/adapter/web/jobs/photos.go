package jobs

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// mostField bounds the text fields beside a file, in bytes.
const mostField = 4096

// mostPhotos bounds the pictures of one form.
const mostPhotos = 20

// upload takes pictures in one after the other, as they arrive; the text fields come before them in the form.
func (p *pages) upload(w http.ResponseWriter, r *http.Request) error {
	id := shell.ID(r, "id")
	parts, err := r.MultipartReader()
	if err != nil {
		return app.Wrong{Err: errors.New("no picture came with the form: choose one")}
	}
	fields, taken := map[string]string{}, 0
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return brokenOff(err, taken)
		}
		if part.FormName() != "photo" {
			text, err := io.ReadAll(io.LimitReader(part, mostField))
			if err != nil {
				return brokenOff(err, taken)
			}
			fields[part.FormName()] = tidy(string(text))
			continue
		}
		if part.FileName() == "" {
			continue // the field was left empty
		}
		if taken == mostPhotos {
			return app.Wrong{Err: fmt.Errorf("the first %d pictures are taken; send the rest after them", mostPhotos)}
		}
		if err := p.takePhoto(r, id, keyOf(fields["key"], taken), fields, part); err != nil {
			return aboutPhoto(err, part.FileName(), taken)
		}
		taken++
	}
	if taken == 0 {
		return app.Wrong{Err: errors.New("no picture came with the form: choose one")}
	}
	shell.Back(w, r, cameFrom(r, id, "intake"))
	return nil
}

func (p *pages) takePhoto(r *http.Request, id int64, key string, fields map[string]string, part *multipart.Part) error {
	taken, err := p.taker.Take(r.Context(), part)
	if err != nil {
		return err
	}
	show := job.Photo{W: taken.Width, H: taken.Height, Caption: fields["caption"], Stage: fields["stage"]}
	_, err = p.Desk.AddPhoto(r.Context(), id, key, taken.JPEG, taken.Thumb, show)
	return err
}

// aboutPhoto names the picture that a refusal is about, and says what became of those before it.
func aboutPhoto(err error, name string, taken int) error {
	err = plain(err)
	var wrong app.Wrong
	if !errors.As(err, &wrong) {
		return err
	}
	text := fmt.Sprintf("the file %s: %v", name, wrong.Err)
	if taken > 0 {
		text += fmt.Sprintf(" The %s before it: taken.", count(taken, "picture", "pictures"))
	}
	return app.Wrong{Err: errors.New(text)}
}

func brokenOff(err error, taken int) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return err
	}
	return app.Wrong{Err: fmt.Errorf("the form broke off on its way (%s taken); send it again", count(taken, "picture was", "pictures were"))}
}

// onPhoto finds the picture of the address in its job.
func (p *pages) onPhoto(r *http.Request) (*app.JobView, job.PhotoLine, error) {
	v, err := p.Desk.ViewSoon(r.Context(), shell.ID(r, "id"))
	if err != nil {
		return nil, job.PhotoLine{}, err
	}
	i := slices.IndexFunc(v.Job.Photos, func(l job.PhotoLine) bool { return l.ID == shell.ID(r, "photo") })
	if i < 0 {
		return nil, job.PhotoLine{}, app.ErrNone
	}
	return v, v.Job.Photos[i], nil
}

// photoView is the page of one picture; tap is the place that was tapped and is not marked yet.
type photoView struct {
	info shell.Info
	v    *app.JobView
	p    job.PhotoLine
	tap  *job.Spot
}

func (p *pages) photoPage(w http.ResponseWriter, r *http.Request) error {
	v, line, err := p.onPhoto(r)
	if err != nil {
		return err
	}
	stage := line.Stage
	if stage == "" {
		stage = "intake"
	}
	p.Render(w, r, http.StatusOK, photoPage(photoView{p.info(v, stage, "Photo"), v, line, tapped(r.URL.Query(), line.Photo)}))
	return nil
}

// tapWidths are the widths, in CSS pixels, in which the picture is laid out to be tapped; the button's name tells which one it was.
var tapWidths = []int{320, 640}

// tapped reads where the picture was tapped: a button that is a picture sends the place as at640.x=…&at640.y=….
func tapped(q url.Values, p job.Photo) *job.Spot {
	if p.W < 1 || p.H < 1 {
		return nil
	}
	for _, width := range tapWidths {
		name := fmt.Sprintf("at%d", width)
		x, errX := strconv.ParseFloat(q.Get(name+".x"), 64)
		y, errY := strconv.ParseFloat(q.Get(name+".y"), 64)
		if errX != nil || errY != nil {
			continue
		}
		height := float64(width) * float64(p.H) / float64(p.W)
		if s := (job.Spot{X: x / float64(width), Y: y / height}); s.X >= 0 && s.X <= 1 && s.Y >= 0 && s.Y <= 1 && (x > 0 || y > 0) {
			return &s
		}
	}
	return nil
}

// addSpot marks a place on a picture. Across and down are per cent.
func (p *pages) addSpot(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	_, line, err := p.onPhoto(r)
	if err != nil {
		return err
	}
	x, acrossGiven := f.number("x", "across", 0, 100)
	y, downGiven := f.number("y", "down", 0, 100)
	s := job.Spot{X: x / 100, Y: y / 100, Text: f.text("text"), Part: f.text("part")}
	if !acrossGiven || !downGiven {
		f.mistake("where on the picture? Tap it, or write how far across and down in per cent")
	}
	if s.Text == "" && s.Part == "" {
		f.mistake("what is there? Write a word, or the part")
	}
	if err := f.err(); err != nil {
		return err
	}
	line.Spots = append(slices.Clone(line.Spots), s)
	return p.record(w, r, photoPath(line.ID), &line.Photo)
}

// takeSpot takes a mark away. Its place comes with its number, so that two windows do not take away different ones.
func (p *pages) takeSpot(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	_, line, err := p.onPhoto(r)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(line.Spots, func(s job.Spot) bool { return spotKey(s) == f.text("spot") })
	if i < 0 {
		return app.Wrong{Err: errors.New("that mark is not there any more, perhaps it was taken away in another window")}
	}
	line.Spots = slices.Delete(slices.Clone(line.Spots), i, i+1)
	return p.record(w, r, photoPath(line.ID), &line.Photo)
}

func spotKey(s job.Spot) string {
	return fmt.Sprintf("%.5f %.5f %s %s", s.X, s.Y, s.Part, s.Text)
}

func (p *pages) caption(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	_, line, err := p.onPhoto(r)
	if err != nil {
		return err
	}
	line.Caption = f.text("caption")
	return p.record(w, r, photoPath(line.ID), &line.Photo)
}

// photoAway takes a picture out of the pages; the store keeps it.
func (p *pages) photoAway(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	id := shell.ID(r, "id")
	if _, err := p.Desk.Record(r.Context(), id, f.text("key"), &job.PhotoAway{ID: shell.ID(r, "photo")}); err != nil {
		return err
	}
	page := f.text("stage")
	if job.StageByName(page) == nil {
		page = "intake"
	}
	shell.Back(w, r, shell.StagePath(id, page))
	return nil
}

// picture sends a stored picture. It is a photo whatever a browser may think of it.
func (p *pages) picture(w http.ResponseWriter, r *http.Request, small bool) error {
	data, err := p.Desk.Store().Photo(r.Context(), shell.ID(r, "photo"), small)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "image/jpeg")
	h.Set("Content-Length", strconv.Itoa(len(data)))
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "default-src 'none'; sandbox")
	h.Set("Content-Disposition", mime.FormatMediaType("inline", map[string]string{"filename": "photo-" + r.PathValue("photo") + ".jpg"}))
	h.Set("Cache-Control", "private, max-age=3600, immutable") // a picture never changes under its number, but for a restored backup
	if _, err := w.Write(data); err != nil {
		p.Log.Debug("a picture was not taken", "error", err)
	}
	return nil
}

// photoPath is the page of a picture within its job.
func photoPath(photo int64) string { return fmt.Sprintf("photos/%d", photo) }

// spotWords are what a mark says.
func spotWords(s job.Spot) string {
	if s.Part == "" || s.Text == "" {
		return s.Part + s.Text
	}
	return s.Part + ": " + s.Text
}

// photoWords describe a picture for those who do not see it.
func photoWords(p job.Photo) string {
	s := "Photo"
	if p.Caption != "" {
		s += ": " + p.Caption
	}
	var marks []string
	for n, m := range p.Spots {
		marks = append(marks, fmt.Sprintf("%d %s", n+1, spotWords(m)))
	}
	if len(marks) > 0 {
		s += ". Marked: " + strings.Join(marks, "; ")
	}
	return s
}

// px writes a length of a drawing.
func px(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }
