package app

import (
	"context"

	"halfsplit/internal/core/job"
)

// AddPhoto keeps a picture (JPEG, full and small) and shows it in the job, with the caption and stage of show. The same key again keeps
// nothing and returns the number of the first event.
func (d *Desk) AddPhoto(ctx context.Context, id int64, key string, full, small []byte, show job.Photo) (int64, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return 0, err
	}
	before, err := d.known(ctx, o, key)
	if err != nil || before != 0 {
		o.mu.Unlock()
		return before, err
	}
	show.ID = 1 // stands in until the picture has its number
	err = checkFact(o.job, &show, key)
	o.mu.Unlock()
	if err != nil {
		return 0, err
	}
	if show.ID, err = d.store.SavePhoto(ctx, id, full, small, show.W, show.H, d.clock.Now()); err != nil {
		return 0, err
	}
	return d.Record(ctx, id, key, &show)
}
