package yamlfile

// Text pieces of the canonical form: words quoted only where they must be, brackets wrapped at a readable width.

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfsplit/internal/core/unit"
)

// lineWidth is where maps and lists in brackets are wrapped, in characters.
const lineWidth = 110

// emitter builds a file line by line and keeps the first thing that cannot be written.
type emitter struct {
	b   strings.Builder
	err error
}

func (e *emitter) fail(format string, args ...any) {
	if e.err == nil {
		e.err = fmt.Errorf("cannot be written: "+format, args...)
	}
}

// line writes one line, indented by two blanks a level.
func (e *emitter) line(level int, format string, args ...any) {
	e.b.WriteString(strings.Repeat("  ", level))
	fmt.Fprintf(&e.b, format, args...)
	e.b.WriteByte('\n')
}

// wrapped writes head, then the entries between the brackets, over as many lines as they need.
func (e *emitter) wrapped(level int, head, open string, entries []string, closer string) {
	e.b.WriteString(strings.Repeat("  ", level))
	e.b.WriteString(head)
	e.b.WriteString(open)
	col := 2*level + utf8.RuneCountInString(head) + 1
	inner := strings.Repeat("  ", level+2)
	start := true
	for i, s := range entries {
		if i < len(entries)-1 {
			s += ","
		}
		n := utf8.RuneCountInString(s)
		switch {
		case start:
		case col+1+n > lineWidth:
			e.b.WriteString("\n" + inner)
			col = len(inner)
		default:
			e.b.WriteByte(' ')
			col++
		}
		e.b.WriteString(s)
		col += n
		start = false
	}
	e.b.WriteString(closer + "\n")
}

func (e *emitter) bytes() ([]byte, error) {
	if e.err == nil && e.b.Len() > maxFile {
		e.err = errors.New("cannot be written: the file would be larger than what is read")
	}
	if e.err != nil {
		return nil, e.err
	}
	return []byte(e.b.String()), nil
}

// word writes a text so that it reads back as the same text, inside brackets too.
func (e *emitter) word(s string) string {
	if r, bad := badRune(s); bad {
		e.fail("%.60q holds a control character (code %02X) or is not UTF-8", s, r)
		return `""`
	}
	if isPlain(s) {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r <= 0xFFFF && !unicode.IsGraphic(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// isPlain reports whether a text can stand without quotes: letters, digits and a few marks that mean nothing in YAML,
// single blanks between them, and none of the words for nothing.
func isPlain(s string) bool {
	switch s {
	case "-":
		return true
	case "", "null", "Null", "NULL":
		return false
	}
	for i, r := range s {
		switch {
		case r == utf8.RuneError:
			return false
		case r < utf8.RuneSelf && (r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'), r == '_', r == '/', r == '+', r == '.':
		case r == 'µ' || r == 'Ω':
		case i == 0:
			return false
		case r == '-' || r == '(' || r == ')' || r == '=':
		case r == ' ' && i < len(s)-1 && s[i-1] != ' ' && s[i+1] != '-':
		default:
			return false
		}
	}
	return s[0] != '.' && s != "---"
}

// words writes a list in brackets.
func (e *emitter) words(ss []string) string {
	out := make([]string, len(ss))
	for i, s := range ss {
		out[i] = e.word(s)
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// oneOrMore writes a list of one as the word alone.
func (e *emitter) oneOrMore(ss []string) string {
	if len(ss) == 1 {
		return e.word(ss[0])
	}
	return e.words(ss)
}

// value writes a quantity with an SI prefix where that is exact.
func (e *emitter) value(v float64) string {
	if s := unit.Format(v); e.finite(v) {
		if back, err := unit.Parse(s); err == nil && back == v {
			return s
		}
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// decimal writes a number without a prefix.
func (e *emitter) decimal(v float64) string {
	e.finite(v)
	return strconv.FormatFloat(v, 'g', -1, 64)
}

func (e *emitter) finite(v float64) bool {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		e.fail("%v is not a value", v)
		return false
	}
	return true
}
