package web_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfsplit/internal/adapter/cli"
	"halfsplit/internal/adapter/report"
	"halfsplit/internal/adapter/web"
	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// repaired is an invented machine with everything that an account tells of.
func repaired(t *testing.T) (*bench, int64) {
	b := newBench(t)
	id := b.example("lift-panel/never-goes-up", true)
	b.symptom(id)
	b.work(id, 60)
	b.record(id, &job.Terms{Currency: "EUR", Rate: 6000, Fee: 2500, Limit: 30000, How: "letter of 2 March"})
	b.record(id, &job.Timer{Stage: "find"})
	b.clock.pass(90 * 60e9)
	b.record(id, &job.Timer{Stage: "find", Stop: true})
	b.record(id, &job.Used{Ref: "U6", Type: "74LS00", Count: 1, Each: 350, Supplier: "drawer <7>"})
	b.record(id, &job.Cost{Text: "Carriage", Amount: 990})
	b.record(id, &job.Proof{Stage: "proof", What: "all floors called & reached", After: "right"})
	b.record(id, &job.StageMark{Stage: "soak", Mark: job.NotNeeded, Reason: "owner is in a hurry"})
	b.record(id, &job.Note{Text: "=HYPERLINK(1)", Report: true})
	return b, id
}

func get(t *testing.T, h http.Handler, path string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest("GET", "http://127.0.0.1"+path, nil)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestReport(t *testing.T) {
	b, id := repaired(t)
	srv, err := web.New(b.Desk, guard.Config{Addr: "127.0.0.1:0", Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	h := srv.Handler()
	page := get(t, h, "/jobs/1/report")
	for _, want := range []string{"The car never goes up", "74LS00", "drawer &lt;7&gt;", "owner is in a hurry", "9.90 EUR", "all floors called &amp; reached", "Authorised limit: 300.00 EUR", "<svg", "certifies nothing"} {
		if !strings.Contains(page.Body.String(), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	// 25 fee + 1.5 h at 60 + 3.50 part + 9.90 carriage, by hand.
	if !strings.Contains(page.Body.String(), "128.40 EUR") {
		t.Error("the sum is not 128.40 EUR")
	}
	one, two := get(t, h, "/jobs/1/report.pdf"), get(t, h, "/jobs/1/report.pdf")
	if !bytes.HasPrefix(one.Body.Bytes(), []byte("%PDF-")) || !bytes.Equal(one.Body.Bytes(), two.Body.Bytes()) {
		t.Error("the PDF is none, or differs from one time to the next")
	}
	rows, err := csv.NewReader(get(t, h, "/jobs/1/log.csv").Body).ReadAll()
	if v := b.probe(id); err != nil || len(rows) <= len(v.Job.Standing()) {
		t.Errorf("the CSV has %d rows: %v", len(rows), err)
	}
	for _, r := range rows {
		for _, c := range r {
			if strings.HasPrefix(c, "=") {
				t.Errorf("a spreadsheet would take %q for a formula", c)
			}
		}
	}
	if w := get(t, h, "/nowhere"); w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "list of jobs") {
		t.Errorf("a wrong address is answered with %d %s", w.Code, w.Body)
	}
}

// The exported case is read by the command line and gives the same diagnosis.
func TestExportedCase(t *testing.T) {
	b := newBench(t)
	id := b.example("keyboard-scanner/row-of-four", true)
	b.symptom(id)
	b.work(id, 8)
	srv, err := web.New(b.Desk, guard.Config{Addr: "127.0.0.1:0", Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	data := get(t, srv.Handler(), "/jobs/1/case.zip").Body.Bytes()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, f.Name), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var out, wrong bytes.Buffer
	if status := cli.Run(context.Background(), []string{"diagnose", filepath.Join(dir, "job-1.case.yaml")}, cli.Streams{Out: &out, Err: &wrong}, "test"); status != 0 {
		t.Fatalf("diagnose ends with %d: %s", status, wrong.String())
	}
	top := b.probe(id).Diagnosis.Suspects[0].Faults[0].Text
	if !strings.Contains(strings.Join(strings.Fields(out.String()), " "), top) {
		t.Errorf("the command line does not name %q:\n%s", top, out.String())
	}
}

// A photo that is lost is named in the PDF, not left out in silence; one that is there is drawn.
func TestPDFOfDamagedPhoto(t *testing.T) {
	var b bytes.Buffer
	d := &app.Report{Title: "x", Sections: []app.Section{{Title: "Photos", Blocks: []app.Block{{Photo: &job.PhotoLine{Photo: job.Photo{ID: 4, W: 10, H: 10, Caption: "inside"}}}}}}}
	if err := report.PDF(&b, d, func(int64) ([]byte, error) { return []byte("not a picture"), nil }); err != nil || b.Len() < 1000 {
		t.Errorf("%d bytes, %v", b.Len(), err)
	}
}
