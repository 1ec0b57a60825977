package ref

// Sets of possibilities. A level that the model cannot know is the set of all that it may be.

// set is a subset of {0, 1, Z, F}. What an input hears, a stored bit and the value of an expression are subsets of {0, 1}.
type set uint8

const (
	can0 set = 1 << iota
	can1
	canZ
	canF

	unknown  = can0 | can1
	anything = can0 | can1 | canZ | canF
)

// sign prints a set: what it must be, or X.
func (s set) sign() byte {
	switch s {
	case can0:
		return '0'
	case can1:
		return '1'
	case canZ:
		return 'Z'
	case canF:
		return 'F'
	}
	return 'X'
}

// members lists the single possibilities of a set.
func (s set) members() []set {
	var out []set
	for _, m := range []set{can0, can1, canZ, canF} {
		if s&m != 0 {
			out = append(out, m)
		}
	}
	return out
}

// invert swaps 0 and 1 of a subset of {0, 1}.
func (s set) invert() set {
	var out set
	if s&can0 != 0 {
		out |= can1
	}
	if s&can1 != 0 {
		out |= can0
	}
	return out
}
