package jobs

// Photos: taken in, marked, shown, taken out; files that are none are refused.

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"halfsplit/internal/core/job"
)

// drawn is a small picture as PNG.
func drawn(t *testing.T) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 8, 6))
	m.SetGray(3, 3, color.Gray{Y: 200})
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// photo keeps a picture in a job and returns its number.
func (s *shop) photo(id int64, stage string) int64 {
	s.t.Helper()
	w := s.upload(id, map[string]string{"key": "photo " + stage, "stage": stage, "caption": "a view"}, drawn(s.t))
	if w.Code != http.StatusSeeOther {
		s.t.Fatalf("%d %s", w.Code, body(w))
	}
	all := s.view(id).Job.Photos
	return all[len(all)-1].ID
}

func (s *shop) upload(id int64, fields map[string]string, files ...[]byte) *httptest.ResponseRecorder {
	return s.do(s.multipart(s.path(id, "photos"), "photo", fields, files...))
}

func (s *shop) multipart(path, name string, fields map[string]string, files ...[]byte) *http.Request {
	s.t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for _, k := range []string{"key", "stage", "caption", "sure"} {
		if v, ok := fields[k]; ok {
			if err := m.WriteField(k, v); err != nil {
				s.t.Fatal(err)
			}
		}
	}
	for i, f := range files {
		w, err := m.CreateFormFile(name, "file"+itoa(int64(i))+".jpg")
		if err != nil {
			s.t.Fatal(err)
		}
		if _, err := w.Write(f); err != nil {
			s.t.Fatal(err)
		}
	}
	if err := m.Close(); err != nil {
		s.t.Fatal(err)
	}
	r := httptest.NewRequestWithContext(s.t.Context(), http.MethodPost, path, &b)
	r.Header.Set("Content-Type", m.FormDataContentType())
	r.Header.Set("HX-Request", "true")
	return r
}

func TestPhotosAreTakenInOnce(t *testing.T) {
	s := newShop(t)
	id := s.take()
	before := s.events(id)
	fields := map[string]string{"key": "up", "caption": "both sides", "stage": "opened"}
	for range 2 {
		if w := s.upload(id, fields, drawn(t), drawn(t)); w.Code != http.StatusSeeOther {
			t.Fatalf("%d %s", w.Code, body(w))
		}
	}
	photos := s.view(id).Job.Photos
	if s.events(id) != before+2 || len(photos) != 2 || photos[1].Caption != "both sides" || photos[1].Stage != "opened" || photos[1].W != 8 || photos[1].H != 6 {
		t.Fatalf("%d events, %+v", s.events(id)-before, photos)
	}
	if w := s.get("/photos/3"); w.Code != http.StatusNotFound {
		t.Errorf("the same form again has kept a third picture: %d", w.Code)
	}
	for _, path := range []string{"/photos/1", "/photos/1/small"} {
		w := s.get(path)
		h := w.Header()
		if w.Code != http.StatusOK || h.Get("Content-Type") != "image/jpeg" || h.Get("X-Content-Type-Options") != "nosniff" || !strings.Contains(h.Get("Content-Security-Policy"), "sandbox") {
			t.Errorf("%s: %d %v", path, w.Code, h)
		}
		if _, err := jpeg.Decode(w.Body); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
	page := s.page(s.path(id, "opened"))
	if strings.Count(page, "both sides") < 2 || strings.Contains(s.page(s.path(id, "intake")), "both sides") {
		t.Error("the photos are not on the page of their stage, or on another's")
	}
}

func TestWhatIsNoPhotoIsRefused(t *testing.T) {
	s := newShop(t)
	id := s.take()
	before := s.events(id)
	for name, c := range map[string]struct {
		file  []byte
		words string
	}{
		"a text":     {[]byte("<html><script>alert(1)</script>"), "The file file0.jpg: This"},
		"nothing":    {nil, "empty"},
		"half a PNG": {drawn(t)[:40], "The file file0.jpg: This PNG"},
		"a PDF":      {[]byte("%PDF-1.7\n1 0 obj\n"), "PDF"},
	} {
		w := s.upload(id, map[string]string{"key": name}, c.file)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(body(w), c.words) {
			t.Errorf("%s: %d %q", name, w.Code, body(w))
		}
	}
	if w := s.upload(id, map[string]string{"key": "none"}); w.Code != http.StatusUnprocessableEntity || !strings.Contains(body(w), "choose one") {
		t.Errorf("no file: %d %q", w.Code, body(w))
	}
	if w := s.post(s.path(id, "photos"), "key=plain"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a plain form: %d", w.Code)
	}
	if s.events(id) != before {
		t.Error("something was written")
	}
	// What came before the file that is none stays, and the message says so.
	w := s.upload(id, map[string]string{"key": "mixed"}, drawn(t), []byte("no picture"))
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(body(w), "1 picture before it: taken") || s.events(id) != before+1 {
		t.Errorf("%d %q", w.Code, body(w))
	}
	broken := s.multipart(s.path(id, "photos"), "photo", map[string]string{"key": "cut"}, drawn(t))
	broken.Body = http.MaxBytesReader(nil, broken.Body, 150)
	if w := s.do(broken); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("too large: %d %q", w.Code, body(w))
	}
	if w := s.upload(id, map[string]string{}, drawn(t)); w.Code != http.StatusUnprocessableEntity || !strings.Contains(body(w), "without a key") {
		t.Errorf("without a key: %d %q", w.Code, body(w))
	}
	if w := s.upload(99, map[string]string{"key": "k"}, drawn(t)); w.Code != http.StatusNotFound {
		t.Errorf("into no job: %d", w.Code)
	}
}

func TestSpotsAreMarkedAndTakenAway(t *testing.T) {
	s := newShop(t)
	id := s.take()
	photo := s.photo(id, "intake")
	at := s.path(id, photoPath(photo))
	spots := func() []job.Spot { return s.view(id).Job.Photos[0].Spots }
	for range 2 {
		if w := s.post(at+"/spots", "key=s1", "x=25", "y=50,5", "text=crack", "part=U3"); w.Code != http.StatusSeeOther || w.Header().Get("Location") != at {
			t.Fatalf("%d %s", w.Code, body(w))
		}
	}
	s.post(at+"/spots", "key=s2", "x=100", "y=0", "text=burn")
	if got := spots(); len(got) != 2 || got[0] != (job.Spot{X: 0.25, Y: 0.505, Text: "crack", Part: "U3"}) {
		t.Fatalf("%+v", got)
	}
	for fields, words := range map[string]string{"x=1|y=101|text=z": "is not within 0 to 100", "x=|y=1|text=z": "Tap it", "x=1|y=1": "What is there", "x=one|y=1|text=z": "is no number"} {
		if w := s.post(at+"/spots", append(strings.Split(fields, "|"), "key=bad")...); w.Code != http.StatusUnprocessableEntity || !strings.Contains(strings.ToLower(body(w)), strings.ToLower(words)) {
			t.Errorf("%s: %d %q", fields, w.Code, body(w))
		}
	}
	if w := s.post(at+"/unmark", "key=u1", "spot="+spotKey(spots()[0])); w.Code != http.StatusSeeOther || len(spots()) != 1 || spots()[0].Text != "burn" {
		t.Errorf("%d %+v", w.Code, spots())
	}
	if w := s.post(at+"/unmark", "key=u2", "spot=0.25000 0.50500 U3 crack"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a mark that is gone: %d", w.Code)
	}
	s.post(at+"/caption", "key=c1", "caption=Front")
	if p := s.view(id).Job.Photos[0]; p.Caption != "Front" || len(p.Spots) != 1 {
		t.Errorf("%+v", p)
	}
	for range 2 {
		if w := s.post(at+"/away", "key=a1", "stage=intake"); w.Code != http.StatusSeeOther || w.Header().Get("Location") != s.path(id, "intake") {
			t.Errorf("%d %q", w.Code, body(w))
		}
	}
	if len(s.view(id).Job.Photos) != 0 || s.get("/photos/"+itoa(photo)).Code != http.StatusOK {
		t.Error("the photo is still in the job, or gone from the store")
	}
}

func TestATapOnThePicture(t *testing.T) {
	p := job.Photo{W: 2000, H: 1000}
	for q, want := range map[string]*job.Spot{
		"at640.x=320&at640.y=160": {X: 0.5, Y: 0.5}, "at320.x=80&at320.y=40": {X: 0.25, Y: 0.25}, "at640.x=640&at640.y=320": {X: 1, Y: 1},
		"at640.x=641&at640.y=1": nil, "at640.x=-1&at640.y=1": nil, "at640.x=NaN&at640.y=1": nil, "at640.x=1": nil, "": nil, "at500.x=1&at500.y=1": nil,
		"at640.x=0&at640.y=0": nil, // what a key press on the picture sends
	} {
		v, err := url.ParseQuery(q)
		if err != nil {
			t.Fatal(err)
		}
		got := tapped(v, p)
		if (got == nil) != (want == nil) || got != nil && (got.X != want.X || got.Y != want.Y) {
			t.Errorf("%s: %+v, want %+v", q, got, want)
		}
	}
	if tapped(url.Values{"at640.x": {"1"}, "at640.y": {"1"}}, job.Photo{}) != nil {
		t.Error("a picture without a size")
	}
}
