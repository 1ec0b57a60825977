package oracle

// Expressions of the tables: finding their leaves and writing them with Verilog names.

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// A token is a sized constant, a name with a constant bit or range, or a bare name or number.
var tokenPattern = regexp.MustCompile(`\d*'[bdh][0-9a-fA-F]+|[A-Za-z0-9_]+(\[\d+(:\d+)?\])?`)

type translation struct {
	f     *function
	index map[leaf]int
	seen  map[string]bool // locals declared
	uses  int             // leaf bits mentioned
}

// expression makes a value function of the given width; texts after it are further expressions whose leaves are
// added (the condition of a three-state output).
func (c *compiler) expression(text string, width int, more ...string) (*function, error) {
	f := &function{kind: "value", width: width}
	t := &translation{f: f, index: map[leaf]int{}, seen: map[string]bool{}}
	result, err := c.translate(t, text)
	if err != nil {
		return nil, err
	}
	f.result = result
	whole := text
	for _, m := range more {
		if m == "" {
			continue
		}
		if f.when, err = c.translate(t, m); err != nil {
			return nil, err
		}
		whole += m
	}
	// Verilog's own operators are exact where no leaf occurs twice and only and, or, xor, not and joining occur;
	// ripple is written so that each bit is such a formula.
	simple := !strings.ContainsAny(whole, "?=<>+-!'") && !t.usesNames(c)
	f.native = len(f.leaves) == 0 || strings.HasPrefix(text, "ripple(") || (simple && t.uses == len(f.leaves))
	return c.add(f), nil
}

func (t *translation) usesNames(c *compiler) bool {
	for _, e := range c.s.Exprs {
		if t.seen[e.Name] {
			return true
		}
	}
	return false
}

func (t *translation) leaf(l leaf) int {
	t.uses++
	if i, ok := t.index[l]; ok {
		return i
	}
	i := len(t.f.leaves)
	t.index[l] = i
	t.f.leaves = append(t.f.leaves, l)
	return i
}

func (c *compiler) translate(t *translation, text string) (string, error) {
	if name, ok := strings.CutPrefix(text, "ripple("); ok {
		return c.ripple(t, strings.TrimSuffix(name, ")"))
	}
	var failure error
	out := tokenPattern.ReplaceAllStringFunc(text, func(token string) string {
		name, err := c.token(t, token)
		if err != nil && failure == nil {
			failure = err
		}
		return name
	})
	return out, failure
}

func (c *compiler) token(t *translation, token string) (string, error) {
	if strings.Contains(token, "'") {
		return token, nil
	}
	name, bits, indexed := strings.Cut(strings.TrimSuffix(token, "]"), "[")
	local := "n_" + name
	if pin, ok := c.unit[name]; ok && !indexed {
		first := !t.seen[name]
		i := t.leaf(leaf{pinLeaf, pin})
		if first {
			t.declare(name, 1)
			t.f.lines = append(t.f.lines, fmt.Sprintf("%s = v[%d];", local, i))
		}
		return local, nil
	}
	kind, offset, width, ok := c.vector(name)
	if !ok {
		return c.named(t, name, token)
	}
	hi, lo := width-1, 0
	if indexed {
		a, b, ranged := strings.Cut(bits, ":")
		hi, _ = strconv.Atoi(a)
		lo = hi
		if ranged {
			lo, _ = strconv.Atoi(b)
		}
		if hi >= width || lo > hi {
			return "", fmt.Errorf("no bit %s", token)
		}
	}
	if !t.seen[name] {
		t.declare(name, width)
		t.f.lines = append(t.f.lines, fmt.Sprintf("%s = %d'd0;", local, width))
	}
	for bit := lo; bit <= hi; bit++ {
		l := leaf{kind, offset + bit}
		_, had := t.index[l]
		i := t.leaf(l)
		if !had {
			t.f.lines = append(t.f.lines, fmt.Sprintf("%s[%d] = v[%d];", local, bit, i))
		}
	}
	if indexed {
		return fmt.Sprintf("%s[%s]", local, bits), nil
	}
	return local, nil
}

// vector finds a register or the memory's word.
func (c *compiler) vector(name string) (kind leafKind, offset, width int, ok bool) {
	if r, found := c.regs[name]; found {
		return stateLeaf, r.offset, r.width, true
	}
	if c.s.Memory != nil && c.s.Memory.Name == name {
		return memoryLeaf, 0, c.s.Memory.Bits, true
	}
	return 0, 0, 0, false
}

func (c *compiler) named(t *translation, name, token string) (string, error) {
	for _, e := range c.s.Exprs {
		if e.Name != name {
			continue
		}
		if !t.seen[name] {
			text, err := c.translate(t, e.Text)
			if err != nil {
				return "", err
			}
			t.declare(name, e.Width)
			t.f.lines = append(t.f.lines, fmt.Sprintf("n_%s = %s;", name, text))
		}
		return "n_" + token, nil
	}
	if _, err := strconv.Atoi(token); err == nil {
		return token, nil
	}
	return "", fmt.Errorf("unknown name %q", token)
}

func (t *translation) declare(name string, width int) {
	t.seen[name] = true
	t.f.locals = append(t.f.locals, fmt.Sprintf("reg [%d:0] n_%s;", width-1, name))
}

// ripple writes q + 1 bit by bit, so that a bit is known as soon as the bits below it force it.
func (c *compiler) ripple(t *translation, name string) (string, error) {
	r, ok := c.regs[name]
	if !ok {
		return "", fmt.Errorf("no register %q", name)
	}
	if _, err := c.token(t, name); err != nil {
		return "", err
	}
	bits := make([]string, r.width)
	for i := range bits {
		term := "~n_" + name + "[0]"
		if i > 0 {
			term = fmt.Sprintf("n_%s[%d] ^ (&n_%s[%d:0])", name, i, name, i-1)
		}
		bits[r.width-1-i] = term
	}
	return "{" + strings.Join(bits, ", ") + "}", nil
}
