package shell

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// StagePath is the page on which the work of a stage is done.
func StagePath(id int64, stage string) string {
	switch stage {
	case "find", "probe", "rails":
		return JobPath(id, "probe")
	}
	return JobPath(id, stage)
}

// CurrentStage is where the job stands; its clock is started for that.
func CurrentStage(v *app.JobView) string {
	for _, s := range v.Rail {
		if s.Current {
			return s.Name
		}
	}
	return "handover"
}

func stageSign(s job.StageView) string {
	switch {
	case s.Mark.Mark == job.NotNeeded:
		return "–"
	case s.Settled:
		return "✓"
	case s.Current:
		return "●"
	}
	return "○"
}

// stageWords say in a line where a stage stands.
func stageWords(s job.StageView) string {
	switch {
	case s.Mark.Mark == job.NotNeeded:
		return "not needed: " + s.Mark.Reason
	case s.Settled:
		return "done"
	case len(s.Blocked) > 0 && !s.Current:
		return "after " + strings.ToLower(s.Blocked[0])
	case len(s.Lacks) == 1:
		return "lacks " + s.Lacks[0].Text
	}
	return fmt.Sprintf("lacks %s and %d more", s.Lacks[0].Text, len(s.Lacks)-1)
}
