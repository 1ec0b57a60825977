package yamlfile

// The YAML library's scanner, fenced in: what it panics on or cannot read becomes a finding.

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/token"

	"halfsplit/internal/core/finding"
)

// syntaxError stops the reading of a file: the text has no structure that could be followed further.
type syntaxError struct{ finding.Finding }

func (e *syntaxError) Error() string { return e.Finding.String() }

// maxScan is how long the scanner may take. A fair file of 2 MiB takes half a second; the shapes that are known to take
// longer are refused in lines.go, and this is for those that nobody has met yet.
const maxScan = 20 * time.Second

// tokenize returns the tokens without comments. A scanner that panics or does not finish in time is a finding; one that does not
// finish is left behind, because Go cannot stop it.
func tokenize(file, text string, scan func(string) token.Tokens, limit time.Duration) ([]*token.Token, error) {
	gaveUp := func(format string, args ...any) error {
		return &syntaxError{finding.Finding{Severity: finding.Error, Pos: finding.Pos{File: file}, Text: fmt.Sprintf(format, args...), Hint: "halve the file to find the line"}}
	}
	type result struct {
		tokens token.Tokens
		err    error
	}
	finished := make(chan result, 1)
	go func() {
		defer func() {
			if r := recover(); r != nil {
				finished <- result{err: gaveUp("the YAML library gave up on this file: %.100v", r)}
			}
		}()
		finished <- result{tokens: scan(text)}
	}()
	select {
	case r := <-finished:
		if r.err != nil {
			return nil, r.err
		}
		return accept(file, r.tokens)
	case <-time.After(limit):
		return nil, gaveUp("the YAML library did not finish with this file within %v", limit)
	}
}

// accept leaves comments out and stops at the first token that the scanner could not read.
func accept(file string, all token.Tokens) (tokens []*token.Token, err error) {
	for _, t := range all {
		switch {
		case t == nil || t.Type == token.CommentType || t.Type == token.SpaceType:
		case t.Type == token.InvalidType || t.Error != "":
			return nil, badToken(file, t)
		default:
			tokens = append(tokens, t)
		}
	}
	return tokens, nil
}

func scanYAML(text string) token.Tokens { return lexer.Tokenize(text) }

// badToken words the scanner's complaint for a technician.
func badToken(file string, t *token.Token) error {
	text, hint := "not YAML: "+t.Error, ""
	switch e := t.Error; {
	case strings.Contains(e, "'\t'"):
		text, hint = "a tab stands where a line is indented", "indent with blanks"
	case strings.Contains(e, "end character of"):
		text, hint = "this quoted text is never closed", "close it with the quote that opened it"
	case strings.Contains(e, "reserved character"):
		text, hint = e, "put the text in quotes"
	case strings.Contains(e, "escape character"):
		text, hint = e, "in double quotes write \\\\ for a backslash, or use single quotes"
	}
	return &syntaxError{finding.Finding{Severity: finding.Error, Pos: tokenPos(file, t), Text: text, Hint: hint}}
}

func tokenPos(file string, t *token.Token) finding.Pos {
	if t.Position == nil {
		return finding.Pos{File: file}
	}
	return finding.Pos{File: file, Line: max(t.Position.Line, 1), Col: max(t.Position.Column, 1)}
}

// isScalar reports whether a token is a plain or quoted word.
func isScalar(t *token.Token) bool {
	switch t.Type {
	case token.StringType, token.SingleQuoteType, token.DoubleQuoteType, token.NullType, token.InfinityType, token.NanType,
		token.IntegerType, token.BinaryIntegerType, token.OctetIntegerType, token.HexIntegerType, token.FloatType,
		token.BoolType, token.MergeKeyType:
		return true
	}
	return false
}

func isQuoted(t *token.Token) bool {
	return t.Type == token.SingleQuoteType || t.Type == token.DoubleQuoteType
}

// badRune finds a character that no name, title or note holds (they can come in through escapes).
func badRune(s string) (rune, bool) {
	for _, r := range s {
		if r < ' ' && r != '\n' && r != '\t' || r >= 0x7F && r < 0xA0 && r != 0x85 {
			return r, true
		}
	}
	return 0, !utf8.ValidString(s)
}
