// Package app holds the use cases: what a command line, a page or a script may ask for, and the plain structs in which
// the answers come. Every front end shows the same struct, so they cannot disagree.
package app

import "halfsplit/internal/core/finding"

// Diagnosis is the answer to: what explains this log, and what next? Its JSON form is the contract of docs/formats.md.
type Diagnosis struct {
	Board       string       `json:"board"`
	Case        string       `json:"case,omitempty"`
	Explained   bool         `json:"explained"`
	Suspects    []Suspect    `json:"suspects"`
	Rest        float64      `json:"rest"` // probability of what is cut off at the end
	Parts       []Share      `json:"parts"`
	Next        []Check      `json:"next"`
	Healthy     float64      `json:"healthy"`
	Unexplained []EntryNote  `json:"unexplained"`
	Conflicts   []Conflict   `json:"conflicts,omitempty"`
	Cured       []FaultView  `json:"cured,omitempty"` // faults that a repair of the log has most likely ended
	Cautions    []string     `json:"cautions,omitempty"`
	Warnings    []FindingRow `json:"warnings,omitempty"`
	ElapsedMS   float64      `json:"elapsed_ms"`
}

// Suspect is a set of faults present now that would explain the log.
type Suspect struct {
	Faults      []FaultView `json:"faults"`
	Probability float64     `json:"probability"`
	Lookalikes  int         `json:"lookalikes"` // same number: no check still available tells them apart
	Account     []Account   `json:"account,omitempty"`
}

// FaultView is one fault.
type FaultView struct {
	Kind string `json:"kind"`
	At   string `json:"at"`
	Part string `json:"part,omitempty"`
	Net  string `json:"net,omitempty"`
	Text string `json:"text"`
}

// Account is what a suspect predicts for one reading of the log, and what was seen.
type Account struct {
	Entry     int    `json:"entry"` // from 1
	What      string `json:"what"`  // lamps-3: U2.2 read
	Predicted string `json:"predicted"`
	Seen      string `json:"seen"`
	Fits      bool   `json:"fits"`
	Surprise  bool   `json:"surprise"` // a good board would have shown something else
	Path      []Hop  `json:"path,omitempty"`
}

// Hop is one step along which a wrong level travels: from the fault to the place of the reading.
type Hop struct {
	At   string `json:"at"`   // net or pin
	Good string `json:"good"` // reading on a good board
	Bad  string `json:"bad"`
}

// Share is the probability that a part, or a net outside any part, is at fault.
type Share struct {
	Part        string  `json:"part,omitempty"`
	Net         string  `json:"net,omitempty"`
	Probability float64 `json:"probability"`
}

// Check is something to do next.
type Check struct {
	Kind     string           `json:"kind"`
	Do       []string         `json:"do,omitempty"`
	At       string           `json:"at"`
	To       string           `json:"to,omitempty"` // second probe of an ohms check
	Net      string           `json:"net,omitempty"`
	Where    string           `json:"where"` // U1 pin 4 (/1Y0), net CAR0
	Minutes  float64          `json:"minutes"`
	Bits     float64          `json:"bits"`
	Outcomes []Outcome        `json:"outcomes"`
	Good     string           `json:"good"`
	Setup    string           `json:"setup"`
	Why      string           `json:"why"`
	Cautions []string         `json:"cautions,omitempty"`
	Entries  []map[string]any `json:"entries"`
	Title    string           `json:"title,omitempty"` // the action's title
}

// Outcome is a reading the check could give, and the leading suspects that would give it.
type Outcome struct {
	Is          string   `json:"is"`
	Probability float64  `json:"probability"`
	Suspects    []string `json:"suspects,omitempty"` // KIND@WHERE, likeliest first, at most four
	Good        bool     `json:"good,omitempty"`     // of a figure: what a good board shows lies in it
}

// EntryNote names a log entry that no suspect accounts for.
type EntryNote struct {
	Entry int    `json:"entry"`
	Line  int    `json:"line,omitempty"`
	Text  string `json:"text"`
}

// Conflict is a pair of entries that cannot both be right of one machine.
type Conflict struct {
	Entries [2]int `json:"entries"`
	Text    string `json:"text"`
}

// FindingRow is a finding as JSON.
type FindingRow struct {
	File  string `json:"file,omitempty"`
	Line  int    `json:"line"`
	Col   int    `json:"col,omitempty"`
	Where string `json:"where"`
	Text  string `json:"text"`
	Hint  string `json:"hint,omitempty"`
}

// Rows turns findings into rows.
func Rows(fl finding.List) []FindingRow {
	out := []FindingRow{}
	for _, f := range fl {
		out = append(out, FindingRow{f.Pos.File, f.Pos.Line, f.Pos.Col, f.Where, f.Text, f.Hint})
	}
	return out
}

// Expectation is the answer to: what does a place show? Keys of At are the places as they were asked for.
type Expectation struct {
	At map[string]PlaceView `json:"at"`
}

// PlaceView is a reading and the level at each moment.
type PlaceView struct {
	Reading string   `json:"reading"`
	Moments []string `json:"moments"`
	Rate    string   `json:"rate,omitempty"` // of an address line in a free run
}

// LintView is the answer to: is this board file sound?
type LintView struct {
	Errors   []FindingRow `json:"errors"`
	Warnings []FindingRow `json:"warnings"`
}

// DrillView is the answer to: how well does the method do on random faults of this board?
type DrillView struct {
	Board       string        `json:"board"`
	Faults      int           `json:"faults"`
	Count       int           `json:"count"`
	Seed        uint64        `json:"seed"`
	Have        []string      `json:"have"`
	Slips       float64       `json:"slips"`           // share of readings answered wrongly on purpose
	Mixed       bool          `json:"mixed,omitempty"` // both halves: only the planner plays; with two faults it repairs, and InFirst counts machines mended without a repair for nothing
	Planner     DrillFigures  `json:"planner"`
	Halving     DrillFigures  `json:"halving"`
	Tracing     DrillFigures  `json:"tracing"`
	EntropyBits float64       `json:"entropy_bits"`         // mean entropy that the checks have to remove
	BoundChecks float64       `json:"bound_checks"`         // mean checks that no plan can beat
	Exhaustive  float64       `json:"exhaustive,omitempty"` // mean checks of two-step planning over all checks, when asked for
	Calibration []Calibration `json:"calibration,omitempty"`
	Invisible   int           `json:"invisible"` // random faults that no action shows, drawn again
}

// DrillFigures are one player's results.
type DrillFigures struct {
	Checks    float64 `json:"checks"`
	Checks95  float64 `json:"checks_95"`
	Minutes   float64 `json:"minutes"`
	Minutes95 float64 `json:"minutes_95"`
	InFirst   float64 `json:"in_first_group"` // how often the true fault was in the first look-alike group
}

// Calibration compares stated probability with observed frequency in one band.
type Calibration struct {
	From     float64 `json:"from"`
	To       float64 `json:"to"`
	Stated   float64 `json:"stated"`
	Observed float64 `json:"observed"`
	Count    int     `json:"count"`
}
