package jobs

import (
	"fmt"
	"net/url"

	"halfsplit/internal/app"
)

// reckonLink is a calculator that a stage asks for.
type reckonLink struct{ Path, Text string }

// reckonFor are the calculators of a stage, fed by the job's board; where its supply is in the model, for each reservoir and regulator.
func reckonFor(v *app.JobView, stage string) []reckonLink {
	id := v.Job.ID
	var own []reckonLink
	if stage == "supply" || stage == "safety" {
		for _, k := range app.SupplyCalcs(v.Probe.Circuit) {
			if stage == "supply" || k.Name == "discharge" {
				own = append(own, reckonLink{fmt.Sprintf("/reckon/%s?job=%d&at=%s", k.Name, id, url.QueryEscape(k.At)), k.Text})
			}
		}
	}
	if len(own) > 0 {
		return own
	}
	list := map[string][]reckonLink{
		"safety":   {{"discharge", "Discharge resistor and time"}},
		"controls": {{"keys", "Keys that fail"}, {"sweep", "Slider sweep"}},
		"supply":   {{"ripple", "Ripple"}, {"regulator", "Regulator"}, {"discharge", "Discharge"}},
		"mend":     {{"e-series", "Nearest value"}, {"pull-up", "Pull-up range"}},
		"proof":    {{"memory", "Memory test results"}, {"roms", "Two ROM dumps"}},
		"backup":   {{"battery", "Backup cell's life"}},
		"adjust":   {{"pitch", "Cents of pitch"}, {"volts-per-octave", "Volts per octave"}},
	}
	var out []reckonLink
	for _, l := range list[stage] {
		out = append(out, reckonLink{fmt.Sprintf("/reckon/%s?job=%d", l.Path, id), l.Text})
	}
	return out
}
