package yamlfile

// Block maps and lists: what belongs together stands at one column.

import (
	"strings"

	"github.com/goccy/go-yaml/token"

	"halfsplit/internal/core/finding"
)

// blockMap reads keys at one column until a token stands further left.
func (c *composer) blockMap(col int) (*node, error) {
	n := &node{kind: mapping, pos: tokenPos(c.r.file, c.cur())}
	seen := map[string]finding.Pos{}
	for first := true; ; first = false {
		t := c.cur()
		if ends(t) || t.Position.Column < col {
			return c.done(n)
		}
		if !first {
			if err := c.nextKey(t, col); err != nil {
				return nil, err
			}
		}
		key, err := c.key()
		if err != nil {
			return nil, err
		}
		value, err := c.mapValue(key, col)
		if err != nil {
			return nil, err
		}
		c.add(n, seen, key, value)
	}
}

// nextKey says why the token cannot be the next key of a map at col, or nil.
func (c *composer) nextKey(t *token.Token, col int) error {
	switch {
	case t.Type == token.MappingValueType:
		return c.fail(t, "quote a text that holds `: `; otherwise check the indentation", "a second colon follows here; expected one `key: value` to a line")
	case t.Position.Column > col:
		return c.fail(t, c.indentHint(t), "%s does not belong to anything above it", tokenName(t))
	case t.Type == token.SequenceEntryType:
		return c.fail(t, "indent the list under its key", "a list entry stands among the keys of a map")
	case !c.isKey():
		hint := ""
		if strings.Contains(t.Value, ":") {
			hint = "a blank must follow the colon"
		}
		return c.fail(t, hint, "expected `key: value`, found %s", tokenName(t))
	case !c.blankBefore(t):
		return c.fail(t, "begin a new line", "%s follows the end of a value on the same line", tokenName(t))
	}
	return nil
}

// mapValue reads what follows `key:`; a null node when nothing does.
func (c *composer) mapValue(key *node, col int) (*node, error) {
	line := key.pos.Line
	t := c.cur()
	if ends(t) || t.Position.Line > line {
		return c.below(key, t, col)
	}
	switch {
	case t.Type == token.SequenceEntryType:
		if next := c.peek(); ends(next) || next.Position.Line > line {
			c.i++ // `4: -`: the pin is unconnected; YAML proper wants quotes, a technician does not
			return c.done(&node{kind: scalar, pos: tokenPos(c.r.file, t), text: "-"})
		}
		return nil, c.fail(t, "begin the list on the next line, or write [A, B]", "a list cannot begin on the line of its key")
	case t.Type == token.AnchorType:
		return c.anchored(func(v *token.Token) (*node, error) {
			if ends(v) {
				return nil, nil
			}
			if v.Position.Line > line {
				if v.Position.Column > col || v.Position.Column == col && v.Type == token.SequenceEntryType {
					return c.block(col)
				}
				return nil, nil
			}
			return c.inline()
		})
	}
	return c.inline()
}

// inline reads a value on the line of its key.
func (c *composer) inline() (*node, error) {
	if err := c.enter(c.cur()); err != nil {
		return nil, err
	}
	defer func() { c.depth-- }()
	if t := c.cur(); c.isKey() && c.peek().Position.Line == t.Position.Line {
		return nil, c.fail(c.peek(), "begin a new line, or write {"+t.Value+": …}, or quote the text", "a second colon follows here; expected one `key: value` to a line")
	}
	return c.simple()
}

// below reads a value that begins on a line after its key.
func (c *composer) below(key *node, t *token.Token, col int) (*node, error) {
	if !ends(t) && (t.Position.Column > col || t.Position.Column == col && t.Type == token.SequenceEntryType) {
		return c.block(col)
	}
	p := key.pos
	p.Col += len([]rune(strings.TrimSpace(key.text)))
	return c.done(&node{kind: scalar, pos: p, null: true})
}

// blockList reads `- ` entries at one column until something else stands there or further left.
func (c *composer) blockList(col int) (*node, error) {
	n := &node{kind: list, pos: tokenPos(c.r.file, c.cur())}
	for first := true; ; first = false {
		dash := c.cur()
		if ends(dash) || dash.Position.Column < col || dash.Position.Column == col && dash.Type != token.SequenceEntryType {
			return c.done(n)
		}
		if dash.Position.Column > col {
			return nil, c.fail(dash, c.indentHint(dash), "%s does not belong to anything above it", tokenName(dash))
		}
		if !first && !c.blankBefore(dash) {
			return nil, c.fail(dash, "begin a new line", "a list entry follows the end of a value on the same line")
		}
		c.i++
		item, err := c.listValue(dash, col)
		if err != nil {
			return nil, err
		}
		n.items = append(n.items, item)
	}
}

func (c *composer) listValue(dash *token.Token, col int) (*node, error) {
	if t := c.cur(); !ends(t) && (t.Position.Line == dash.Position.Line || t.Position.Column > col) {
		return c.block(col)
	}
	return c.done(&node{kind: scalar, pos: tokenPos(c.r.file, dash), null: true})
}
