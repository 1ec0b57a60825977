package analog

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/unit"
)

// Kind names a kind of fault, as files and JSON write it.
type Kind string

// The kinds of analogue fault.
const (
	Open           Kind = "open"
	Short          Kind = "short"
	Leaky          Kind = "leaky"
	Drifted        Kind = "drifted"
	LowCapacitance Kind = "low-capacitance"
	HighESR        Kind = "high-esr"
	JunctionOpen   Kind = "junction-open"
	JunctionShort  Kind = "junction-short"
	LowGain        Kind = "low-gain"
	StuckHigh      Kind = "stuck-high"
	StuckLow       Kind = "stuck-low"
	InputDead      Kind = "input-dead"
	Offset         Kind = "offset"
	Dropout        Kind = "dropout"
	Oscillating    Kind = "oscillating"
	FuseBlown      Kind = "fuse-blown"
	TrackWorn      Kind = "track-worn"
	WiperOpen      Kind = "wiper-open"
	WrongPart      Kind = "wrong-part"
	Reversed       Kind = "reversed"
	JointOpen      Kind = "joint-open"
	NetShort       Kind = "net-short"
	Bridge         Kind = "bridge"
	SourceDead     Kind = "source-dead"
	SourceLow      Kind = "source-low"
)

// Kinds lists all kinds in the order of the documents.
func Kinds() []Kind {
	return []Kind{Open, Short, Leaky, Drifted, LowCapacitance, HighESR, JunctionOpen, JunctionShort, LowGain, StuckHigh, StuckLow, InputDead, Offset, Dropout,
		Oscillating, FuseBlown, TrackWorn, WiperOpen, WrongPart, Reversed, JointOpen, NetShort, Bridge, SourceDead, SourceLow}
}

// Fault is one physical thing wrong in one place. Device counts Model.Devices; Pin and PinB are terminals of it where the kind sits at one
// or between two; A and B are circuit nets of a net-short (A) or bridge (A < B). What does not apply is -1.
type Fault struct {
	Kind      Kind
	Device    int
	Pin, PinB int
	A, B      int
}

// Way is one severity of a fault, in electrical terms. Ripple is what it adds to the ripple of a node (an oscillation, which the solver has
// no model of), in volts peak to peak.
type Way struct {
	Patch      elec.Patch
	Detail     string // for people: "to about 2 times its value"
	RippleNode int
	Ripple     float64
	// Smear tells that the severities of the fault are a scale, of which the ways are samples.
	Smear bool
}

func none(k Kind) Fault { return Fault{Kind: k, Device: -1, Pin: -1, PinB: -1, A: -1, B: -1} }

// At is the place as files write it: R3, U2.6, D3+D4.
func (m *Model) At(f Fault) string {
	switch {
	case f.Kind == Bridge:
		return m.C.NetName(f.A) + "+" + m.C.NetName(f.B)
	case f.Kind == NetShort:
		return m.C.NetName(f.A)
	}
	d := m.Devices[f.Device]
	if f.Pin >= 0 && d.Part != circuit.None {
		at := m.pinName(d, f.Pin)
		if f.PinB >= 0 {
			at += "+" + m.pinName(d, f.PinB)
		}
		return at
	}
	return d.Name
}

func (m *Model) pinName(d Device, pin int) string {
	if p := d.Pins[pin]; p != circuit.None {
		return m.C.PinName(p)
	}
	return d.Name + "." + elec.Terminals(d.Kind)[pin]
}

// Name is KIND@WHERE.
func (m *Model) Name(f Fault) string { return string(f.Kind) + "@" + m.At(f) }

// Part is the part a fault is in, or circuit.None.
func (m *Model) Part(f Fault) int {
	if f.Device < 0 {
		return circuit.None
	}
	return m.Devices[f.Device].Part
}

// Net is the net that the fault touches, or circuit.None.
func (m *Model) Net(f Fault) int {
	if f.A >= 0 {
		return f.A
	}
	if f.Pin >= 0 && f.Device >= 0 && m.Devices[f.Device].Part != circuit.None {
		if p := m.Devices[f.Device].Pins[f.Pin]; p != circuit.None {
			return m.C.Pins[p].Net
		}
	}
	return circuit.None
}

// Text says the fault in a sentence; detail is that of its likeliest way.
func (m *Model) Text(f Fault, detail string) string {
	if detail != "" {
		detail = " " + detail
	}
	at := m.At(f)
	if f.Device >= 0 {
		d := m.Devices[f.Device]
		if d.Part != circuit.None && f.Pin < 0 {
			if v := m.value(d); v != "" {
				at += " (" + v + ")"
			}
		}
		if d.Part == circuit.None {
			at = "source " + d.Name
			if d.Source.Kind == "load" {
				at = "load " + d.Name
			}
		}
	}
	switch f.Kind {
	case Open:
		return at + " is open"
	case Short:
		return at + " is shorted"
	case Leaky:
		return at + " leaks" + detail
	case Drifted:
		return at + " has drifted" + detail
	case LowCapacitance:
		return at + " has lost capacitance" + detail
	case HighESR:
		return at + " has a high series resistance" + detail
	case JunctionOpen:
		return at + ": open inside the part"
	case JunctionShort:
		return at + ": shorted inside the part"
	case LowGain:
		return at + " has lost its current gain"
	case StuckHigh:
		return at + ": the output is stuck at the positive supply inside the part"
	case StuckLow:
		return at + ": the output is stuck at the negative supply inside the part"
	case InputDead:
		return at + ": the input stage is dead"
	case Offset:
		return at + " has an input offset" + detail
	case Dropout:
		return at + " needs more volts across it than it should" + detail
	case Oscillating:
		return at + " oscillates"
	case FuseBlown:
		return at + " has blown"
	case TrackWorn:
		return at + ": the track is worn" + detail
	case WiperOpen:
		return at + ": the wiper makes no contact"
	case WrongPart:
		return at + ": a wrong part is fitted" + detail
	case Reversed:
		return at + " is fitted the wrong way round"
	case JointOpen:
		return "open joint, socket contact or track at " + at
	case NetShort:
		return "net " + at + " is shorted to ground outside the parts" + detail
	case Bridge:
		return "nets " + m.C.NetName(f.A) + " and " + m.C.NetName(f.B) + " are bridged" + detail
	case SourceDead:
		return at + " gives nothing: the cause lies before the model"
	case SourceLow:
		return at + " is off its value" + detail + ": the cause lies before the model"
	}
	return m.Name(f)
}

func (m *Model) value(d Device) string {
	switch d.Kind {
	case elec.Resistor, elec.Potentiometer:
		return unit.Format(d.Value) + "Ω"
	case elec.Capacitor:
		if d.Value >= 1e-3 { // as it stands on the part
			return fmt.Sprintf("%.0fµF", d.Value*1e6)
		}
		return unit.Format(d.Value) + "F"
	}
	return ""
}

// Compare orders faults by place and kind.
func Compare(a, b Fault) int {
	return cmp.Or(cmp.Compare(a.Device, b.Device), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B), cmp.Compare(a.Pin, b.Pin), cmp.Compare(a.PinB, b.PinB), cmp.Compare(a.Kind, b.Kind))
}

// Find reads KIND@WHERE; it must be one of the faults that the universe holds.
func (u *Universe) Find(s string) (int, error) {
	var names []string
	for i, f := range u.Faults {
		n := u.M.Name(f)
		if n == s {
			return i, nil
		}
		names = append(names, n)
	}
	kind, _, ok := strings.Cut(s, "@")
	if !ok {
		return -1, fmt.Errorf("%q: a fault is written KIND@WHERE, such as leaky@C3", s)
	}
	if !slices.Contains(Kinds(), Kind(kind)) {
		var words []string
		for _, k := range Kinds() {
			words = append(words, string(k))
		}
		return -1, fmt.Errorf("no kind of fault %q; %s", kind, finding.DidYouMean(kind, words))
	}
	return -1, fmt.Errorf("%s is none of the faults that this board can have; %s", s, finding.DidYouMean(s, names))
}
