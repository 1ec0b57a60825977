package importer

// Rails and inputs: which nets the supply holds, which are driven from outside.

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// zeroNames are names of the common rail (common practice, no source).
var zeroNames = []string{"GND", "AGND", "DGND", "PGND", "SGND", "0V", "VSS", "GROUND", "EARTH"}

// namedVolts reads +5V, 5V, -12V, +12, 3V3, P12V, VCC. VCC and VDD alone are 5 V: guess tells that it is the habit of the era, not the name, that says so.
var voltName = regexp.MustCompile(`^([+-]|P|N|M|V)?(\d{1,3})(?:\.(\d{1,2}))?(V)?(\d)?(?:DC)?(?:_.*)?$`)

func namedVolts(name string) (v float64, guess, ok bool) {
	up := strings.ToUpper(strings.Trim(name, "!/ "))
	switch {
	case slices.Contains(zeroNames, up):
		return 0, false, true
	case up == "VCC" || up == "VDD":
		return 5, true, true
	}
	m := voltName.FindStringSubmatch(up)
	if m == nil || m[4] == "" && m[1] != "+" && m[1] != "-" || m[1] == "V" && m[4] != "" {
		return 0, false, false
	}
	v, err := strconv.ParseFloat(m[2]+"."+m[3]+m[5]+"0", 64)
	if err != nil || m[3] != "" && m[5] != "" {
		return 0, false, false
	}
	if m[1] == "-" || m[1] == "N" || m[1] == "M" {
		v = -v
	}
	return v, false, true
}

// supplyVolts is what a supply pin of a type wants; ok is false when the type does not say.
func supplyVolts(m part.Match, n part.Node) (v float64, ok bool) {
	switch {
	case n.HasV:
		return n.Volts, true
	case n.Name == "GND" || n.Name == "VSS":
		return 0, true
	case (n.Name == "VCC" || n.Name == "VDD") && (m.Family.Bipolar() || m.Family == "HCT" || m.Family == "nmos"):
		return 5, true
	}
	return 0, false
}

// vote is what the supply pins on a net want.
type vote struct {
	volts   float64
	said    int // pins that say volts
	any     int // pins that are supply pins
	differ  bool
	pos     finding.Pos
	example string
}

func (j *joiner) findRails() {
	votes := map[string]*vote{}
	for _, p := range j.n.parts {
		m, ok := j.match[p.ref]
		for _, w := range p.pins {
			if _, seen := j.rails[w.net]; !seen && w.net != "-" {
				if v, _, named := namedVolts(w.net); named {
					j.rails[w.net] = v
				}
			}
			if ok && !p.gate {
				vote1(votes, m, p.ref, w)
			}
		}
	}
	for _, net := range sortedKeys(votes) {
		v := votes[net]
		_, guess, named := namedVolts(net)
		switch {
		case net == "-" || named && !guess || named && v.said > 0:
		case v.differ:
			j.warnf(v.pos, net, "look at the pin numbers", "supply pins of different voltages are on net %s (one is %s); it is no rail", net, v.example)
		case v.said > 0:
			j.rails[net] = v.volts
			j.warnf(v.pos, net, "change rails: if it is another voltage", "net %s is taken as a rail of %g V: %s is on it", net, v.volts, v.example)
		default:
			j.rails[net] = 5
			j.warnf(v.pos, net, "change rails: if it is another voltage", "net %s is taken as a rail of 5 V, because %s is on it; nothing says its voltage", net, v.example)
		}
	}
}

// vote1 counts one pin.
func vote1(votes map[string]*vote, m part.Match, ref string, w npin) {
	numbers := m.Type.PinByName(pinWord(m.Type, w.pin))
	if len(numbers) == 0 {
		return
	}
	tp := m.Type.Pins[numbers[0]-1]
	if tp.Node < 0 || !m.Type.Nodes[tp.Node].Supply {
		return
	}
	v := votes[w.net]
	if v == nil {
		v = &vote{pos: w.pos, example: ref + "." + itoa(numbers[0]) + " (" + tp.Name + ")"}
		votes[w.net] = v
	}
	v.any++
	if volts, ok := supplyVolts(m, m.Type.Nodes[tp.Node]); ok {
		v.differ = v.differ || v.said > 0 && math.Abs(v.volts-volts) > 0.5
		v.volts, v.said = volts, v.said+1
	}
}

// supplies gives every supply pin that no file wires the rail that fits it, as a board file would, and lists it where several fit.
func (j *joiner) supplies() {
	load := map[string]int{}
	for i := range j.b.Parts {
		for _, w := range j.b.Parts[i].Pins {
			load[w.Net]++
		}
	}
	for i := range j.b.Parts {
		p := &j.b.Parts[i]
		m, ok := j.match[p.Ref]
		if !ok || p.Listed {
			continue
		}
		listed := map[int]bool{}
		for _, w := range p.Pins {
			for _, n := range m.Type.PinByName(w.Pin) {
				listed[n] = true
			}
		}
		for k, tp := range m.Type.Pins {
			if listed[k+1] || tp.Node < 0 || !m.Type.Nodes[tp.Node].Supply {
				continue
			}
			j.supply(p, m, k+1, m.Type.Nodes[tp.Node], load)
		}
	}
	for _, net := range sortedKeys(j.rails) {
		j.b.Rails = append(j.b.Rails, board.Rail{Net: net, Volts: j.rails[net]})
	}
	slices.SortStableFunc(j.b.Rails, func(a, b board.Rail) int { return cmp.Compare(b.Volts, a.Volts) })
}

// supply finds the rail for one unlisted supply pin, by the rule of a board file.
func (j *joiner) supply(p *board.Part, m part.Match, number int, n part.Node, load map[string]int) {
	want, said := supplyVolts(m, n)
	lo, hi := 2.0, 18.0
	switch {
	case n.HasV:
		tolerance := max(0.5, 0.1*math.Abs(n.Volts))
		lo, hi = want-tolerance, want+tolerance
	case n.Name == "GND" || n.Name == "VSS":
		lo, hi = 0, 0
	case n.Name == "VEE" || n.Name == "VBB":
		lo, hi = math.Inf(-1), 0
	case said:
		lo, hi = 4.5, 5.5
	}
	var fit []string
	for _, net := range sortedKeys(j.rails) {
		if v := j.rails[net]; v >= lo && v <= hi {
			fit = append(fit, net)
		}
	}
	switch {
	case len(fit) == 0:
		if !said {
			want = map[bool]float64{true: 0, false: 5}[n.Name == "VEE" || n.Name == "VBB"]
		}
		name := map[float64]string{0: "GND", 5: "VCC"}[want]
		if name == "" {
			name = strconv.FormatFloat(want, 'f', -1, 64) + "V"
			if want > 0 {
				name = "+" + name
			}
		}
		j.rails[name] = want
		j.warnf(p.Pos, name, "", "rail %s of %g V is added for the supply pins that the files leave out", name, want)
	case len(fit) > 1:
		best := slices.MaxFunc(fit, func(a, b string) int { return cmp.Or(cmp.Compare(load[a], load[b]), -cmp.Compare(a, b)) })
		p.Pins = append(p.Pins, board.Pin{Pin: itoa(number), Net: best, Pos: p.Pos})
		slices.SortStableFunc(p.Pins, func(a, b board.Pin) int { return natural(a.Pin, b.Pin) })
		j.warnf(p.Pos, p.Ref, "correct it in the board", "%s pin %d (%s) is not in the file; of the rails %s it is put on %s", p.Ref, number, n.Name, strings.Join(fit, ", "), best)
	}
}

// outside enters inputs, buses and nets that lie side by side.
func (j *joiner) outside() {
	seen := map[string]bool{}
	input := func(n nname) {
		if _, rail := j.rails[n.text]; rail || seen[n.text] || n.text == "-" {
			return
		}
		seen[n.text] = true
		j.b.Inputs = append(j.b.Inputs, board.Name{Text: n.text, Pos: n.pos})
	}
	for _, n := range j.n.inputs {
		input(n)
	}
	if len(j.n.inputs) == 0 && !j.n.gates {
		if found := j.plugInputs(); len(found) > 0 {
			var names []string
			for _, n := range found {
				names = append(names, n.text)
				input(n)
			}
			j.warnf(found[0].pos, "inputs", "change inputs: where that is wrong", "taken as driven from outside, because only a connector can drive them: %s", strings.Join(names, ", "))
		}
	}
	onPin := map[string]bool{}
	for _, p := range j.b.Parts {
		for _, w := range p.Pins {
			onPin[w.Net] = true
		}
	}
	known := func(net string) bool { return (onPin[net] || seen[net]) && net != "-" }
	taken := map[string]bool{}
	for _, b := range j.n.buses {
		distinct := map[string]bool{}
		name, _ := newWords().clean(b.name, false)
		bus := board.Bus{}
		for _, net := range b.nets {
			if known(net) && !distinct[net] {
				distinct[net] = true
				bus.Nets = append(bus.Nets, board.Name{Text: net})
			}
		}
		if _, rail := j.rails[name]; len(bus.Nets) == len(b.nets) && !known(name) && !rail && !taken[name] {
			taken[name], bus.Name = true, name
			j.b.Buses = append(j.b.Buses, bus)
		}
	}
	pairs := map[[2]string]bool{}
	for _, n := range j.n.near {
		pair := [2]string{min(n[0], n[1]), max(n[0], n[1])}
		if n[0] != n[1] && known(n[0]) && known(n[1]) && !pairs[pair] {
			pairs[pair] = true
			j.b.Near = append(j.b.Near, [2]board.Name{{Text: pair[0]}, {Text: pair[1]}})
		}
	}
}

// plugInputs are the nets that some input hears, that a connector is on, and that nothing on the board can drive.
func (j *joiner) plugInputs() []nname {
	type net struct {
		plug, heard, driven bool
		pos                 finding.Pos
	}
	nets := map[string]*net{}
	for _, p := range j.b.Parts {
		m, known := j.match[p.Ref]
		for _, w := range p.Pins {
			n := nets[w.Net]
			if n == nil {
				n = &net{pos: w.Pos}
				nets[w.Net] = n
			}
			if !known {
				n.driven = n.driven || j.records[p.Type].drives(w.Pin)
				continue
			}
			for _, number := range m.Type.PinByName(w.Pin) {
				if k := m.Type.Pins[number-1].Node; k >= 0 {
					n.heard = n.heard || m.Type.Nodes[k].Use&part.Heard != 0
					n.driven = n.driven || m.Type.Nodes[k].Use&part.Driven != 0
				}
			}
			n.plug = n.plug || strings.HasPrefix(p.Type, "conn-")
		}
	}
	var out []nname
	for name, n := range nets {
		if _, rail := j.rails[name]; n.plug && n.heard && !n.driven && !rail && name != "-" {
			out = append(out, nname{name, n.pos})
		}
	}
	slices.SortFunc(out, func(a, b nname) int { return cmp.Or(natural(a.text, b.text), cmp.Compare(a.text, b.text)) })
	return out
}
