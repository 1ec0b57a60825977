package yamlfile

import (
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// Texts reads and writes files that lie in memory: the port of the same name of package app.
type Texts struct{}

// ParseBoard is the function of that name.
func (Texts) ParseBoard(name string, text []byte, open func(string) ([]byte, error)) (*board.Board, finding.List) {
	return ParseBoard(name, text, open)
}

// WriteBoard is the function of that name.
func (Texts) WriteBoard(b *board.Board) ([]byte, error) { return WriteBoard(b) }

// ParseCase is the function of that name.
func (Texts) ParseCase(name string, text []byte) (*evidence.Case, finding.List) {
	return ParseCase(name, text)
}

// WriteCase is the function of that name.
func (Texts) WriteCase(c *evidence.Case) ([]byte, error) { return WriteCase(c) }
