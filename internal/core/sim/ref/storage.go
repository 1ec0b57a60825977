package ref

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Stored bits and memories: what they take over at the end of a round, and what a memory reads out.

// clause is what a clause of a store came to at the end of a round.
type clause struct{ cond, val set }

// word is a memory word, lowest bit first: each bit a subset of {0, 1}.
type word []set

func newMemories(c *circuit.Circuit) [][]word {
	var out [][]word
	for _, m := range c.Memories {
		words := make([]word, m.Stmt.Words)
		for a := range words {
			words[a] = make(word, m.Stmt.Width)
			for b := range words[a] {
				words[a][b] = unknown
				if a < len(m.Contents) && b < 8 {
					words[a][b] = truth(m.Contents[a]>>b&1 == 1)
				}
			}
		}
		out = append(out, words)
	}
	return out
}

// clauses works out all clauses of all stores with the levels as they are.
func (r *run) clauses() [][]clause {
	var out [][]clause
	v := view{r: r}
	for _, s := range r.c.Stores {
		var cs []clause
		for _, cl := range s.Stmt.Clauses {
			cs = append(cs, clause{value(cl.Cond, v.leaf(s.Part)), value(cl.Val, v.leaf(s.Part))})
		}
		out = append(out, cs)
	}
	return out
}

// next gives a bit's next value: the first clause that is active decides, else it holds. Conditions and values are each on their own.
func next(s circuit.Store, hold set, before, now []clause) set {
	out := hold
	for i := len(now) - 1; i >= 0; i-- {
		switch s.Stmt.Clauses[i].When {
		case part.While:
			out = choose(now[i].cond, now[i].val, out)
		case part.Rise:
			edge := both(before[i].cond.invert(), now[i].cond)
			out = choose(edge, before[i].val, out)
		case part.Fall:
			edge := both(before[i].cond, now[i].cond.invert())
			out = choose(edge, before[i].val, out)
		}
	}
	return out
}

// take lets every stored bit and memory take its next value, all at once, and tells whether any changed. When it is late, what changes
// becomes unknown and stays so for the moment.
func (r *run) take(late bool) bool {
	changed := false
	now := r.clauses()
	writes := r.writes()
	for i, s := range r.c.Stores {
		n := next(s, r.now.bits[s.Bit], r.before[i], now[i])
		if n == r.now.bits[s.Bit] || r.frozen[s.Bit] {
			continue
		}
		changed = true
		if late {
			n, r.frozen[s.Bit] = unknown, true
		}
		r.now.bits[s.Bit] = n
	}
	r.before = now
	for _, w := range writes {
		old := r.memory[w.memory][w.address]
		for b, n := range w.data {
			place := cell{w.memory, w.address, b}
			if n == old[b] || r.frozenCells[place] {
				continue
			}
			changed = true
			r.now.rewrote[w.memory][w.address] = true
			if late {
				n, r.frozenCells[place] = unknown, true
			}
			old[b] = n
		}
	}
	return changed
}

type cell struct{ memory, address, bit int }

// write is a word that a memory takes, or may take.
type write struct {
	memory, address int
	data            word
}

// writes lists what the memories take at the end of this round.
func (r *run) writes() []write {
	var out []write
	v := view{r: r}
	for i, m := range r.c.Memories {
		if m.Stmt.Kind != part.RAM {
			continue
		}
		enabled := value(m.Stmt.Cond, v.leaf(m.Part))
		if enabled == can0 {
			continue
		}
		addresses := v.addresses(i)
		data := make(word, m.Stmt.Width)
		for b := range data {
			data[b] = value(m.Stmt.Data[m.Stmt.Width-1-b], v.leaf(m.Part))
		}
		for _, a := range addresses {
			w := write{i, a, make(word, len(data))}
			for b := range data {
				w.data[b] = data[b]
				if enabled == unknown || len(addresses) > 1 {
					w.data[b] |= r.memory[i][a][b]
				}
			}
			out = append(out, w)
		}
	}
	return out
}

// addresses lists all words that a memory's address may mean.
func (v view) addresses(memory int) []int {
	out := []int{0}
	for _, e := range v.r.w.addresses[memory] {
		line := v.value(e)
		var longer []int
		for _, a := range out {
			if line&can0 != 0 {
				longer = append(longer, a<<1)
			}
			if line&can1 != 0 {
				longer = append(longer, a<<1|1)
			}
		}
		out = longer
	}
	return out
}

// read gives what a memory reads out: per bit, all that the words hold which the address may mean.
func (v view) read(memory int) word {
	m := v.r.c.Memories[memory]
	out := make(word, m.Stmt.Width)
	for _, a := range v.addresses(memory) {
		for b := range out {
			if v.doubts(!v.r.now.rewrote[memory][a]) {
				out[b] = unknown
			}
			out[b] |= v.r.memory[memory][a][b]
		}
	}
	return out
}
