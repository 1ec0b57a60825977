package yamlfile

// The tree between YAML and the model: every key and value with its place, scalars as the text that was typed.

import (
	"strings"

	"halfsplit/internal/core/finding"
)

type kind int

const (
	scalar kind = iota
	mapping
	list
)

// node is one value. A scalar's text is what was typed, so that 0x10 and 1E3 stay names where a name is meant;
// null tells an absent value, ~ or null (unquoted). Aliases are not copied: the same node may stand at several places.
type node struct {
	kind   kind
	pos    finding.Pos
	text   string
	null   bool
	folded bool // the text stands on more than one line
	pairs  []pair
	items  []*node
	size   int // nodes of the tree below, itself included, aliases written out
	height int // levels of the tree below, itself included
}

// pair is one key of a mapping with its value, in file order.
type pair struct {
	key   *node
	value *node
}

// found says what a node is, for "expected …, found …".
func (n *node) found() string {
	switch {
	case n.kind == mapping:
		return "a map {…: …}"
	case n.kind == list:
		return "a list […]"
	case n.null:
		return "nothing"
	}
	return quote(n.text)
}

// quote shortens what was typed to fit a message.
func quote(s string) string {
	r := []rune(s)
	if len(r) > 40 {
		s = string(r[:40]) + "…"
	}
	return `"` + strings.NewReplacer("\n", `\n`, "\t", `\t`).Replace(s) + `"`
}
