package part

import (
	"fmt"
	"strconv"
)

// Gates without a package, for circuits that are given as gates: and or nand nor xor xnor not buf, output first.

var gateOps = map[string]struct {
	op     Op
	invert bool
}{"and": {OpAnd, false}, "or": {OpOr, false}, "nand": {OpAnd, true}, "nor": {OpOr, true}, "xor": {OpXor, false}, "xnor": {OpXor, true}, "buf": {OpAnd, false}, "not": {OpAnd, true}}

// IsGate reports whether a type name is one of the bare gates.
func IsGate(name string) bool {
	_, ok := gateOps[name]
	return ok
}

// Gate makes the type of a bare gate with one output and n inputs. Pins are Y, then I1 … In. Bare gates count
// as bipolar LS, because an open input of the circuits they come from is heard as high.
func Gate(name string, n int) (Match, error) {
	g, ok := gateOps[name]
	if !ok {
		return Match{}, fmt.Errorf("unknown gate %s", name)
	}
	single := name == "not" || name == "buf"
	if single && n != 1 || !single && n < 2 || n > 64 {
		return Match{}, fmt.Errorf("%s with %d inputs: not and buf take one, the others 2 to 64", name, n)
	}
	t := &Type{Name: name, Title: strconv.Itoa(n) + "-input " + name + " gate", Package: "gate", Prior: "ssi", Source: "the operator itself", nodeIndex: map[string]int{}}
	e := Expr{Op: g.op}
	for i := range n + 1 {
		nm, use := "I"+strconv.Itoa(i), Heard
		if i == 0 {
			nm, use = "Y", Driven
		} else {
			e.Args = append(e.Args, Expr{Op: OpPin, Index: i})
		}
		t.Nodes = append(t.Nodes, Node{Name: nm, Pins: []int{i + 1}, Use: use})
		t.Pins = append(t.Pins, Pin{nm, i})
		t.nodeIndex[nm] = i
	}
	if g.invert {
		e = Expr{Op: OpNot, Args: []Expr{e}}
	}
	t.Stmts = []Stmt{{Kind: Drive, Node: 0, Expr: e, Bit: -1, A: -1, B: -1, Ctl: -1, Ctl2: -1}}
	return Match{t, "LS"}, nil
}
