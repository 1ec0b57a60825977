package pinout

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// The reader of the symbol library of Debian's package kicad-symbols: nested lists of words and strings.

// folder is where the package puts it.
const folder = "/usr/share/kicad/symbols"

// symbol is one drawn part: its pins by number.
type symbol struct {
	file, name string
	pins       map[int]drawn
	units      int
	odd        bool // pins that are not numbered 1, 2, 3 …
}

// drawn is one pin as it is drawn. Unit is 0 for pins that all units share.
type drawn struct {
	name, kind string
	unit       int
	low        bool // drawn with a circle or a bar
}

type node struct {
	word string
	list []node
}

func (n node) head() string {
	if len(n.list) > 0 {
		return n.list[0].word
	}
	return ""
}

func (n node) at(i int) string {
	if i < len(n.list) {
		return n.list[i].word
	}
	return ""
}

func (n node) all(head string) (out []node) {
	for _, c := range n.list {
		if c.head() == head {
			out = append(out, c)
		}
	}
	return out
}

// parse reads one list from text at i.
func parse(text string, i int) (node, int, error) {
	n := node{}
	for i++; i < len(text); {
		switch c := text[i]; {
		case c == ')':
			return n, i + 1, nil
		case c == '(':
			child, next, err := parse(text, i)
			if err != nil {
				return n, i, err
			}
			n.list = append(n.list, child)
			i = next
		case c == '"':
			end := i + 1
			for end < len(text) && text[end] != '"' {
				if text[end] == '\\' {
					end++
				}
				end++
			}
			if end >= len(text) {
				return n, i, fmt.Errorf("a string does not end")
			}
			n.list = append(n.list, node{word: text[i+1 : end]})
			i = end + 1
		case strings.IndexByte(" \t\r\n", c) >= 0:
			i++
		default:
			end := i + strings.IndexAny(text[i:], " \t\r\n()")
			n.list = append(n.list, node{word: text[i:end]})
			i = end
		}
	}
	return n, i, fmt.Errorf("a list does not end")
}

// symbols reads the named files of the library. The error says what to install when they are not there.
func symbols(files []string) ([]symbol, error) {
	var out []symbol
	for _, f := range files {
		data, err := os.ReadFile(filepath.Join(folder, f+".kicad_sym"))
		if err != nil {
			return nil, fmt.Errorf("%w: the comparison needs Debian's package kicad-symbols; install it with  apt-get install kicad-symbols  or run  go run ./cmd/check", err)
		}
		text := string(data)
		root, _, err := parse(text, strings.IndexByte(text, '('))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		base := map[string]symbol{}
		for _, s := range root.all("symbol") {
			sym := symbol{file: f, name: s.at(1), pins: map[int]drawn{}}
			if e := s.all("extends"); len(e) > 0 {
				b := base[e[0].at(1)]
				sym.pins, sym.units, sym.odd = b.pins, b.units, b.odd
			} else {
				sym.read(s)
			}
			base[sym.name] = sym
			out = append(out, sym)
		}
	}
	return out, nil
}

// read takes the pins of the first way in which each unit is drawn.
func (s *symbol) read(n node) {
	for _, u := range n.all("symbol") {
		words := strings.Split(u.at(1), "_")
		unit, err1 := strconv.Atoi(words[len(words)-2])
		style, err2 := strconv.Atoi(words[len(words)-1])
		if err1 != nil || err2 != nil || style > 1 {
			continue
		}
		s.units = max(s.units, unit)
		for _, p := range u.all("pin") {
			number, err := strconv.Atoi(p.all("number")[0].at(1))
			if err != nil || number < 1 {
				s.odd = true
				continue
			}
			name := p.all("name")[0].at(1)
			s.pins[number] = drawn{name, p.at(1), unit, strings.Contains(name, "~{") || slices.Contains([]string{"inverted", "input_low", "output_low", "inverted_clock", "clock_low"}, p.at(2))}
		}
	}
}
