package importer

// Words of Verilog (IEEE 1364-2005, clause 3): comments, directives and attributes are passed over; lines are counted.

import "strings"

type tokenKind uint8

const (
	endToken tokenKind = iota
	wordToken
	numberToken
	markToken
	textToken
	directiveToken // `define and the like; the line is passed over
)

type token struct {
	kind    tokenKind
	text    string
	line    int
	escaped bool // \name: never a keyword
}

type lexer struct {
	s    string
	at   int
	line int
	open int // line of a comment that is never closed; 0 when none
}

func newLexer(s string) *lexer { return &lexer{s: s, line: 1} }

func (l *lexer) next() token {
	for l.at < len(l.s) {
		c := l.s[l.at]
		rest := l.s[l.at:]
		switch {
		case c == '\n':
			l.line++
			l.at++
		case c == ' ' || c == '\t':
			l.at++
		case strings.HasPrefix(rest, "//"):
			l.skipLine()
		case strings.HasPrefix(rest, "/*"):
			l.skipTo("*/", 2)
		case strings.HasPrefix(rest, "(*") && !strings.HasPrefix(rest, "(*)"):
			l.skipTo("*)", 2)
		case c == '`':
			return l.directive()
		default:
			return l.token(rest)
		}
	}
	return token{kind: endToken, line: l.line}
}

func (l *lexer) skipLine() {
	if i := strings.IndexByte(l.s[l.at:], '\n'); i >= 0 {
		l.at += i
	} else {
		l.at = len(l.s)
	}
}

func (l *lexer) skipTo(end string, from int) {
	i := strings.Index(l.s[l.at+from:], end)
	if i < 0 {
		l.open = l.line
		l.at = len(l.s)
		return
	}
	to := l.at + from + i + len(end)
	l.line += strings.Count(l.s[l.at:to], "\n")
	l.at = to
}

func (l *lexer) directive() token {
	start, line := l.at, l.line
	l.skipLine()
	f := strings.Fields(l.s[start:l.at])
	return token{kind: directiveToken, text: f[0], line: line}
}

func (l *lexer) token(rest string) token {
	c := rest[0]
	t := token{line: l.line}
	n := 1
	switch {
	case c == '\\':
		for n < len(rest) && rest[n] > ' ' {
			n++
		}
		t.kind, t.text, t.escaped = wordToken, rest[1:n], true
	case c == '"':
		for n < len(rest) && rest[n] != '"' && rest[n] != '\n' {
			if rest[n] == '\\' && n+1 < len(rest) && rest[n+1] != '\n' {
				n++
			}
			n++
		}
		if n < len(rest) && rest[n] == '"' {
			n++
		}
		t.kind, t.text = textToken, rest[:n]
	case isDigit(c) || c == '\'':
		n = number(rest)
		t.kind, t.text = numberToken, rest[:n]
	case isWord(c):
		for n < len(rest) && isWord(rest[n]) {
			n++
		}
		t.kind, t.text = wordToken, rest[:n]
	default:
		t.kind, t.text = markToken, rest[:1]
	}
	l.at += n
	return t
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func isWord(c byte) bool {
	return isDigit(c) || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' || c == '$' || c >= 0x80
}

// number is the length of 12, 8'hFF, 'b1, 1.5 or 4 'd 9 without the blanks.
func number(s string) int {
	n := 0
	for n < len(s) && (isDigit(s[n]) || s[n] == '_') {
		n++
	}
	if n+1 < len(s) && s[n] == '.' && isDigit(s[n+1]) {
		for n++; n < len(s) && isDigit(s[n]); n++ {
		}
		return n
	}
	if n < len(s) && s[n] == '\'' {
		for n++; n < len(s) && (isWord(s[n]) || s[n] == '?'); n++ {
		}
	}
	return max(n, 1)
}
