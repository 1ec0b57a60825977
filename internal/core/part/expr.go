package part

// Expressions: a small tree over pins heard, stored bits and memory bits. All names that are not leaves
// have been replaced by what they stand for, so a tree speaks of leaves only.

// Op is the operator of an expression node.
type Op uint8

// Operators. OpTable is a truth table column: Args are its inputs, Rows its rows.
const (
	OpConst Op = iota // Val 0, 1 or 2 (unknown)
	OpPin             // level heard at node Index
	OpBit             // stored bit Index, or memory output bit
	OpNot
	OpAnd
	OpOr
	OpXor
	OpMux // Args[0] ? Args[1] : Args[2]
	OpTable
)

// Expr is an expression; the zero Expr is the constant 0.
type Expr struct {
	Op    Op
	Index int
	Val   uint8
	Args  []Expr
	Rows  []Row
}

// Row is one row of a truth table for one output: the inputs that must match and the output.
type Row struct {
	In  []uint8 // 0, 1, 2 = either, in the order of Args
	Out uint8   // 0, 1, 2 = unknown
}

// Leaves calls f for every leaf (OpPin and OpBit) of the tree, repeats included, left to right.
func (e Expr) Leaves(f func(Expr)) {
	if e.Op == OpPin || e.Op == OpBit {
		f(e)
		return
	}
	for _, a := range e.Args {
		a.Leaves(f)
	}
}
