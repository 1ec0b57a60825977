package yamlfile

// Shapes of text on which the YAML library's scanner takes quadratic or cubic time (version 1.19.2: 240 000 blank
// lines under `|` took 157 s, 240 000 times `<` took 11 s). They are refused before it sees them; none of them stands in a real file.

import (
	"fmt"
	"regexp"
	"strings"

	"halfsplit/internal/core/finding"
)

const (
	maxBlankLines = 100      // blank lines in a row
	maxText       = 64 << 10 // bytes of one text over several lines, or of lines in a row that hold no `key:`
	maxAngles     = 64       // `<` in a row
)

// blockHeader matches a line whose value is a text on the lines below: `note: |`, `- >-`, also where it only looks like one.
var blockHeader = regexp.MustCompile(`(^|[\s:])[|>][-+0-9]*[ \t]*(#.*)?$`)

// checkLines refuses those shapes, or returns nil.
func checkLines(file, text string) *finding.Finding {
	var blank, run int // blank lines, bytes without a key, up to here
	var inText bool    // below a line that ends in | or >, as far as lines are indented like the first of them
	var first, body int
	bad := func(line int, hint, format string, args ...any) *finding.Finding {
		return &finding.Finding{Severity: finding.Error, Pos: finding.Pos{File: file, Line: line, Col: 1}, Text: fmt.Sprintf(format, args...), Hint: hint}
	}
	number := 0
	for line := range strings.SplitSeq(text, "\n") {
		number++
		trimmed := strings.TrimLeft(line, " \t")
		indent := len(line) - len(trimmed)
		if strings.TrimSpace(line) == "" {
			blank++
		} else {
			blank = 0
		}
		if inText && trimmed != "" {
			if first < 0 {
				first = indent
			}
			inText = indent >= first
		}
		if inText {
			body += len(line) + 1
		} else if blockHeader.MatchString(line) {
			inText, first, body = true, -1, 0
		}
		switch {
		case strings.Contains(line, ": ") || strings.HasSuffix(line, ":"):
			run = 0
		case !strings.HasPrefix(trimmed, "#"):
			run += len(line) + 1
		}
		switch {
		case blank > maxBlankLines:
			return bad(number, "take some out", "more than %d blank lines in a row", maxBlankLines)
		case body > maxText:
			return bad(number, "shorten it, or keep it in a file of its own", "a text of more than %d KiB", maxText>>10)
		case run > maxText && run > len(line)+1:
			return bad(number, "is this a board or case file?", "more than %d KiB of lines without a `key: value`", maxText>>10)
		case strings.Contains(line, angles):
			return bad(number, "", "more than %d `<` in a row", maxAngles-1)
		}
	}
	return nil
}

var angles = strings.Repeat("<", maxAngles)
