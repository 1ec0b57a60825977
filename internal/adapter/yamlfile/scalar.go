package yamlfile

// Single values: names, texts, numbers with units, words from a short list.

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"halfsplit/internal/core/unit"
)

// name reads the name of a net, part, pin or action: any one-line text as it was typed.
func (r *reader) name(n *node, where, what string) (string, bool) {
	switch {
	case n.kind != scalar || n.null:
		r.errorf(n, where, nullHint(n), "expected %s, found %s", what, n.found())
	case n.folded:
		r.errorf(n, where, "are the lines indented as meant?", "expected %s, found a text on several lines: %s", what, quote(n.text))
	case strings.TrimSpace(n.text) == "":
		r.errorf(n, where, "", "expected %s, found an empty text", what)
	case strings.TrimSpace(n.text) != n.text || strings.ContainsAny(n.text, "\n\t\u0085\u2028\u2029"):
		r.errorf(n, where, "", "expected %s; %s begins or ends with a blank or holds more than one line", what, quote(n.text))
	case utf8.RuneCountInString(n.text) > maxName:
		r.errorf(n, where, "", "expected %s; %s has more than %d characters", what, quote(n.text), maxName)
	default:
		return n.text, true
	}
	return "", false
}

// net reads the name of a net where one must be meant.
func (r *reader) net(n *node, where string) (string, bool) {
	s, ok := r.name(n, where, "a net")
	if ok && s == "-" {
		r.errorf(n, where, "", "`-` marks an unconnected pin; expected a net")
		return "", false
	}
	return s, ok
}

// ref reads a reference designator.
func (r *reader) ref(n *node, where string) (string, bool) {
	s, ok := r.name(n, where, "a part such as U7")
	if ok && strings.ContainsAny(s, " .") {
		hint := ""
		if before, _, dotted := strings.Cut(s, "."); dotted && before != "" {
			hint = "the dot joins a part and its pin; did you mean " + before + "?"
		}
		r.errorf(n, where, hint, "expected a part such as U7, found %s", quote(s))
		return "", false
	}
	return s, ok
}

// pin reads a pin such as U2.4 or U2./Y1.
func (r *reader) pin(n *node, where string) (string, bool) {
	s, ok := r.name(n, where, "a pin such as U2.4")
	part, name, dotted := strings.Cut(s, ".")
	if ok && (!dotted || part == "" || name == "" || strings.Contains(part, " ")) {
		r.errorf(n, where, "write the part, a dot and the pin: U2.4 or U2./Y1", "expected a pin, found %s", quote(s))
		return "", false
	}
	return s, ok
}

// nullHint explains a ~ or null that was typed where a word is expected.
func nullHint(n *node) string {
	if n.null && n.text != "" {
		return "unquoted " + n.text + " means nothing; put it in quotes if it is a name"
	}
	return ""
}

// text reads a title or a note.
func (r *reader) text(n *node, where, what string) string {
	if n.kind != scalar {
		r.errorf(n, where, "put text with special characters in quotes", "expected %s as text, found %s", what, n.found())
		return ""
	}
	return n.text
}

// word reads one of the known words.
func (r *reader) word(n *node, where, what string, known ...string) (string, bool) {
	if n.kind == scalar && !n.null {
		for _, k := range known {
			if n.text == k {
				return k, true
			}
		}
		r.unknown(n, where, known, "%s is %s, found %s", what, oneOf(known), quote(n.text))
		return "", false
	}
	r.errorf(n, where, "", "%s is %s, found %s", what, oneOf(known), n.found())
	return "", false
}

func oneOf(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// yes reads true or false.
func (r *reader) yes(n *node, where, what string) bool {
	if n.kind == scalar && (n.text == "yes" || n.text == "no" || n.text == "on" || n.text == "off") {
		hint := map[string]string{"yes": "true", "on": "true", "no": "false", "off": "false"}[n.text]
		r.errorf(n, where, "did you mean "+hint+"?", "%s is true or false, found %s", what, quote(n.text))
		return false
	}
	s, _ := r.word(n, where, what, "true", "false")
	return s == "true"
}

// whole reads a whole number from lo to hi.
func (r *reader) whole(n *node, where, what string, lo, hi int) (int, bool) {
	if n.kind != scalar || n.null {
		r.errorf(n, where, "", "%s is a whole number from %d to %d, found %s", what, lo, hi, n.found())
		return 0, false
	}
	v, err := strconv.Atoi(n.text)
	if err != nil || v < lo || v > hi || n.text[0] == '+' {
		r.errorf(n, where, "", "%s is a whole number from %d to %d, found %s", what, lo, hi, quote(n.text))
		return 0, false
	}
	return v, true
}

// number reads a plain number from lo to hi, without a unit.
func (r *reader) number(n *node, where, what string, lo, hi float64) (float64, bool) {
	return r.quantity(n, where, quantity{what: what, lo: lo, hi: hi, example: "12.5"})
}

// quantity says what a number may be: its unit words ("" alone for none), its range and an example.
type quantity struct {
	what    string
	units   []string
	lo, hi  float64
	example string
}

var (
	ohmWords  = []string{"ohm", "ohms", "Ohm", "Ohms", "Ω", "\u2126"}
	unitWords = append([]string{"Hz", "V", "F", "H", "A", "s"}, ohmWords...)
)

// unitOf returns the unit word that a quantity ends with, "" when it has none.
func unitOf(s string) string {
	best := ""
	for _, u := range unitWords {
		if strings.HasSuffix(s, u) && len(u) > len(best) {
			best = u
		}
	}
	return best
}

// quantity reads a number with its unit: 5 V, 4.7k, 4K7, 100n.
func (r *reader) quantity(n *node, where string, q quantity) (float64, bool) {
	if n.kind != scalar || n.null {
		r.errorf(n, where, "", "expected %s such as %s, found %s", q.what, q.example, n.found())
		return 0, false
	}
	s := strings.TrimSpace(n.text)
	v, err := unit.Parse(s)
	u := unitOf(s)
	allowed := u == ""
	for _, w := range q.units {
		allowed = allowed || w == u
	}
	switch {
	case err != nil && strings.Contains(s, ","):
		r.errorf(n, where, "write a decimal point, not a comma", "expected %s such as %s, found %s", q.what, q.example, quote(s))
	case err != nil:
		r.errorf(n, where, "", "expected %s such as %s, found %s", q.what, q.example, quote(s))
	case !allowed:
		r.errorf(n, where, "", "expected %s such as %s, found %s with the unit %s", q.what, q.example, quote(s), u)
	case v < q.lo || v > q.hi:
		r.errorf(n, where, "", "%s is out of range: expected %s from %s to %s", quote(s), q.what, plain(q.lo), plain(q.hi))
	default:
		return v + 0, true // + 0 turns -0 into 0
	}
	return 0, false
}

// plain prints a bound without a prefix where that is readable.
func plain(v float64) string {
	if math.Abs(v) < 1e6 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return unit.Format(v)
}
