package handover

import (
	"fmt"

	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// lacking are the stages before the hand-over that are not finished.
func lacking(v *app.JobView) []job.StageView {
	var out []job.StageView
	for _, s := range v.Rail {
		if !s.Settled && s.Name != "handover" {
			out = append(out, s)
		}
	}
	return out
}

// at is a share of a length in picture units.
func at(share float64, size int) string { return fmt.Sprintf("%.1f", share*float64(size)) }
