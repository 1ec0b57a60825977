// Package examples holds boards and cases of machines that never existed, built into the program so that a
// newcomer can try everything without a board file of his own. Each folder is one machine:
//
//	board.yaml      the model
//	parts.yaml      parts that the library does not have, where there are any
//	*.case.yaml     one machine on the bench each, with the log so far
//	answers.yaml    what was really wrong in each case; truth.yaml on a board with an analogue half, hidden.yaml on one with both
//	README.md       the story, with what the program says (kept fresh by go test ./examples -update)
package examples

import "embed"

//go:generate go test . -run TestReadme -update

// Files holds every YAML file of the machines, by paths such as lift-panel/board.yaml.
//
//go:embed */*.yaml
var Files embed.FS
