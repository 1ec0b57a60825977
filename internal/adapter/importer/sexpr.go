package importer

// Forms in parentheses, as EDIF writes them, read one at a time: a file is never held as a tree.

import "strings"

// form is one ( keyword … ): its items are words, texts and forms. Line is where it begins.
type form struct {
	word  string // keyword, lower case; or the word itself when leaf
	leaf  bool
	text  bool // a leaf in quotes
	items []form
	line  int
}

// maxForm bounds the items of one form that is held, maxNested how deep forms stand in each other.
const (
	maxForm   = 300_000
	maxNested = 200
)

type formReader struct {
	s     string
	at    int
	line  int
	depth int
	left  int // items that the form being read may still have
}

// next gives '(' , ')' , 'w' for a word, 't' for a text in quotes, 0 at the end.
func (f *formReader) next() (kind byte, word string) {
	for f.at < len(f.s) {
		switch c := f.s[f.at]; c {
		case '\n':
			f.line++
			f.at++
		case ' ', '\t':
			f.at++
		case '(', ')':
			f.at++
			return c, ""
		case '"':
			end := strings.IndexByte(f.s[f.at+1:], '"')
			if end < 0 {
				f.at = len(f.s)
				return 0, ""
			}
			word = f.s[f.at+1 : f.at+1+end]
			f.line += strings.Count(word, "\n")
			f.at += end + 2
			return 't', word
		default:
			end := strings.IndexAny(f.s[f.at:], "() \t\n\"")
			if end < 0 {
				end = len(f.s) - f.at
			}
			word = f.s[f.at : f.at+end]
			f.at += end
			return 'w', word
		}
	}
	return 0, ""
}

// skip passes the rest of the form that has just been opened. false at the end of the file.
func (f *formReader) skip() bool {
	for depth := 1; depth > 0; {
		switch kind, _ := f.next(); kind {
		case '(':
			depth++
		case ')':
			depth--
		case 0:
			return false
		}
	}
	return true
}

// form reads a form that has just been opened. ok is false when the file ends in it, or it is too large; the items up to there are
// returned.
func (f *formReader) form() (form, bool) {
	out := form{line: f.line}
	if f.depth++; f.depth > maxNested {
		f.depth--
		return out, false
	}
	defer func() { f.depth-- }()
	kind, word := f.next()
	switch kind {
	case 'w':
		out.word = strings.ToLower(word)
	case 't':
		out.items = append(out.items, form{word: word, leaf: true, text: true, line: f.line})
	case ')':
		return out, true
	case '(':
		item, ok := f.form()
		if out.items = append(out.items, item); !ok {
			return out, false
		}
	case 0:
		return out, false
	}
	return f.rest(out)
}

// rest reads the items of a form up to its end.
func (f *formReader) rest(out form) (form, bool) {
	for {
		kind, word := f.next()
		if f.left--; f.left < 0 {
			return out, false
		}
		switch kind {
		case '(':
			item, ok := f.form()
			if out.items = append(out.items, item); !ok {
				return out, false
			}
		case ')':
			return out, true
		case 0:
			return out, false
		default:
			out.items = append(out.items, form{word: word, leaf: true, text: kind == 't', line: f.line})
		}
	}
}

// first returns the first form with a keyword; nil when there is none.
func (f *form) first(word string) *form {
	for i := range f.items {
		if !f.items[i].leaf && f.items[i].word == word {
			return &f.items[i]
		}
	}
	return nil
}

// str is the first leaf of a form.
func (f *form) str() string {
	if f == nil {
		return ""
	}
	for _, i := range f.items {
		if i.leaf {
			return i.word
		}
	}
	return ""
}
