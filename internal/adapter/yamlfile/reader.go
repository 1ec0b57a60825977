package yamlfile

// What every section of a file needs: collecting findings, taking a map apart, refusing what is unknown.

import (
	"errors"
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
)

// reader collects the findings of one file.
type reader struct {
	file string
	list finding.List
}

// full tells that further problems are not worth their cost.
func (r *reader) full() bool { return len(r.list) > maxFindings }

func (r *reader) errorf(n *node, where, hint, format string, args ...any) {
	if !r.full() {
		r.list.Errorf(n.pos, where, hint, format, args...)
	}
}

func (r *reader) warnf(n *node, where, hint, format string, args ...any) {
	if !r.full() {
		r.list.Warnf(n.pos, where, hint, format, args...)
	}
}

// unknown reports a word that is none of the known ones, with the nearest of them.
func (r *reader) unknown(n *node, where string, known []string, format string, args ...any) {
	if !r.full() {
		r.list.Errorf(n.pos, where, finding.DidYouMean(n.text, known), format, args...)
	}
}

// findings returns what was collected, sorted, and says so when there would be more.
func (r *reader) findings() finding.List {
	l := r.list
	cut := len(l) > maxFindings
	if cut {
		l = l[:maxFindings]
	}
	l.Sort()
	if cut {
		l.Errorf(finding.Pos{File: r.file}, "", "mend these first", "more than %d problems; the rest is not shown", maxFindings)
	}
	return l
}

// parse turns the bytes of a file into its top mapping; nil when nothing could be read.
func (r *reader) parse(data []byte, what, example string) *node {
	text, bad := cleanText(r.file, data)
	if bad != nil {
		r.list = append(r.list, *bad)
		return nil
	}
	root, err := compose(r, text)
	if err != nil {
		var se *syntaxError
		if errors.As(err, &se) {
			r.list = append(r.list, se.Finding)
		}
		return nil
	}
	if root == nil {
		r.list.Errorf(finding.Pos{File: r.file}, "", "begin it with "+example, "the file is empty; expected %s", what)
		return nil
	}
	if root.kind != mapping {
		r.errorf(root, "", "begin it with "+example, "expected %s, found %s", what, root.found())
		return nil
	}
	return root
}

// fields returns the values of a map by key. Keys that are not known are findings, and so are keys without
// a value unless they are in mayBeEmpty. It returns nil when the node is not a map.
func (r *reader) fields(n *node, where, what string, known []string, mayBeEmpty ...string) map[string]*node {
	if n.kind != mapping {
		r.errorf(n, where, "known keys: "+strings.Join(known, ", "), "expected %s as a map {key: value}, found %s", what, n.found())
		return nil
	}
	out := make(map[string]*node, len(n.pairs))
	for _, p := range n.pairs {
		switch {
		case !slices.Contains(known, p.key.text):
			r.unknown(p.key, where, known, "no key %s in %s", quote(p.key.text), what)
		case p.value.null && !slices.Contains(mayBeEmpty, p.key.text):
			r.errorf(p.key, where, "write it or leave the key out", "`%s:` has no value", p.key.text)
		default:
			out[p.key.text] = p.value
		}
	}
	return out
}

// has reports whether the key stands in the map, even if its value was refused.
func (n *node) has(key string) bool {
	return slices.ContainsFunc(n.pairs, func(p pair) bool { return p.key.text == key })
}

// items returns the entries of a list; example shows how one is written.
func (r *reader) items(n *node, where, what, example string) []*node {
	if n.kind != list {
		r.errorf(n, where, "write "+example, "expected a list of %s, found %s", what, n.found())
		return nil
	}
	return n.items
}

// oneOrMore returns the entries of a list, or a lone word as a list of one.
func (r *reader) oneOrMore(n *node, where, what, example string) []*node {
	if n.kind == scalar && !n.null {
		return []*node{n}
	}
	out := r.items(n, where, what, example)
	if n.kind == list && len(out) == 0 {
		r.errorf(n, where, "leave the key out if there are none", "an empty list; expected %s", what)
	}
	return out
}

// distinct drops words that stand in a list twice, with a finding for each.
func (r *reader) distinct(nodes []*node, where, what string) []*node {
	seen := map[string]bool{}
	var out []*node
	for _, n := range nodes {
		if n.kind == scalar && !n.null {
			if seen[n.text] {
				r.errorf(n, where, "", "%s %s is listed twice", what, quote(n.text))
				continue
			}
			seen[n.text] = true
		}
		out = append(out, n)
	}
	return out
}
