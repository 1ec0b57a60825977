package part

import (
	"fmt"
	"strings"
)

// The expression parser: recursive descent over the tokens of one statement.

type scanner struct {
	s   string
	pos int
}

func nameByte(c byte) bool {
	return c == '_' || '0' <= c && c <= '9' || 'A' <= c && c <= 'Z' || 'a' <= c && c <= 'z'
}

// next returns the next token: a name, an operator, "->" or "" at the end.
func (s *scanner) next() string {
	for s.pos < len(s.s) && (s.s[s.pos] == ' ' || s.s[s.pos] == '\t') {
		s.pos++
	}
	if s.pos == len(s.s) {
		return ""
	}
	start := s.pos
	if s.s[s.pos] == '/' {
		s.pos++
	}
	for s.pos < len(s.s) && nameByte(s.s[s.pos]) {
		s.pos++
	}
	if s.pos > start+1 || s.pos == start+1 && s.s[start] != '/' {
		for s.pos < len(s.s) && (s.s[s.pos] == '+' || s.s[s.pos] == '-' && !strings.HasPrefix(s.s[s.pos:], "->")) {
			s.pos++
		}
		if s.pos+1 < len(s.s) && s.s[s.pos] == '.' && '0' <= s.s[s.pos+1] && s.s[s.pos+1] <= '9' {
			for s.pos++; s.pos < len(s.s) && '0' <= s.s[s.pos] && s.s[s.pos] <= '9'; s.pos++ {
			}
		}
		return s.s[start:s.pos]
	}
	if strings.HasPrefix(s.s[start:], "->") {
		s.pos = start + 2
		return "->"
	}
	s.pos = start + 1
	return s.s[start:s.pos]
}

func (s *scanner) peek() string {
	p := s.pos
	t := s.next()
	s.pos = p
	return t
}

func isName(t string) bool {
	return t != "" && (nameByte(t[0]) || t[0] == '/' && len(t) > 1)
}

// maxDepth bounds the nesting of an expression, so that a hostile file cannot exhaust the stack.
const maxDepth = 200

type exprParser struct {
	scanner
	leaf  func(name string) (Expr, error)
	depth int
}

func (p *exprParser) expr() (Expr, error) {
	if p.depth++; p.depth > maxDepth {
		return Expr{}, fmt.Errorf("expression nested more than %d deep", maxDepth)
	}
	defer func() { p.depth-- }()
	c, err := p.binary(0)
	if err != nil || p.peek() != "?" {
		return c, err
	}
	p.next()
	a, err := p.expr()
	if err != nil {
		return a, err
	}
	if t := p.next(); t != ":" {
		return a, fmt.Errorf("expected ':' after %q, found %q", "?", t)
	}
	b, err := p.expr()
	return Expr{Op: OpMux, Args: []Expr{c, a, b}}, err
}

var levels = []struct {
	sign string
	op   Op
}{{"|", OpOr}, {"^", OpXor}, {"&", OpAnd}}

func (p *exprParser) binary(level int) (Expr, error) {
	if level == len(levels) {
		return p.unary()
	}
	a, err := p.binary(level + 1)
	if err != nil || p.peek() != levels[level].sign {
		return a, err
	}
	e := Expr{Op: levels[level].op, Args: []Expr{a}}
	for p.peek() == levels[level].sign {
		p.next()
		b, err := p.binary(level + 1)
		if err != nil {
			return b, err
		}
		e.Args = append(e.Args, b)
	}
	return e, nil
}

func (p *exprParser) unary() (Expr, error) {
	switch t := p.next(); {
	case t == "!":
		if p.depth++; p.depth > maxDepth {
			return Expr{}, fmt.Errorf("expression nested more than %d deep", maxDepth)
		}
		a, err := p.unary()
		p.depth--
		return Expr{Op: OpNot, Args: []Expr{a}}, err
	case t == "(":
		a, err := p.expr()
		if err != nil {
			return a, err
		}
		if t := p.next(); t != ")" {
			return a, fmt.Errorf("expected ')', found %q", t)
		}
		return a, nil
	case t == "0":
		return Expr{}, nil
	case t == "1":
		return Expr{Op: OpConst, Val: 1}, nil
	case isName(t):
		return p.leaf(t)
	case t == "":
		return Expr{}, fmt.Errorf("the expression ends where a name was expected")
	default:
		return Expr{}, fmt.Errorf("expected a name, found %q", t)
	}
}
