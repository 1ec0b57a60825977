package web_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// Analogue boards by their forms, and the diagnosis that is worked out beside the requests.

func TestFigureForms(t *testing.T) {
	b := newBench(t)
	id := b.example("string-voice/dead-stage", true)
	p := newPage(t, b)
	at := fmt.Sprintf("/jobs/%d/", id)
	standing := func() []job.LogLine { // without the diagnosis, which nobody waits for here
		j, _, err := b.JobBoard(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		return j.Standing()
	}
	taken := 0
	for i, k := range []struct {
		log    string // what the line of the log says; "" when it must be refused
		fields []string
	}{
		{"12.1 V", []string{"kind", "volts", "at", "+12V", "value", "12,1"}},
		{"14 mV", []string{"kind", "volts", "at", "R5", "value", "14 mV"}},
		{"with 1 V on +12V", []string{"kind", "volts", "at", "PRE", "value", "0.2", "feed-at", "+12V", "feed-volts", "1 V", "feed-ohms", "1"}},
		{"4.7 kΩ", []string{"kind", "ohms", "at", "FCUR", "to", "GND", "value", "4k7"}},
		{"open", []string{"kind", "ohms", "at", "FCAP", "to", "GND", "value", "OL"}},
		{"ESR of C4 300 mΩ", []string{"kind", "esr", "at", "C4", "value", "0.3"}},
		{"OUT at 500 Hz 415 mV rms", []string{"kind", "ac", "at", "OUT", "frequency", "500", "value", "415mV rms"}},
		{"gain IN to PRE at 500 Hz 2.1 times", []string{"kind", "gain", "at", "PRE", "from", "IN", "frequency", "0.5k", "value", "2.1"}},
		{"wiper of SL2 at 0.25 2.9 V", []string{"kind", "wiper", "at", "SL2", "position", "0.25", "value", "2.9"}},
		{"", []string{"kind", "wiper", "at", "SL2", "position", "1.25", "value", "2.9"}},
		{"", []string{"kind", "wiper", "at", "R5", "position", "0.2", "value", "2.9"}},
		{"", []string{"kind", "ac", "at", "OUT", "value", "0.4"}},
		{"", []string{"kind", "gain", "at", "PRE", "frequency", "500", "value", "2"}},
		{"", []string{"kind", "esr", "at", "C99", "value", "0.3"}},
		{"", []string{"kind", "current", "at", "U1", "value", "0.3"}},
		{"", []string{"kind", "volts", "at", "OUT", "value", "3 mV", "feed-at", "+12V", "feed-volts", "1 V", "feed-ohms", "0"}},
		{"", []string{"kind", "ripple", "at", "OUT", "value", "-1"}},
		{"", []string{"kind", "replaced", "at", "X9"}},
		{"", []string{"kind", "lifted", "at", "OUT"}},
	} {
		before := len(standing())
		w := p.plain(at+"entry", append([]string{"key", fmt.Sprint("figure", i)}, k.fields...)...)
		if k.log == "" {
			if w.Code != http.StatusUnprocessableEntity || len(standing()) != before {
				t.Errorf("%v is answered with %d: %.200s", k.fields, w.Code, w.Body)
			}
			continue
		}
		taken++
		now := standing()
		if w.Code != http.StatusSeeOther || len(now) != before+1 || !strings.Contains(app.EntryText(&now[before].Entry), k.log) {
			t.Errorf("%v is answered with %d, the log says %v, want %q", k.fields, w.Code, now, k.log)
		}
	}
	if taken != 9 {
		t.Errorf("%d figures taken", taken)
	}

	// A reading corrected keeps what else belongs to it; the exported case and the table hold all.
	for _, l := range standing() {
		if len(l.Entry.AC) > 0 {
			p.plain(at+"correct", "key", "correct", "entry", fmt.Sprint(l.Seq), "kind", "ac", "at", "OUT", "frequency", "500", "value", "0.615")
			if s := p.body(fmt.Sprintf("%sline/%d", at, l.Seq)); !strings.Contains(s, "615 mV rms") || !strings.Contains(s, "415 mV rms") || !strings.Contains(s, `name="frequency" value="500"`) {
				t.Error("the corrected level does not stand beside what it was")
			}
		}
	}
	files, err := b.Export(context.Background(), id)
	if err != nil {
		t.Fatal(err)
	}
	text := string(files[fmt.Sprintf("job-%d.case.yaml", id)])
	csv := p.body(at + "log.csv")
	for _, w := range []string{"esr: {C4: 0.3}", "ac: [{at: OUT", "0.615", "gain: [{from: IN", "wiper: [{at: SL2", "bench: {at: "} {
		if !strings.Contains(text, w) {
			t.Errorf("the case does not hold %q:\n%s", w, text)
		}
	}
	for _, w := range []string{"ac at 500 Hz,OUT", "wiper at 0.25,SL2", "gain at 500 Hz,IN,PRE", "bench supply of 1 ohms", "esr,C4"} {
		if !strings.Contains(csv, w) {
			t.Errorf("the table does not hold %q:\n%s", w, csv)
		}
	}
}

// With the gate closed nothing is proposed that needs the power; at a place out of reach nothing at all.
func TestGateOfFigures(t *testing.T) {
	b := newBench(t)
	id := b.example("bench-supply/leaky-tantalum", false)
	if _, err := b.try(id, &job.Entry{Ripple: []job.Amount{{At: "V9", Is: 1}}}); err == nil || !strings.Contains(err.Error(), "not ticked") {
		t.Errorf("a ripple is taken before the gate: %v", err)
	}
	v := b.probe(id)
	for _, c := range v.Diagnosis.Next {
		if c.Kind != "ohms" && c.Kind != "esr" {
			t.Errorf("%s at %s is proposed with the gate closed", c.Kind, c.At)
		}
	}
	if len(v.Diagnosis.Next) == 0 {
		t.Fatal("nothing is proposed with the power off")
	}
	out := v.Diagnosis.Next[0].At
	b.record(id, &job.Entry{ESR: []job.Amount{{At: "C1", Is: 0.03}}})
	b.record(id, &job.Entry{Skipped: out})
	for _, c := range b.probe(id).Diagnosis.Next {
		if c.At == out {
			t.Errorf("%s at %s is proposed, out of reach", c.Kind, c.At)
		}
	}
}

// Many windows ask while readings come in: nobody waits for a lock, nothing is lost, and what comes out is what one window alone would have got.
func TestWorkedOutBeside(t *testing.T) {
	b := newBench(t)
	id := b.example("bench-supply/regulator-in-dropout", true)
	ctx := context.Background()

	gone, leave := context.WithTimeout(ctx, time.Millisecond)
	if _, err := b.Probe(gone, id); !errors.Is(err, context.DeadlineExceeded) && err != nil {
		t.Errorf("a client that has gone gets %v", err)
	}
	leave()

	readings := []job.Entry{{Volts: []job.Volts{{At: "+5V", Volts: 3.62}}}, {Volts: []job.Volts{{At: "V9", Volts: 9.56}}}, {Ripple: []job.Amount{{At: "V9", Is: 0.583}, {At: "+5V", Is: 0.581}}}}
	var all sync.WaitGroup
	for i := range 4 {
		all.Go(func() {
			for range 6 {
				v, err := b.ViewSoon(ctx, id)
				if err != nil || v.Probe.Working == nil && v.Probe.Circuit == nil {
					t.Errorf("window %d: %v", i, err)
				}
			}
		})
	}
	for i := range readings {
		if _, err := b.Record(ctx, id, fmt.Sprint("beside", i), &readings[i]); err != nil {
			t.Error(err)
		}
	}
	all.Wait()
	v := b.probe(id)
	other := app.NewDesk(b.Store(), yamlfile.Texts{}, app.RealClock())
	w, err := other.Probe(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := fmt.Sprint(v.Diagnosis.Parts), fmt.Sprint(w.Diagnosis.Parts); got != want || len(v.Job.Standing()) != 3 {
		t.Errorf("many windows get %s, one alone %s", got, want)
	}
	if v.Diagnosis.Parts[0].Part != "U1" {
		t.Errorf("the regulator is not suspected first: %v", v.Diagnosis.Parts)
	}
}
