package app

import (
	"cmp"
	"context"
	"io"
	"slices"
)

// Restore takes a backup in place of everything that is there, all or nothing. What was in memory is forgotten; open windows are told
// of the jobs as they are now.
func (d *Desk) Restore(ctx context.Context, r io.Reader) error {
	d.mu.Lock()
	type held struct {
		id int64
		o  *openJob
	}
	var all []held
	for id, o := range d.jobs {
		all = append(all, held{id, o})
	}
	d.mu.Unlock()
	slices.SortFunc(all, func(a, b held) int { return cmp.Compare(a.id, b.id) }) // two restores at once take the locks in one order
	for _, h := range all {
		h.o.mu.Lock()
		defer h.o.mu.Unlock()
	}
	err := d.store.Restore(ctx, r)
	for _, h := range all {
		if h.o.work != nil {
			h.o.work.cancel()
		}
		h.o.job, h.o.bench, h.o.work, h.o.known, h.o.started = nil, nil, nil, nil, 0
	}
	d.mu.Lock()
	clear(d.boards)
	d.used = nil
	d.mu.Unlock()
	return err
}
