package sim

// PatchKind is a primitive change to the board.
type PatchKind uint8

// Kinds of patch; Index (and Other, for a bridge) are circuit indices of what the comment names.
const (
	OutLow     PatchKind = iota // pin: its driver drives 0
	OutHigh                     // pin
	OutOpen                     // pin: its driver drives nothing
	OutUnknown                  // pin: its driver does anything
	InLow                       // pin: shorted to 0 inside the part
	InHigh                      // pin
	InOpen                      // pin: the part hears an open input
	JointOpen                   // pin: inside and outside are apart
	NetLow                      // net
	NetHigh                     // net
	Bridge                      // net, other net
	LinkOpen                    // link never conducts
	LinkShort                   // link is a closed contact
	LinkMaybe                   // link may or may not conduct
	Dark                        // lamp never lights and leaks nothing
	SrcLow                      // input
	SrcHigh                     // input
	SrcDead                     // input drives nothing
)

// Patch is one change in the lanes of Lanes.
type Patch struct {
	Kind         PatchKind
	Index, Other int
	Lanes        uint64
}

type pinPatch struct{ outLow, outHigh, outOpen, outX, inLow, inHigh, inOpen, joint uint64 }

type netPatch struct{ low, high uint64 }

type linkPatch struct{ open, short, maybe uint64 }

type srcPatch struct{ low, high, dead uint64 }

// supplyPatch is what shorts put on a net: those of the net, and those inside parts whose joints hold.
type supplyPatch struct {
	net int32
	d   drive
}

type bridge struct {
	a, b     int32
	lanes    uint64
	feedback bool // a path of gates leads from one end to the other
}

// Overlay is a set of patches, ready for one batch of 64 lanes.
type Overlay struct {
	patches  []Patch
	pins     map[int32]*pinPatch
	nets     map[int32]*netPatch
	links    map[int32]*linkPatch
	dark     map[int32]uint64
	srcs     map[int32]*srcPatch
	bridges  []bridge
	supply   []supplyPatch     // nets with shorts, once the patches are complete
	supers   []super           // groups that bridges join
	superOf  map[int32][]int32 // group → supers it is in
	fightX   map[int32]uint64  // net → lanes in which a bridge brings in an output that is not bipolar
	notPlain map[int32]uint64  // net → lanes in which a bridge brings in an output that is not plain 74
	odd      []int32           // groups with a link that is patched or off its net
	swept    []int32           // loops with an open joint
	circular bool              // some bridge closes a loop of gates
	seeds    []int32           // unit positions to settle in every round
	loopX    map[int32]uint64  // loop → lanes in which a bridge makes it part of a bigger one
	extra    map[int32][]int32 // node → units that listen only because of a joint
}

func entry[T any](m *map[int32]*T, k int) *T {
	if *m == nil {
		*m = map[int32]*T{}
	}
	p := (*m)[int32(k)]
	if p == nil {
		p = new(T)
		(*m)[int32(k)] = p
	}
	return p
}

func (o *Overlay) add(p Patch) {
	switch p.Kind {
	case OutLow:
		entry(&o.pins, p.Index).outLow |= p.Lanes
	case OutHigh:
		entry(&o.pins, p.Index).outHigh |= p.Lanes
	case OutOpen:
		entry(&o.pins, p.Index).outOpen |= p.Lanes
	case OutUnknown:
		entry(&o.pins, p.Index).outX |= p.Lanes
	case InLow:
		entry(&o.pins, p.Index).inLow |= p.Lanes
	case InHigh:
		entry(&o.pins, p.Index).inHigh |= p.Lanes
	case InOpen:
		entry(&o.pins, p.Index).inOpen |= p.Lanes
	case JointOpen:
		entry(&o.pins, p.Index).joint |= p.Lanes
	case NetLow:
		entry(&o.nets, p.Index).low |= p.Lanes
	case NetHigh:
		entry(&o.nets, p.Index).high |= p.Lanes
	case LinkOpen:
		entry(&o.links, p.Index).open |= p.Lanes
	case LinkShort:
		entry(&o.links, p.Index).short |= p.Lanes
	case LinkMaybe:
		entry(&o.links, p.Index).maybe |= p.Lanes
	case Dark:
		if o.dark == nil {
			o.dark = map[int32]uint64{}
		}
		o.dark[int32(p.Index)] |= p.Lanes
	case SrcLow:
		entry(&o.srcs, p.Index).low |= p.Lanes
	case SrcHigh:
		entry(&o.srcs, p.Index).high |= p.Lanes
	case SrcDead:
		entry(&o.srcs, p.Index).dead |= p.Lanes
	case Bridge:
		o.bridges = append(o.bridges, bridge{a: int32(p.Index), b: int32(p.Other), lanes: p.Lanes})
	}
}
