// Package substitute says what may stand in for a part at its place on a board: first whether function and pin-out are the same, then
// whether every net of the part still holds by the figures of the data sheets, with the arithmetic shown. It is pure.
package substitute

import (
	"halfsplit/internal/core/loading"
	"halfsplit/internal/core/part"
)

// Verdict on one stand-in.
type Verdict uint8

// Care means that it works by the figures with something to mind, or where the board is already beyond the figures as it is.
const (
	Yes Verdict = iota
	Care
	No
)

func (v Verdict) String() string { return [...]string{"yes", "care", "no"}[v] }

// Answer is one part judged at one place.
type Answer struct {
	Match   part.Match
	Verdict Verdict
	Reasons []Reason       // why not yes; empty for yes
	Pins    []string       // differences of the pin-out, empty when there are none
	Logic   string         // how the functions compare
	Steps   []loading.Step // every comparison on the nets of the part
	Before  int            // how many of the steps fail with the part that is fitted
}

// Reason is one thing against it. Remedy is "" when nothing simple helps.
type Reason struct {
	Verdict Verdict
	Text    string
	Remedy  string
	Source  string
}
