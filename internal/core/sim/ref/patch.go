package ref

// Kind is a primitive fault.
type Kind uint8

// The primitive faults and what Patch.At counts; docs/simulation.md, section Faults, says what they do.
const (
	OutLow     Kind = iota // pin
	OutHigh                // pin
	OutOpen                // pin
	OutUnknown             // pin
	InLow                  // pin
	InHigh                 // pin
	InOpen                 // pin
	JointOpen              // pin
	NetLow                 // net
	NetHigh                // net
	Bridge                 // net, with Patch.To the other net
	LinkOpen               // link
	LinkShort              // link
	LinkMaybe              // link
	Dark                   // lamp
	SrcLow                 // input
	SrcHigh                // input
	SrcDead                // input
)

// Patch is one primitive fault. At is an index into the Pins, Nets, Links, Lamps or Inputs of the circuit,
// as the Kind says; To is used by Bridge only.
type Patch struct {
	Kind Kind
	At   int
	To   int
}
