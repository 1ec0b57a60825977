package reckon

import (
	"net/http"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
)

// family is a group of calculators as the list shows it.
type family struct {
	Title string
	Names []string // as app.CalcList names them
	Pages []link   // pages of their own
}

type link struct{ Path, Title, Text string }

// families order the list by what is on the bench.
var families = []family{
	{"Supplies and heat", []string{"ripple", "reservoir", "regulator", "heatsink", "discharge", "battery", "track"}, nil},
	{"Levels and lamps", []string{"pull-up", "led", "segments", "divider"}, nil},
	{"Times and filters", []string{"one-shot", "oscillator", "rc", "filter", "sallen-key"}, nil},
	{"Pitch", []string{"pitch", "volts-per-octave", "hertz-per-volt"}, nil},
	{"Markings and values", []string{"resistor", "capacitor", "e-series"}, nil},
	{"Keys and sliders", []string{"taper", "wear"}, []link{
		{"/reckon/keys", "Key matrix", "which line, diode or contact makes keys fail, repeat or ghost"},
		{"/reckon/sweep", "Slider sweep", "dead spots and law from readings along the track"},
	}},
	{"Memories", nil, []link{
		{"/reckon/memory", "Failing memory reads", "which chip, data bit or address line they point to"},
		{"/reckon/roms", "Two dumps of a ROM", "bits that rose or fell, lines that are stuck, shorted or swapped"},
	}},
}

// examples fill a form with figures that make sense, one of each calculator. Those of pull-up, one-shot, battery, discharge and track are
// worked in the data sheets and books that the calculators cite; the others are common practice.
var examples = map[string]string{
	"ripple": "current=0.8&capacitance=4700u&secondary=9", "reservoir": "current=0.8&secondary=9&lowest=7.5", "regulator": "secondary=9&current=0.8&capacitance=4700u",
	"heatsink": "power=5", "discharge": "capacitance=220u&voltage=340&resistor=1k", "battery": "cell=nicd&cells=3&capacity=60&retention=20u",
	"pull-up": "driver=74&load=74&drivers=4&loads=3&tolerance=0", "led": "supply=5&forward=2&current=10m", "segments": "digits=4&average=5m", "divider": "r1=10k&r2=10k",
	"rc": "resistor=10k&capacitance=10u", "filter": "resistor=1k&capacitance=159.15n&at=1k", "sallen-key": "r1=10k&r2=10k&c1=22n&c2=10n",
	"one-shot": "part=74LS123&resistor=10k&capacitance=100n", "oscillator": "part=555&ra=1k&resistor=10k&capacitance=10n", "pitch": "frequency=466.1638",
	"volts-per-octave": "voltage=4&frequency=522", "hertz-per-volt": "voltage=2", "resistor": "mark=yellow+violet+red+gold", "capacitor": "mark=104K", "e-series": "value=4.3k",
	"taper": "total=100k&quarter=5k&half=15k&three=45k", "track": "length=100&width=0.5",
	"wear": "readings=0+12%2C+10+1k%2C+20+2k%2C+30+3k%2C+40+4k%2C+50+open%2C+60+6k%2C+70+7k%2C+80+8k%2C+90+9k%2C+100+10k",
}

// familyOf names the family of a calculator.
func familyOf(name string) string {
	for _, f := range families {
		for _, n := range f.Names {
			if n == name {
				return f.Title
			}
		}
	}
	return ""
}

// index lists everything, in families.
func (p *pages) index(w http.ResponseWriter, r *http.Request) error {
	src, err := p.source(r)
	if err != nil {
		return err
	}
	rows := map[string]app.CalcRow{}
	for _, c := range app.CalcList() {
		rows[c.Name] = c
	}
	p.Render(w, r, http.StatusOK, indexPage(shell.Info{Shell: p.Shell, Title: "Reckon", Nav: "reckon"}, src, rows))
	return nil
}
