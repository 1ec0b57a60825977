package app

import (
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// ImportView is the answer to: what was made of these files?
type ImportView struct {
	Board    string         `json:"board"`           // file written; "" when nothing was
	Records  string         `json:"parts,omitempty"` // file with the records of unknown parts
	Title    string         `json:"title"`
	Files    []ImportedFile `json:"files"`
	Count    ImportCount    `json:"count"`
	Outputs  []string       `json:"outputs"` // nets that leave the model
	Unknown  []string       `json:"unknown"` // parts whose inside is not modelled
	Errors   []FindingRow   `json:"errors"`
	Warnings []FindingRow   `json:"warnings"`
}

// ImportedFile is what one file was taken for.
type ImportedFile struct {
	File   string `json:"file"`
	Format string `json:"format"`
}

// ImportCount is the size of the board.
type ImportCount struct {
	Parts  int `json:"parts"`
	Nets   int `json:"nets"`
	Pins   int `json:"pins"`
	Inputs int `json:"inputs"`
}

// CountOf counts a board: nets are those that some pin is on.
func CountOf(b *board.Board) ImportCount {
	c := ImportCount{Parts: len(b.Parts), Inputs: len(b.Inputs)}
	nets := map[string]bool{}
	for _, p := range b.Parts {
		for _, w := range p.Pins {
			if w.Net != "-" {
				nets[w.Net] = true
				c.Pins++
			}
		}
	}
	c.Nets = len(nets)
	return c
}

// LibraryBeside is the library as a board file at boardPath would see it: with parts.yaml of its folder, whether the board is there
// already or not, and with the given files.
func LibraryBeside(files Files, boardPath string, partsFiles []string) (*part.Library, finding.List) {
	return library(files, boardPath, partsFiles)
}
