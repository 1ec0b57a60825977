package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/job"
)

// The diagnosis of a job is worked out beside the requests that ask for it: on an analogue board the first one takes seconds. A request waits for
// it as long as its patience lasts; the work is given up when nobody has asked for a while, and begun anew when the log has changed meanwhile.

// Working says that a diagnosis is being worked out.
type Working struct {
	Since time.Duration // how long already
	Ways  int           // of going wrong that are tried, 0 where it is not known
}

const (
	forever  = time.Duration(math.MaxInt64)
	patience = 2500 * time.Millisecond // of a page
	unasked  = 20 * time.Second        // after which nobody is waiting any more
)

// weighed is what was worked out of a log. It is not changed any more.
type weighed struct {
	Diagnosis
	surprising []bool // by standing line
	wrong      []WrongReading
	rails      []RailCheck
	mendings   map[string]Mending // by KIND@WHERE
}

// jobBench is the bench of a job with the lines of the log that it has taken in.
type jobBench struct {
	bench  Workbench
	board  int64
	zones  string
	lines  []string
	result *weighed
	key    string // of everything that result depends on
}

// work is a diagnosis on its way. err is set before done is closed.
type work struct {
	key     string
	began   time.Time
	ways    int // 0 until the board is made ready; guarded by the job's lock
	cancel  context.CancelFunc
	done    chan struct{}
	err     error
	waiting int         // requests; guarded by the job's lock
	end     *time.Timer // runs while nobody waits
}

func lineKey(l job.LogLine) string { return fmt.Sprint(l.Seq, len(l.Earlier), l.Gone) }

// keptBenches bounds the benches in memory; each holds what every fault of its board would have shown.
const keptBenches = 4

// request is what a diagnosis depends on.
type request struct {
	k         *evidence.Case
	lines     []job.LogLine
	zones     string
	have      evidence.Bench
	unpowered bool
	blocked   []string
}

func (d *Desk) request(o *openJob, l *loadedBoard) request {
	r := request{k: onBoard(l.circuit, o.job.Case(BoardName)), lines: o.job.Standing(), zones: fmt.Sprint(o.job.Intake.Zones), have: o.job.Bench(),
		unpowered: len(o.job.OpenCautions(job.Powered)) > 0, blocked: skipped(o.job)}
	r.have.Iron = r.have.Iron && len(o.job.OpenCautions(job.Iron)) == 0
	return r
}

func (r request) keys() []string {
	var out []string
	for _, l := range r.lines {
		out = append(out, lineKey(l))
	}
	return out
}

// weigh is the diagnosis of the job as it is now; or what is still being worked out, when patience ends first. The job's lock is held before and
// after, and given away while it waits.
func (d *Desk) weigh(ctx context.Context, o *openJob, l *loadedBoard, patience time.Duration) (*weighed, *Working, error) {
	began := time.Now()
	for {
		r := d.request(o, l)
		key := fmt.Sprint(o.job.Board.Version, r.zones, r.keys(), r.have, r.unpowered, r.blocked)
		d.keep(o)
		if o.bench != nil && o.bench.result != nil && o.bench.key == key {
			return o.bench.result, nil, nil
		}
		w := o.work
		if w == nil {
			w = d.begin(o, l, r, key)
		} else if w.key != key {
			w.cancel()
		}
		ended, err := o.wait(ctx, w, patience-time.Since(began))
		switch {
		case err != nil:
			return nil, nil, err
		case !ended:
			return nil, &Working{time.Since(w.began), w.ways}, nil
		case w.err != nil && w.key == key && !errors.Is(w.err, context.Canceled):
			return nil, nil, w.err
		}
		if l, err = d.loaded(ctx, o.job.Board.Version); err != nil || l.circuit == nil {
			return nil, nil, err
		}
	}
}

// wait gives the job's lock away until the work has ended or patience has.
func (o *openJob) wait(ctx context.Context, w *work, patience time.Duration) (ended bool, err error) {
	w.waiting++
	w.end.Stop()
	o.mu.Unlock()
	late := time.NewTimer(patience)
	select {
	case <-w.done:
		ended = true
	case <-ctx.Done():
		err = ctx.Err()
	case <-late.C:
	}
	late.Stop()
	o.mu.Lock()
	if w.waiting--; w.waiting == 0 && !ended {
		w.end.Reset(unasked)
	}
	return ended, err
}

// begin starts the work. The job's lock is held.
func (d *Desk) begin(o *openJob, l *loadedBoard, r request, key string) *work {
	ctx, cancel := context.WithCancel(context.Background())
	w := &work{key: key, began: time.Now(), cancel: cancel, done: make(chan struct{}), end: time.AfterFunc(unasked, cancel)}
	o.work = w
	old := o.bench
	version := o.job.Board.Version
	go func() {
		defer cancel()
		defer close(w.done)
		if b, err := l.board(); err == nil && b.analogue() != nil {
			o.mu.Lock()
			w.ways = len(b.analogue().Hyps)
			o.mu.Unlock()
		}
		jb, err := bring(ctx, old, l, version, r)
		o.mu.Lock()
		defer o.mu.Unlock()
		w.end.Stop()
		w.err = err
		if o.work != w { // forgotten meanwhile
			return
		}
		o.work, o.bench = nil, nil // half done: the next request begins again
		if err == nil {
			jb.key, o.bench = key, jb
		}
	}()
	return w
}

// bring brings a bench up to the log: one more line costs one more reading; anything else starts afresh.
func bring(ctx context.Context, jb *jobBench, l *loadedBoard, version int64, r request) (*jobBench, error) {
	lab, err := l.board()
	if err != nil {
		return nil, err
	}
	leave, err := lab.Enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	keys := r.keys()
	fits := jb != nil && jb.board == version && jb.zones == r.zones && len(jb.lines) <= len(keys)
	for i := 0; fits && i < len(jb.lines); i++ {
		fits = jb.lines[i] == keys[i]
	}
	unfit := func(fl finding.List) error {
		return Wrong{fmt.Errorf("the log does not fit the board: %s", fl.Only(finding.Error)[0].Text)}
	}
	if !fits {
		b, fl := NewWorkbench(lab, r.k, 0, advise.Costs{})
		if b == nil {
			return nil, unfit(fl)
		}
		jb = &jobBench{bench: b, board: version, zones: r.zones, lines: keys}
	}
	jb = &jobBench{bench: jb.bench, board: version, zones: r.zones, lines: jb.lines}
	for i := len(jb.lines); i < len(keys); i++ {
		if fl := jb.bench.Add(r.lines[i].Entry.Evidence(i + 1)); fl.Errors() {
			return nil, unfit(fl)
		}
		jb.lines = append(jb.lines, keys[i])
	}
	jb.bench.Allow(r.have, r.unpowered, r.blocked)
	out := &weighed{mendings: map[string]Mending{}}
	if out.Diagnosis, err = jb.bench.Diagnose(ctx, 0, 0); err != nil {
		return nil, err
	}
	if out.rails, err = jb.bench.Rails(ctx); err != nil {
		return nil, err
	}
	for i := range keys {
		out.surprising = append(out.surprising, jb.bench.Surprising(i))
	}
	out.wrong = jb.bench.Wrong()
	for _, s := range out.Suspects {
		for _, f := range s.Faults {
			if m, ok := jb.bench.Mend(f); ok {
				out.mendings[f.Kind+"@"+f.At] = m
			}
		}
	}
	jb.result = out
	return jb, nil
}

// keep notes that a job's bench was used and lets the one go that was not for the longest time.
func (d *Desk) keep(o *openJob) {
	d.mu.Lock()
	defer d.mu.Unlock()
	id := o.job.ID
	for i, x := range d.used {
		if x == id {
			d.used = append(d.used[:i], d.used[i+1:]...)
			break
		}
	}
	d.used = append(d.used, id)
	if len(d.used) <= keptBenches {
		return
	}
	old := d.jobs[d.used[0]]
	d.used = d.used[1:]
	if old != o && old.mu.TryLock() {
		old.bench = nil
		old.mu.Unlock()
	}
}
