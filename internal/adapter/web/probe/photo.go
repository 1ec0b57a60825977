package probe

import (
	"fmt"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// photoWithParts is the photo of a job on which most parts are marked.
func photoWithParts(j *job.Job) (best job.PhotoLine, found bool) {
	most := 0
	for _, p := range j.Photos {
		n := 0
		for _, s := range p.Spots {
			if s.Part != "" {
				n++
			}
		}
		if n > most {
			most, best, found = n, p, true
		}
	}
	return best, found
}

// shareText is how far a part is suspected, for its mark.
func shareText(p *app.ProbeView, part string) string {
	for _, s := range p.Diagnosis.Parts {
		if s.Part == part {
			return " " + shell.Percent(s.Probability)
		}
	}
	return ""
}

// onPhoto is a share of a photo's width or height in its own units.
func onPhoto(share float64, size int) string { return fmt.Sprintf("%.1f", share*float64(size)) }
