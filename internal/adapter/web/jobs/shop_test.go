package jobs

// The shop's settings, clocks, backup and restore.

import (
	"bytes"
	"net/http"
	"strings"
	"testing"
	"time"

	"halfsplit/internal/core/job"
)

func TestTheShopKeepsItsSettings(t *testing.T) {
	s := newShop(t)
	form := []string{"key=a", "currency=CHF", "rate=95.50", "part-price=3", "have=meter", "have=logic-probe", "minutes-soak=25", "minutes-clean=0"}
	if w := s.post("/shop", form...); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/shop?saved=1" {
		t.Fatalf("%d %s", w.Code, body(w))
	}
	page := s.page("/shop?saved=1")
	for _, want := range []string{`value="CHF"`, `value="95.50"`, `value="3.00"`, `name="minutes-soak" value="25"`, `name="minutes-clean" value="0"`, `value="logic-probe" checked`, "Saved."} {
		if !strings.Contains(page, want) {
			t.Errorf("%s is missing", want)
		}
	}
	for fields, words := range map[string]string{"rate=dear": "is no amount", "rate=-1": "negative or absurd", "currency=doubloons": "more than 8", "have=oracle": "is none of",
		"minutes-soak=forever": "is no number", "minutes-soak=-1": "is not within", "part-price=-2": "negative"} {
		if w := s.post("/shop", "key=b", fields); w.Code != http.StatusUnprocessableEntity || !strings.Contains(body(w), words) {
			t.Errorf("%s: %d %q", fields, w.Code, body(w))
		}
	}
	if again := s.page("/shop"); !strings.Contains(again, `value="CHF"`) || !strings.Contains(again, `value="95.50"`) {
		t.Error("a mistake has changed the settings")
	}
	// A bench that has nothing proposes nothing, and a job can still be taken in.
	s.post("/shop", "key=c")
	id := s.take()
	if have := s.view(id).Job.Have; len(have) != 0 {
		t.Errorf("%v", have)
	}
}

func TestTheClockOfAJobIsNotThatOnTheWall(t *testing.T) {
	s := newShop(t)
	id := s.take()
	timer := s.path(id, "timer")
	s.post(timer, "key=t1", "stage=clean")
	s.now, s.mono = s.now.Add(-5*time.Hour), s.mono+20*time.Minute // somebody set the clock back
	if v := s.view(id); v.Running != 20*time.Minute {
		t.Errorf("running %v", v.Running)
	}
	s.post(timer, "key=t2", "stage=find") // another stage takes over
	s.now, s.mono = s.now.Add(400*24*time.Hour), s.mono+90*time.Second
	if w := s.post(timer, "key=t3", "stop=1"); w.Code != http.StatusSeeOther {
		t.Fatalf("%d %s", w.Code, body(w))
	}
	j := s.view(id).Job
	if j.Times["clean"] != 20*time.Minute || j.Times["find"] != 90*time.Second || j.Running != nil {
		t.Errorf("%v", j.Times)
	}
	if j.Changed.Before(j.Opened) {
		t.Errorf("changed %v before opened %v", j.Changed, j.Opened)
	}
}

func TestBackupAndRestore(t *testing.T) {
	s := newShop(t)
	id := s.take()
	photo := s.photo(id, "intake")
	w := s.get("/shop/backup")
	kept := w.Body.Bytes()
	if h := w.Header(); w.Code != http.StatusOK || h.Get("Content-Type") != "application/x-tar" || !strings.Contains(h.Get("Content-Disposition"), "halfsplit-2026-11-25-") || len(kept) < 4096 {
		t.Fatalf("%d %v, %d bytes", w.Code, h, len(kept))
	}
	events := s.events(id)
	s.record(id, &job.Note{Text: "after the backup"})
	if w := s.post("/jobs", "key=later", "machine=Later", "complaint=x"); w.Code != http.StatusSeeOther {
		t.Fatal(body(w))
	}
	for name, c := range map[string]struct {
		fields map[string]string
		file   []byte
		words  string
	}{
		"not sure":       {map[string]string{"key": "r1"}, kept, "tick that you are sure"},
		"no backup":      {map[string]string{"key": "r2", "sure": "1"}, []byte("a letter"), "backup"},
		"cut short":      {map[string]string{"key": "r3", "sure": "1"}, kept[:len(kept)/2], "backup"},
		"a bit turned":   {map[string]string{"key": "r4", "sure": "1"}, turned(kept), "backup"},
		"an empty field": {map[string]string{"key": "r5", "sure": "1"}, nil, ""},
	} {
		if w := s.do(s.multipart("/shop/restore", "backup", c.fields, c.file)); w.Code != http.StatusUnprocessableEntity || !strings.Contains(strings.ToLower(body(w)), c.words) {
			t.Errorf("%s: %d %q", name, w.Code, body(w))
		}
	}
	if s.events(id) != events+1 {
		t.Fatal("a refused backup has changed the workshop")
	}
	news, end, err := s.desk.Watch(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	defer end()
	<-news
	if w := s.do(s.multipart("/shop/restore", "backup", map[string]string{"key": "r6", "sure": "1"}, kept)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d %s", w.Code, body(w))
	}
	if s.events(id) != events || len(s.view(id).Job.Notes) != 0 || s.get("/jobs/2").Code != http.StatusNotFound || s.get("/photos/"+itoa(photo)).Code != http.StatusOK {
		t.Error("the workshop is not what the backup held")
	}
	s.record(id, &job.Note{Text: "work goes on"})
	if n := len(s.view(id).Job.Notes); n != 1 {
		t.Errorf("%d notes", n)
	}
	select {
	case <-news:
	default:
		t.Error("the open window was not told")
	}
}

// turned is a copy with one bit changed in the middle.
func turned(b []byte) []byte {
	c := bytes.Clone(b)
	c[len(c)/2] ^= 1
	return c
}
