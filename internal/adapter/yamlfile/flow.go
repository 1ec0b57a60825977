package yamlfile

// Flow collections: {a: b} and [a, b], on one line or several.

import (
	"strings"

	"github.com/goccy/go-yaml/token"

	"halfsplit/internal/core/finding"
)

// flowValue reads one value inside brackets.
func (c *composer) flowValue(open *token.Token) (*node, error) {
	t := c.cur()
	if ends(t) {
		return nil, c.unclosed(open)
	}
	if err := c.enter(t); err != nil {
		return nil, err
	}
	defer func() { c.depth-- }()
	switch t.Type {
	case token.AnchorType:
		return c.anchored(func(v *token.Token) (*node, error) {
			if ends(v) || flowEnd(v) {
				return nil, nil
			}
			return c.flowValue(open)
		})
	case token.SequenceEntryType:
		if p := c.peek(); p != nil && flowEnd(p) {
			c.i++ // `{4: - }`
			return c.done(&node{kind: scalar, pos: tokenPos(c.r.file, t), text: "-"})
		}
		return nil, c.fail(t, "write [A, B]", "`- ` lists do not stand inside brackets")
	case token.MappingKeyType:
		return nil, c.fail(t, "", "`? ` keys are not used here; expected `key: value`")
	}
	return c.simple()
}

func flowEnd(t *token.Token) bool {
	return t.Type == token.CollectEntryType || t.Type == token.SequenceEndType || t.Type == token.MappingEndType
}

func (c *composer) unclosed(open *token.Token) error {
	return c.fail(open, "", "this `%s` is never closed", strings.TrimSpace(open.Value))
}

// separator passes over a comma; more is false at the closing bracket, which is passed over too.
func (c *composer) separator(open *token.Token, closer token.Type) (more bool, err error) {
	t := c.cur()
	switch {
	case ends(t):
		return false, c.unclosed(open)
	case t.Type == closer:
		c.i++
		return false, nil
	case t.Type == token.CollectEntryType:
		c.i++
		if t = c.cur(); t != nil && t.Type == closer { // a comma before the bracket
			c.i++
			return false, nil
		}
		return true, nil
	case t.Type == token.MappingValueType && closer == token.SequenceEndType:
		return false, c.fail(t, "write {a: b}", "a colon stands inside a list")
	case t.Type == token.MappingValueType:
		return false, c.fail(t, "put text that holds a colon in quotes", "a second colon follows here")
	}
	return false, c.fail(t, "", "expected `,` or the end of the `%s` in line %d, found %s", strings.TrimSpace(open.Value), open.Position.Line, tokenName(t))
}

func (c *composer) flowList() (*node, error) {
	open := c.cur()
	n := &node{kind: list, pos: tokenPos(c.r.file, open)}
	c.i++
	if t := c.cur(); t != nil && t.Type == token.SequenceEndType {
		c.i++
		return c.done(n)
	}
	for {
		if t := c.cur(); t != nil && flowEnd(t) {
			return nil, c.fail(t, "", "nothing stands before this %s", tokenName(t))
		}
		v, err := c.flowValue(open)
		if err != nil {
			return nil, err
		}
		n.items = append(n.items, v)
		if more, err := c.separator(open, token.SequenceEndType); err != nil || !more {
			if err != nil {
				return nil, err
			}
			return c.done(n)
		}
	}
}

func (c *composer) flowMap() (*node, error) {
	open := c.cur()
	n := &node{kind: mapping, pos: tokenPos(c.r.file, open)}
	seen := map[string]finding.Pos{}
	c.i++
	if t := c.cur(); t != nil && t.Type == token.MappingEndType {
		c.i++
		return c.done(n)
	}
	for {
		if err := c.flowPair(n, seen, open); err != nil {
			return nil, err
		}
		if more, err := c.separator(open, token.MappingEndType); err != nil || !more {
			if err != nil {
				return nil, err
			}
			return c.done(n)
		}
	}
}

// flowPair reads `key: value`.
func (c *composer) flowPair(n *node, seen map[string]finding.Pos, open *token.Token) error {
	t := c.cur()
	switch {
	case ends(t):
		return c.unclosed(open)
	case flowEnd(t):
		return c.fail(t, "", "nothing stands before this %s", tokenName(t))
	case !isScalar(t):
		return c.fail(t, "", "%s cannot be a key; expected `key: value`", tokenName(t))
	case !c.isKey():
		hint := "write `key: value`"
		if strings.Contains(t.Value, ":") {
			hint = "a blank must follow the colon"
		}
		return c.fail(t, hint, "%s has no value", quote(t.Value))
	}
	key, err := c.key()
	if err != nil {
		return err
	}
	v := c.cur()
	if ends(v) {
		return c.unclosed(open)
	}
	if !isQuoted(t) && v.Position.Line == t.Position.Line && strings.TrimLeft(v.Origin, " \t\n") == v.Origin && !flowEnd(v) {
		return c.fail(v, "a blank must follow the colon; a text that holds one stands in quotes", "%s follows the colon of %s at once", tokenName(v), quote(key.text))
	}
	if flowEnd(v) {
		empty, err := c.done(&node{kind: scalar, pos: tokenPos(c.r.file, v), null: true})
		c.add(n, seen, key, empty)
		return err
	}
	value, err := c.flowValue(open)
	if err != nil {
		return err
	}
	c.add(n, seen, key, value)
	return nil
}
