package ref

// Disjoint sets of nodes: which are one, or belong together.

type sets []int

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

// find gives the member that stands for x's set.
func (s sets) find(x int) int {
	for s[x] != x {
		x = s[x]
	}
	return x
}

func (s sets) join(x, y int) {
	x, y = s.find(x), s.find(y)
	s[max(x, y)] = min(x, y)
}
