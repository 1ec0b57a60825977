package pinout

import (
	"bytes"
	"cmp"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"halfsplit/internal/core/part"
)

// files of the symbol library that hold parts of the era.
var files = []string{"4xxx", "4xxx_IEEE", "74xx", "74xx_IEEE", "Amplifier_Audio", "Amplifier_Operational", "Analog", "Analog_ADC", "Analog_DAC", "Analog_Switch",
	"Audio", "CPU", "CPU_NXP_6800", "CPU_NXP_68000", "Comparator", "Interface", "Interface_LineDriver", "Interface_UART", "Isolator", "Logic_Programmable",
	"MCU_Intel", "Memory_EEPROM", "Memory_EPROM", "Memory_RAM", "Reference_Voltage", "Regulator_Linear", "Timer", "Transistor_Array", "Transistor_BJT", "Transistor_FET", "Video"}

// fewest is how much must have been compared, so that a library that has shrunk cannot pass.
const (
	fewestSymbols = 560
	fewestPins    = 8900
	fewestNames   = 6300
	fewestGates   = 500 // outputs of nameless gates whose inputs were compared
)

// A difference is settled by a data sheet: pins of a part of ours, as the symbol library and as ours have them.
type difference struct {
	Part    string   `yaml:"part"`
	Symbols []string `yaml:"symbols"` // names in the symbol library; all of them when empty
	What    string   `yaml:"what"`    // pins, direction, name, order or gate
	Pins    []int    `yaml:"pins"`
	Right   string   `yaml:"right"` // ours or theirs
	Settled string   `yaml:"settled by"`
	Why     string   `yaml:"why"`
}

// copied begins the source of records whose pins were taken from such a library: comparing them would prove nothing.
const copied = "pins as in an open library of schematic symbols"

type comparison struct {
	known   []difference
	used    []bool
	words   map[string][]string
	rename  map[string]string
	pins    int
	names   int
	gates   int
	symbols int
	parts   map[string]bool
	found   []string // what differs and is not settled
}

func load(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := yaml.NewDecoder(bytes.NewReader(data), yaml.Strict()).Decode(into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// Every pin of every part that both libraries know is compared by number, direction and name; pins that are drawn without names are
// compared by what the gate's output depends on. A difference counts as settled only while it is still there.
func TestPinsAgainstTheSymbolLibrary(t *testing.T) {
	lib, fl := part.Embedded()
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	all, err := symbols(files)
	if err != nil {
		t.Fatal(err)
	}
	c := &comparison{parts: map[string]bool{}}
	load(t, "differences.yaml", &c.known)
	load(t, "words.yaml", &c.words)
	load(t, "names.yaml", &c.rename)
	c.used = make([]bool, len(c.known))
	for _, s := range all {
		name := s.name
		if n, ok := c.rename[name]; ok {
			name = n
		}
		m, err := lib.Find(name)
		if err != nil || len(s.pins) < 3 || strings.HasPrefix(m.Type.Source, copied) {
			continue
		}
		c.compare(s, m.Type)
	}
	for _, f := range c.found {
		t.Error(f)
	}
	for i, u := range c.used {
		d := c.known[i]
		if !u {
			t.Errorf("differences.yaml: %s %v %s %v is no difference any more: take it out", d.Part, d.Symbols, d.What, d.Pins)
		}
		if d.Settled == "" || d.Right != "ours" && d.Right != "theirs" {
			t.Errorf("differences.yaml: %s %v: say who is right and which sheet settles it", d.Part, d.Pins)
		}
	}
	t.Logf("%d symbols of %d parts: %d pins by number and direction, %d by name, %d gate outputs by their inputs; %d differences settled",
		c.symbols, len(c.parts), c.pins, c.names, c.gates, len(c.known))
	if c.symbols < fewestSymbols || c.pins < fewestPins || c.names < fewestNames || c.gates < fewestGates {
		t.Errorf("compared only %d symbols, %d pins, %d names, %d gates", c.symbols, c.pins, c.names, c.gates)
	}
}

// differs notes a difference unless it is settled.
func (c *comparison) differs(s symbol, t *part.Type, what string, pin int, format string, args ...any) {
	for i, d := range c.known {
		if d.Part == t.Name && d.What == what && slices.Contains(d.Pins, pin) && (len(d.Symbols) == 0 || slices.Contains(d.Symbols, s.name)) {
			c.used[i] = true
			return
		}
	}
	c.found = append(c.found, fmt.Sprintf("%s: %s %s pin %d: %s: %s", t.Name, s.file, s.name, pin, what, fmt.Sprintf(format, args...)))
}

func (c *comparison) compare(s symbol, t *part.Type) {
	c.symbols++
	c.parts[t.Name] = true
	for n := range t.Pins {
		d, drawn := s.pins[n+1]
		k := t.Pins[n].Node
		switch {
		case !drawn && k < 0:
		case !drawn:
			c.differs(s, t, "pins", n+1, "%s is not drawn", t.Pins[n].Name)
		case k < 0:
			c.pins++
			if d.kind != "no_connect" && d.name != "NC" && d.name != "N.C." {
				c.differs(s, t, "pins", n+1, "%s drawn, nothing here", d.name)
			}
		default:
			c.pins++
			if !agree(d.kind, t, k) {
				c.differs(s, t, "direction", n+1, "%s is drawn as %s, here %s is %s", d.name, d.kind, t.Nodes[k].Name, t.Nodes[k].Direction())
			}
			c.name(s, t, n+1)
		}
	}
	for n := range s.pins {
		if n > len(t.Pins) {
			c.differs(s, t, "pins", n, "here are only %d pins", len(t.Pins))
		}
	}
	c.order(s, t)
	c.gatesOf(s, t)
}

// agree compares the kind of a drawn pin with what a node does.
func agree(kind string, t *part.Type, k int) bool {
	d := t.Nodes[k].Direction()
	switch kind {
	case "input":
		return d == "input" || d == "terminal" && t.Nodes[k].Use&part.Linked != 0 // a transistor's base, a switch's end
	case "output":
		return d == "output"
	case "tri_state":
		return d == "output" || d == "both"
	case "open_collector":
		return d == "output" && opens(t, k, part.DriveLow)
	case "open_emitter":
		return d == "output" || d == "terminal"
	case "bidirectional":
		return d == "both" || d == "terminal"
	case "power_in", "power_out":
		return d == "supply" || kind == "power_out" && d == "output" || kind == "power_in" && d == "terminal" // a regulator's raw input
	case "passive", "unspecified":
		return d == "terminal" || d == "supply"
	}
	return false
}

// opens reports whether a node has an output of a kind; unmodelled outputs may be of any.
func opens(t *part.Type, k int, kind part.Kind) bool {
	return slices.ContainsFunc(t.Stmts, func(s part.Stmt) bool { return s.Node == k && s.Kind == kind }) ||
		t.Nodes[k].Use&part.Linked != 0 && t.Nodes[k].Use&part.Driven != 0
}

var supplyWords = []string{"VCC", "GND", "VDD", "VSS", "VEE", "V+", "V-", "V", "VBB", "VS", "+", "-"}

// plainWord is a name without case, bars and signs.
func plainWord(s string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune("~{}/_() ", r) {
			return -1
		}
		return r
	}, strings.ToUpper(s))
}

var digits = regexp.MustCompile(`\d+`)

// name compares the words: the same, one of the further names, or a pair of words.yaml with the digits left to order.
func (c *comparison) name(s symbol, t *part.Type, pin int) {
	d, node := s.pins[pin], t.Nodes[t.Pins[pin-1].Node]
	if d.name == "~" || d.name == "" {
		return
	}
	c.names++
	theirs := plainWord(d.name)
	if node.Supply && slices.Contains(supplyWords, theirs) {
		return
	}
	for _, n := range append([]string{node.Name}, node.Also...) {
		own := plainWord(n)
		if theirs == own || s.units > 1 && (theirs == strings.TrimLeft(own, "0123456789") || theirs == strings.TrimRight(own, "0123456789")) {
			return
		}
	}
	if !slices.Contains(c.words[stem(d.name)], stem(node.Name)) {
		c.differs(s, t, "name", pin, "drawn as %s, here %s  [%s: %s]", d.name, node.Name, stem(d.name), stem(node.Name))
	}
}

func stem(s string) string { return digits.ReplaceAllString(plainWord(s), "#") }

// order compares numbered names: among pins of one unit whose words are alike, the numbers rise in the same order.
func (c *comparison) order(s symbol, t *part.Type) {
	groups := map[string][]int{}
	for n := range t.Pins {
		if d, ok := s.pins[n+1]; ok && t.Pins[n].Node >= 0 && digits.MatchString(d.name) && digits.MatchString(t.Pins[n].Name) {
			key := fmt.Sprint(d.unit, " ", stem(d.name), " ", stem(t.Pins[n].Name))
			groups[key] = append(groups[key], n+1)
		}
	}
	for _, pins := range groups {
		theirs, ours := slices.Clone(pins), slices.Clone(pins)
		slices.SortStableFunc(theirs, func(a, b int) int { return slices.Compare(numbers(s.pins[a].name), numbers(s.pins[b].name)) })
		slices.SortStableFunc(ours, func(a, b int) int {
			return slices.Compare(numbers(t.Pins[a-1].Name), numbers(t.Pins[b-1].Name))
		})
		for i, pin := range theirs {
			if pin != ours[i] {
				c.differs(s, t, "order", pin, "drawn as %s, here %s", s.pins[pin].name, t.Pins[pin-1].Name)
			}
		}
	}
}

func numbers(s string) (out []int) {
	for _, d := range digits.FindAllString(s, -1) {
		n, _ := strconv.Atoi(d)
		out = append(out, n)
	}
	return out
}

// gatesOf compares units that are drawn without names: the inputs of the unit are those that its output depends on.
func (c *comparison) gatesOf(s symbol, t *part.Type) {
	for u := 1; u <= s.units; u++ {
		var in, out []int
		named := false
		for n, d := range s.pins {
			if d.unit != u || n > len(t.Pins) || t.Pins[n-1].Node < 0 {
				continue
			}
			named = named || d.name != "~" && d.name != ""
			switch t.Nodes[t.Pins[n-1].Node].Direction() {
			case "input":
				in = append(in, n)
			case "output":
				out = append(out, n)
			}
		}
		if named || len(out) != 1 {
			continue
		}
		c.gates++
		slices.Sort(in)
		if want := dependsOn(t, t.Pins[out[0]-1].Node); want != nil && !slices.Equal(in, want) {
			c.differs(s, t, "gate", out[0], "drawn with the inputs %v, here %v", in, want)
		}
	}
}

// dependsOn lists the first pins of what an output listens to, sorted; nil when the part remembers.
func dependsOn(t *part.Type, node int) []int {
	var out []int
	for _, s := range t.Stmts {
		if s.Node != node {
			continue
		}
		for _, e := range []part.Expr{s.Expr, s.Cond} {
			e.Leaves(func(l part.Expr) {
				if l.Op == part.OpPin {
					out = append(out, t.Nodes[l.Index].Pins[0])
				}
			})
		}
	}
	slices.SortFunc(out, cmp.Compare[int])
	return slices.Compact(out)
}
