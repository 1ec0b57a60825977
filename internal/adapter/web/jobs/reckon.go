package jobs

import "fmt"

// reckonLink is a calculator that a stage asks for.
type reckonLink struct{ Path, Text string }

// reckonFor are the calculators of a stage, fed by the job's board.
func reckonFor(id int64, stage string) []reckonLink {
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
