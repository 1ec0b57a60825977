package yamlfile

// Tokens to nodes: the block structure (indentation), anchors and aliases. Flow collections are in flow.go.

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/token"

	"halfsplit/internal/core/finding"
)

// composer walks the tokens once. Its methods return an error only for a syntaxError; what can be passed over
// (a key written twice) goes to the reader's findings.
type composer struct {
	r       *reader
	lines   []string
	toks    []*token.Token
	i       int
	depth   int
	anchors map[string]*node
}

// compose reads one YAML document; nil when there is none.
func compose(r *reader, text string) (*node, error) {
	toks, err := tokenize(r.file, text, scanYAML, maxScan)
	if err != nil {
		return nil, err
	}
	c := &composer{r: r, lines: strings.Split(text, "\n"), toks: toks, anchors: map[string]*node{}}
	if err := c.header(); err != nil {
		return nil, err
	}
	if ends(c.cur()) {
		return nil, c.footer()
	}
	n, err := c.block(0)
	if err != nil {
		return nil, err
	}
	return n, c.footer()
}

// header passes over %YAML and the first ---.
func (c *composer) header() error {
	if t := c.cur(); t != nil && t.Type == token.DirectiveType {
		for c.cur() != nil && c.cur().Type != token.DocumentHeaderType {
			if c.cur().Position.Line > t.Position.Line+8 {
				break
			}
			c.i++
		}
		if c.cur() == nil || c.cur().Type != token.DocumentHeaderType {
			return c.fail(t, "leave the line out", "a %% line must be followed by ---")
		}
	}
	if t := c.cur(); t != nil && t.Type == token.DocumentHeaderType {
		c.i++
	}
	return nil
}

// footer demands that nothing stands after the document.
func (c *composer) footer() error {
	for c.cur() != nil && c.cur().Type == token.DocumentEndType {
		c.i++
	}
	t := c.cur()
	switch {
	case t == nil:
		return nil
	case t.Type == token.DocumentHeaderType:
		return c.fail(t, "write each into a file of its own", "several documents in one file; expected one")
	}
	return c.fail(t, c.indentHint(t), "%s does not belong to anything above it", tokenName(t))
}

func (c *composer) cur() *token.Token {
	if c.i < len(c.toks) {
		return c.toks[c.i]
	}
	return nil
}

func (c *composer) peek() *token.Token {
	if c.i+1 < len(c.toks) {
		return c.toks[c.i+1]
	}
	return nil
}

func (c *composer) fail(t *token.Token, hint, format string, args ...any) error {
	return &syntaxError{finding.Finding{Severity: finding.Error, Pos: tokenPos(c.r.file, t), Text: fmt.Sprintf(format, args...), Hint: hint}}
}

// ends reports that no value follows: end of file or of the document.
func ends(t *token.Token) bool {
	return t == nil || t.Type == token.DocumentHeaderType || t.Type == token.DocumentEndType
}

func tokenName(t *token.Token) string {
	if isScalar(t) {
		return quote(t.Value)
	}
	return "`" + strings.TrimSpace(t.Value) + "`"
}

// isKey reports whether the current token is a word followed by a colon.
func (c *composer) isKey() bool {
	t, p := c.cur(), c.peek()
	return t != nil && isScalar(t) && p != nil && p.Type == token.MappingValueType
}

// done counts a finished node against the limits.
func (c *composer) done(n *node) (*node, error) {
	n.size, n.height = 1, 1
	for _, p := range n.pairs {
		n.size += 1 + p.value.size
		n.height = max(n.height, 1+p.value.height)
	}
	for _, it := range n.items {
		n.size += it.size
		n.height = max(n.height, 1+it.height)
	}
	if n.size > maxNodes {
		return nil, &syntaxError{finding.Finding{Severity: finding.Error, Pos: n.pos, Hint: "write the values out, or split the file",
			Text: fmt.Sprintf("more than %d values once the aliases (*) are written out", maxNodes)}}
	}
	if n.height > maxDepth {
		return nil, &syntaxError{finding.Finding{Severity: finding.Error, Pos: n.pos, Text: tooDeep}}
	}
	return n, nil
}

var tooDeep = fmt.Sprintf("maps and lists are nested more than %d deep", maxDepth)

func (c *composer) enter(t *token.Token) error {
	if c.depth++; c.depth > maxDepth {
		return c.fail(t, "", "%s", tooDeep)
	}
	return nil
}

// block reads the value that starts at the current token; col is the column of the collection around it (0 at the top).
func (c *composer) block(col int) (*node, error) {
	t := c.cur()
	if err := c.enter(t); err != nil {
		return nil, err
	}
	defer func() { c.depth-- }()
	switch {
	case t.Type == token.SequenceEntryType:
		return c.blockList(t.Position.Column)
	case t.Type == token.MappingKeyType:
		return nil, c.fail(t, "", "`? ` keys are not used here; expected `key: value`")
	case c.isKey():
		return c.blockMap(t.Position.Column)
	case t.Type == token.AnchorType:
		return c.anchored(func(v *token.Token) (*node, error) {
			if ends(v) || v.Position.Column <= col {
				return nil, nil
			}
			return c.block(col)
		})
	}
	return c.simple()
}

// simple reads what can stand after `key:` on the same line, but for an anchor.
func (c *composer) simple() (*node, error) {
	t := c.cur()
	switch t.Type {
	case token.AliasType:
		return c.alias()
	case token.SequenceStartType:
		return c.flowList()
	case token.MappingStartType:
		return c.flowMap()
	case token.LiteralType, token.FoldedType:
		return c.literal()
	case token.TagType:
		return nil, c.fail(t, "leave it out; put text that looks like a number in quotes", "tags such as %s have no meaning here", t.Value)
	case token.DirectiveType:
		return nil, c.fail(t, "put the text in quotes", "a value cannot begin with %%")
	case token.MappingValueType:
		return nil, c.fail(t, "", "nothing stands before this colon; expected `key: value`")
	}
	if !isScalar(t) {
		return nil, c.fail(t, "", "%s does not belong here", tokenName(t))
	}
	return c.word()
}

// word reads a plain or quoted scalar.
func (c *composer) word() (*node, error) {
	t := c.cur()
	if r, bad := badRune(t.Value); bad {
		return nil, c.fail(t, "", "a control character (code %02X) does not belong in a text", r)
	}
	if !isQuoted(t) && strings.Contains(strings.TrimSpace(t.Origin), "\t") {
		return nil, c.fail(t, "write blanks", "a tab stands inside %s", quote(t.Value))
	}
	if !isQuoted(t) && (strings.Contains(t.Value, ": ") || strings.HasSuffix(t.Value, ":")) { // the scanner lets it pass inside brackets
		return nil, c.fail(t, "is a comma missing? otherwise put the text in quotes", "a colon stands inside %s", quote(t.Value))
	}
	c.i++
	return c.done(&node{kind: scalar, pos: tokenPos(c.r.file, t), text: t.Value, null: t.Type == token.NullType,
		folded: strings.Contains(strings.TrimSpace(t.Origin), "\n")})
}

// literal reads | and > texts.
func (c *composer) literal() (*node, error) {
	t := c.cur()
	c.i++
	n := &node{kind: scalar, pos: tokenPos(c.r.file, t)}
	if v := c.cur(); v != nil && v.Type == token.StringType && v.Position.Line > t.Position.Line && !c.isKey() {
		if r, bad := badRune(v.Value); bad {
			return nil, c.fail(v, "", "a control character (code %02X) does not belong in a text", r)
		}
		n.text = v.Value
		c.i++
	}
	return c.done(n)
}

// anchored reads &name and the value after it; value returns nil when there is none.
func (c *composer) anchored(value func(*token.Token) (*node, error)) (*node, error) {
	t, name := c.cur(), c.peek()
	if name == nil || !isScalar(name) || name.Position.Line != t.Position.Line {
		return nil, c.fail(t, "", "a name must follow `&`")
	}
	if strings.ContainsAny(name.Value, ":,[]{}#&*!'\"") {
		return nil, c.fail(t, "put the text in quotes if it is none", "&%s is no anchor name", name.Value)
	}
	c.i += 2
	if v := c.cur(); v != nil && (v.Type == token.AnchorType || v.Type == token.AliasType) && v.Position.Line == t.Position.Line {
		return nil, c.fail(v, "", "a value has one anchor (&) or is an alias (*), not both")
	}
	n, err := value(c.cur())
	if err == nil && n == nil {
		err = c.fail(t, "", "no value follows the anchor &%s", name.Value)
	}
	if err != nil {
		return nil, err
	}
	c.anchors[name.Value] = n
	return n, nil
}

// alias reads *name: the very node that the anchor holds.
func (c *composer) alias() (*node, error) {
	t, name := c.cur(), c.peek()
	if name == nil || !isScalar(name) || name.Position.Line != t.Position.Line {
		return nil, c.fail(t, "put the text in quotes if a star is meant", "a name must follow `*`")
	}
	n := c.anchors[name.Value]
	if n == nil {
		return nil, c.fail(t, "put the text in quotes if a star is meant", "no anchor &%s above this alias", name.Value)
	}
	c.i += 2
	return n, nil
}

// add puts a key into a map; a key that is there already is a finding, and the first one stays.
func (c *composer) add(n *node, seen map[string]finding.Pos, key, value *node) {
	if first, twice := seen[key.text]; twice {
		c.r.errorf(key, "", fmt.Sprintf("the first is in line %d", first.Line), "%s stands here twice", quote(key.text))
		return
	}
	seen[key.text] = key.pos
	n.pairs = append(n.pairs, pair{key, value})
}

// key reads the word before a colon and passes over both.
func (c *composer) key() (*node, error) {
	t, colon := c.cur(), c.peek()
	if t.Type == token.MergeKeyType {
		return nil, c.fail(t, "write the keys out", "the merge key << is not used here")
	}
	if colon.Position.Line != t.Position.Line || strings.Contains(t.Value, "\n") {
		return nil, c.fail(colon, "are the lines above indented as meant?", "a key must stand on one line with its colon")
	}
	n, err := c.word()
	if err != nil {
		return nil, err
	}
	c.i++
	return n, nil
}

// indentHint explains a token that stands deeper or elsewhere than the keys above it.
func (c *composer) indentHint(t *token.Token) string {
	if c.blankBefore(t) {
		return "line it up with the lines above it that it belongs to"
	}
	return "put text with special characters in quotes"
}

// blankBefore reports whether only blanks stand before the token on its line.
func (c *composer) blankBefore(t *token.Token) bool {
	l, col := t.Position.Line-1, t.Position.Column-1
	if l < 0 || l >= len(c.lines) || col < 0 || col > len(c.lines[l]) {
		return false
	}
	return strings.Trim(c.lines[l][:col], " ") == ""
}
