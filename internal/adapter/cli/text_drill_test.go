package cli

import (
	"testing"

	"halfsplit/internal/app"
)

func TestDrillText(t *testing.T) {
	got := drillText(app.DrillView{
		Board: "Hall lamps", Faults: 1, Count: 200, Seed: 7, Have: []string{"scope", "meter"}, Slips: 0.02,
		Planner:     app.DrillFigures{Checks: 4.21, Checks95: 7, Minutes: 8.06, Minutes95: 15.5, InFirst: 0.973},
		Halving:     app.DrillFigures{Checks: 7.5, Checks95: 12, Minutes: 14, Minutes95: 25, InFirst: 0.9},
		Tracing:     app.DrillFigures{Checks: 9.25, Checks95: 18, Minutes: 17.1, Minutes95: 33, InFirst: 0.88},
		EntropyBits: 4.8, BoundChecks: 3.9, Invisible: 3,
		Calibration: []app.Calibration{{From: 0.4, To: 0.6, Stated: 0.51, Observed: 0.49, Count: 80}},
	})
	const want = `Hall lamps
200 drills with 1 fault each, seed 7; bench: scope, meter; 2 % of the readings are wrong
on purpose.

                                 checks  95 %  minutes  95 %  true fault in the first group
  halfsplit                         4.2   7.0      8.1  15.5  97 %
  halving the signal path           7.5  12.0     14.0  25.0  90 %
  tracing back from the symptom     9.2  18.0     17.1  33.0  88 %
  bound: fewer is impossible        3.9

  Mean and 95th percentile. The checks have to remove 4.8 bits of doubt on average.
  3 faults that no action shows were drawn again.

  stated        mean  true  suspects
  40 % to 60 %  51 %  49 %        80
`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
