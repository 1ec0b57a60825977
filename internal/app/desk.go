package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"halfsplit/internal/core/job"
)

// Desk is the workshop at work: jobs are opened and written on, boards kept, readings weighed. It is safe for concurrent use; each job is
// worked on by one request at a time.
type Desk struct {
	store Store
	texts Texts
	clock Clock

	mu     sync.Mutex
	jobs   map[int64]*openJob
	boards map[int64]*loadedBoard // by version
	used   []int64                // jobs with a bench in memory, latest last

	examples []Example
}

// Clock tells the time. Mono counts up whatever is done to the clock on the wall; timers use it.
type Clock struct {
	Now  func() time.Time
	Mono func() time.Duration
}

// RealClock is the machine's clock.
func RealClock() Clock {
	began := time.Now()
	return Clock{Now: time.Now, Mono: func() time.Duration { return time.Since(began) }}
}

// NewDesk opens the workshop over a store.
func NewDesk(store Store, texts Texts, clock Clock) *Desk {
	return &Desk{store: store, texts: texts, clock: clock, jobs: map[int64]*openJob{}, boards: map[int64]*loadedBoard{}}
}

// Store is what the desk keeps things in.
func (d *Desk) Store() Store { return d.store }

// Now is the desk's clock.
func (d *Desk) Now() time.Time { return d.clock.Now() }

// openJob is a job in memory with what was computed of it. mu is held while it is read or written.
type openJob struct {
	mu      sync.Mutex
	job     *job.Job
	started time.Duration // Clock.Mono when the running timer was started here; 0 when that was in another life of the program
	bench   *jobBench     // as far as it was worked out
	work    *work         // what is being worked out now
	known   *job.Progress // of the last view, for the list of jobs; nil before the first

	watch sync.Mutex
	seers map[chan int64]bool
}

// maxKey bounds what a sender may use as a key.
const maxKey = 80

// Take opens a job. The same key again returns the job opened first.
func (d *Desk) Take(ctx context.Context, in job.Intake, key string) (int64, error) {
	j, err := job.Fold(0, nil)
	if err != nil {
		return 0, err
	}
	if err := checkFact(j, &in, key); err != nil {
		return 0, err
	}
	e, err := job.NewEvent(&in, d.clock.Now(), key)
	if err != nil {
		return 0, err
	}
	e.Seq = 1
	if err := j.Apply(e); err != nil {
		return 0, err
	}
	id, err := d.store.CreateJob(ctx, e, summary(j, nil))
	if err != nil {
		return 0, err
	}
	var have []string
	for _, w := range strings.Fields(d.SettingOr(ctx, "have", "scope meter iron")) {
		if slices.Contains(job.HaveWords, w) { // "none" for a bench that has nothing
			have = append(have, w)
		}
	}
	_, err = d.Record(ctx, id, key+".have", &job.Have{Words: have})
	return id, err
}

// Wrong is a mistake of the person who typed something: the message says what was expected.
type Wrong struct{ Err error }

func (w Wrong) Error() string { return w.Err.Error() }
func (w Wrong) Unwrap() error { return w.Err }

func checkFact(j *job.Job, f job.Fact, key string) error {
	if key == "" || len(key) > maxKey {
		return Wrong{fmt.Errorf("the form came without a key of 1 to %d characters; load the page again", maxKey)}
	}
	if err := j.Check(f); err != nil {
		return Wrong{err}
	}
	return nil
}

// Record writes a fact into a job and returns the number of its event. What it has returned without an error is on the disk. The same
// key again changes nothing and returns the number of the first.
func (d *Desk) Record(ctx context.Context, id int64, key string, f job.Fact) (int64, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return 0, err
	}
	defer o.mu.Unlock()
	for {
		seq, err := d.record(ctx, o, key, f)
		if !errors.Is(err, ErrStale) {
			return seq, err
		}
		if err := d.catchUp(ctx, o); err != nil {
			return 0, err
		}
	}
}

func (d *Desk) record(ctx context.Context, o *openJob, key string, f job.Fact) (int64, error) {
	before, err := d.known(ctx, o, key)
	if err != nil || before != 0 {
		return before, err
	}
	if t, ok := f.(*job.Timer); ok && !t.Add && t.Seconds == nil && o.job.Running != nil && o.started != 0 {
		s := int64((d.clock.Mono() - o.started).Seconds() + 0.5)
		t.Seconds = &s
	}
	if err := checkFact(o.job, f, key); err != nil {
		return 0, err
	}
	if err := d.tryEvidence(ctx, o, f); err != nil {
		return 0, err
	}
	e, err := job.NewEvent(f, d.clock.Now(), key)
	if err != nil {
		return 0, err
	}
	after, next := o.job.Clone(), e
	next.Seq = o.job.Last + 1
	if err := after.Apply(next); err != nil {
		return 0, err
	}
	stored, old, err := d.store.Append(ctx, o.job.ID, o.job.Last+1, e, summary(after, o.known))
	if err != nil {
		return 0, err
	}
	if old {
		return stored.Seq, d.catchUp(ctx, o)
	}
	return stored.Seq, o.take(d, stored)
}

// known is the number of the event that already has this key, or 0. Only keys of the job's last events are looked up: a form is sent again
// within minutes, not months, and the store refuses a key that is older.
func (d *Desk) known(ctx context.Context, o *openJob, key string) (int64, error) {
	if o.job.Last == 0 {
		return 0, nil
	}
	events, err := d.store.Events(ctx, o.job.ID, max(0, o.job.Last-64))
	if err != nil {
		return 0, err
	}
	for _, e := range events {
		if e.Key == key {
			return e.Seq, d.catchUp(ctx, o)
		}
	}
	return 0, nil
}

// open brings a job into memory, reads what other windows or programs have written, and locks it.
func (d *Desk) open(ctx context.Context, id int64) (*openJob, error) {
	d.mu.Lock()
	o := d.jobs[id]
	if o == nil {
		o = &openJob{seers: map[chan int64]bool{}}
		d.jobs[id] = o
	}
	d.mu.Unlock()
	o.mu.Lock()
	if o.job == nil {
		j, err := job.Fold(id, nil)
		if err == nil {
			o.job = j
			err = d.catchUp(ctx, o)
		}
		if err != nil {
			o.job = nil
			o.mu.Unlock()
			return nil, err
		}
		return o, nil
	}
	if err := d.catchUp(ctx, o); err != nil {
		o.mu.Unlock()
		return nil, err
	}
	return o, nil
}

func (d *Desk) catchUp(ctx context.Context, o *openJob) error {
	events, err := d.store.Events(ctx, o.job.ID, o.job.Last)
	if err != nil {
		return err
	}
	for _, e := range events {
		if err := o.take(d, e); err != nil {
			return err
		}
	}
	return nil
}

// take applies a stored event and tells every window.
func (o *openJob) take(d *Desk, e job.Event) error {
	if e.Kind == job.Kind(&job.Timer{}) {
		o.started = 0
	}
	if err := o.job.Apply(e); err != nil {
		return err
	}
	if e.Kind == job.Kind(&job.Timer{}) && o.job.Running != nil && d.clock.Now().Sub(e.At).Abs() < time.Minute {
		o.started = max(1, d.clock.Mono())
	}
	o.tell(e.Seq)
	return nil
}

// running is how long the stretch that is going on has lasted.
func (o *openJob) running(c Clock) time.Duration {
	switch {
	case o.job.Running == nil:
		return 0
	case o.started != 0:
		return c.Mono() - o.started
	}
	return min(max(0, c.Now().Sub(o.job.Running.Since)), 12*time.Hour)
}

// Watch returns a channel that receives the number of a job's last event whenever it has grown, and a function that ends it.
func (d *Desk) Watch(ctx context.Context, id int64) (<-chan int64, func(), error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	last := o.job.Last
	o.mu.Unlock()
	ch := make(chan int64, 1)
	ch <- last
	o.watch.Lock()
	o.seers[ch] = true
	o.watch.Unlock()
	return ch, func() {
		o.watch.Lock()
		delete(o.seers, ch)
		o.watch.Unlock()
	}, nil
}

func (o *openJob) tell(seq int64) {
	o.watch.Lock()
	defer o.watch.Unlock()
	for ch := range o.seers {
		select {
		case <-ch: // an older number that nobody has read yet
		default:
		}
		ch <- seq
	}
}

// Jobs lists jobs, last changed first.
func (d *Desk) Jobs(ctx context.Context, search, state string) ([]JobRow, error) {
	if !slices.Contains(job.States, state) {
		state = ""
	}
	return d.store.Jobs(ctx, search, state)
}

// SettingOr is a setting, or what holds when it was never set.
func (d *Desk) SettingOr(ctx context.Context, name, usual string) string {
	if s, err := d.store.Setting(ctx, name); err == nil && s != "" {
		return s
	}
	return usual
}

// summary is the line of the list. known is what the diagnosis last knew of the job, nil when nothing was computed.
func summary(j *job.Job, known *job.Progress) JobSummary {
	if known == nil {
		p := Progress(j, nil)
		known = &p
	}
	s := JobSummary{Title: j.Intake.Machine, Owner: j.Intake.Owner, State: j.State.State, Waiting: j.State.Reason}
	text := []string{j.Intake.Complaint, j.Intake.Serial, j.Intake.History, j.Intake.Condition, j.Board.Title}
	for _, n := range j.Notes {
		text = append(text, n.Text)
	}
	for _, u := range j.Used {
		text = append(text, u.Ref, u.Type)
	}
	s.Text = strings.Join(text, "\n")
	for _, v := range j.Rail(*known) {
		if v.Current {
			s.Stage = v.Title
		}
	}
	return s
}
