package sim

// Words and planes. A lane's level is the set of what it may be: bit set in a plane = possible.

// all has every lane set.
const all = ^uint64(0)

// Heard is a level as a gate sees it: may be 0, may be 1.
type Heard struct{ P0, P1 uint64 }

// NetLevel is a level of copper: may be 0, may be 1, may float, may be a fight.
type NetLevel struct{ V0, V1, Z, F uint64 }

// drive is what is put on a net at one strength: surely 0, surely 1, maybe 0, maybe 1.
type drive struct{ m0, m1, y0, y1 uint64 }

func (d *drive) add(o drive) {
	d.m0 |= o.m0
	d.m1 |= o.m1
	d.y0 |= o.y0
	d.y1 |= o.y1
}

// fixed is a drive that is surely there in lanes m, at the given level.
func fixed(high bool, m uint64) drive {
	if high {
		return drive{m1: m, y1: m}
	}
	return drive{m0: m, y0: m}
}

func (d drive) mask(m uint64) drive { return drive{d.m0 & m, d.m1 & m, d.y0 & m, d.y1 & m} }

// gated lets through what a link may pass: surely in on.must, maybe in on.may.
func (d drive) gated(on conduct) drive {
	return drive{d.m0 & on.must, d.m1 & on.must, d.y0 & on.may, d.y1 & on.may}
}

// conduct is whether a link passes: surely, maybe.
type conduct struct{ must, may uint64 }

func lanes(b uint8, bit uint8) uint64 { return -uint64(b >> bit & 1) }

// heardOf spreads a stored byte (bit 0: may be 0, bit 1: may be 1) over all lanes.
func heardOf(b uint8) Heard { return Heard{lanes(b, 0), lanes(b, 1)} }

func netOf(b uint8) NetLevel { return NetLevel{lanes(b, 0), lanes(b, 1), lanes(b, 2), lanes(b, 3)} }

// byteOf is the inverse of heardOf, of lane 0.
func (h Heard) byteOf() uint8 { return uint8(h.P0&1 | h.P1&1<<1) }

func (n NetLevel) byteOf() uint8 { return uint8(n.V0&1 | n.V1&1<<1 | n.Z&1<<2 | n.F&1<<3) }

func (h Heard) or(o Heard) Heard { return Heard{h.P0 | o.P0, h.P1 | o.P1} }

func (n NetLevel) or(o NetLevel) NetLevel {
	return NetLevel{n.V0 | o.V0, n.V1 | o.V1, n.Z | o.Z, n.F | o.F}
}

// pick takes n in lanes m and o elsewhere.
func (n NetLevel) pick(m uint64, o NetLevel) NetLevel {
	return NetLevel{n.V0&m | o.V0&^m, n.V1&m | o.V1&^m, n.Z&m | o.Z&^m, n.F&m | o.F&^m}
}

func (h Heard) pick(m uint64, o Heard) Heard { return Heard{h.P0&m | o.P0&^m, h.P1&m | o.P1&^m} }

// mux is c ? a : b as sets.
func mux(c, a, b Heard) Heard {
	return Heard{c.P1&a.P0 | c.P0&b.P0, c.P1&a.P1 | c.P0&b.P1}
}

// Sign prints one lane of a net: 0 1 Z F, or X where it may be more than one.
func (n NetLevel) Sign(lane int) byte {
	v := n.V0>>lane&1 | n.V1>>lane&1<<1 | n.Z>>lane&1<<2 | n.F>>lane&1<<3
	switch v {
	case 1:
		return '0'
	case 2:
		return '1'
	case 4:
		return 'Z'
	case 8:
		return 'F'
	}
	return 'X'
}
