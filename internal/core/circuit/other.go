package circuit

// A board with an analogue half: what that half does to the logic, in terms of the logic. The nets that it decides are inputs from outside
// (Input.Imposed); Rest says how they stand on a sound board, an Other what is different when something of the analogue half is broken.

// ForceKind is what the other half does to one place.
type ForceKind uint8

// Kinds of force; Index counts what the comment names.
const (
	Drives0   ForceKind = iota // input: comes in low
	Drives1                    // input: comes in high
	DrivesX                    // input: cannot be told
	Unpowered                  // part: its outputs drive nothing
	Ailing                     // part: its supply is neither there nor gone
	Holds0                     // net: held low
	Holds1                     // net: held high
	Cuts                       // link: never conducts
	Closes                     // link: always conducts
	Doubts                     // link: may or may not conduct
	Darkens                    // lamp: never lit
	Detaches                   // pin: off its net
	Joins                      // net: bridged with the net With
	Silences                   // pin: its driver drives nothing
)

// Force is one thing that the other half does.
type Force struct {
	Do    ForceKind
	Index int
	With  int
}

// Other is a fault of the other half: what it is called and where it sits, as its own half says it, and what the logic notices. Part, Net and
// Pin are None where they do not apply; Pin is that of an open joint. Rate is in the unit of the weights of package fault.
type Other struct {
	Kind, At, Text string
	Part, Net      int
	Net2           int // the second net of a bridge
	Pin            int
	Copper         bool // outside the parts: a short or a bridge
	Before         bool // before the model: a source
	Rate           float64
	Ways           []OtherWay
}

// OtherWay is one severity, as likely as the others of its fault.
type OtherWay struct {
	Detail string // for people: "leaks as if 8 Ω lay across it"
	Forces []Force
}

// WithHalf is the circuit as the logic sees it when another half decides nets, lamps and supplies: sources are nets that become inputs, quiet are
// links that no longer pass more than a trickle, lamps are shown by nets of their own, which are inputs too. It returns the input of each net of
// sources, then that of each lamp of lamps. ground is a rail at 0 V. The circuit itself is not changed.
func (c *Circuit) WithHalf(sources, quiet, lamps []int, ground int) (*Circuit, []int) {
	x := *c
	x.Nets = append([]Net(nil), c.Nets...)
	x.Inputs = append([]Input(nil), c.Inputs...)
	x.Links = append([]Link(nil), c.Links...)
	x.Lamps = append([]Lamp(nil), c.Lamps...)
	var out []int
	input := func(n int) {
		x.Nets[n].Input = len(x.Inputs)
		out = append(out, len(x.Inputs))
		x.Inputs = append(x.Inputs, Input{Net: n, Pin: None, Imposed: true})
	}
	for _, n := range sources {
		input(n)
	}
	for _, l := range quiet {
		x.Links[l].Kind, x.Links[l].Ohms = Resistor, trickleOhms
	}
	for _, l := range lamps {
		n := len(x.Nets)
		x.Nets = append(x.Nets, Net{Hidden: true, Input: None})
		input(n)
		x.Lamps[l].A, x.Lamps[l].K, x.Lamps[l].Both = n, ground, false
	}
	return &x, out
}

// trickleOhms is a resistance that passes a level only where nothing else is.
const trickleOhms = 1e6
