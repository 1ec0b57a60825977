package importer

// What a file is, told from its content: names of files mean little.

import "strings"

// Format is what a file was taken for, in words.
type Format string

// The formats that are read. BoardFile is this program's own, which needs no import.
const (
	Bench     Format = "ISCAS bench"
	Verilog   Format = "structural Verilog"
	EDIF      Format = "EDIF"
	IPC356    Format = "IPC-D-356A"
	PinList   Format = "pin list"
	BOM       Format = "bill of materials"
	BoardFile Format = "board file"
	Unknown   Format = "unknown"
)

// looked is how much of a file decides, in bytes and lines.
const (
	lookedBytes = 64 << 10
	lookedLines = 400
)

func sniff(text string) Format {
	head := text[:min(len(text), lookedBytes)]
	trimmed := strings.TrimSpace(head)
	if trimmed == "" {
		return Unknown
	}
	if rest, ok := strings.CutPrefix(trimmed, "("); ok {
		if word := strings.ToLower(strings.TrimSpace(rest)); strings.HasPrefix(word, "edif") {
			return EDIF
		}
	}
	var bench, ipc, n int
	for number, line := range lines(head) {
		if number > lookedLines {
			break
		}
		line = strings.TrimRight(line, " \t")
		switch {
		case line == "":
			continue
		case strings.HasPrefix(line, "board:") || strings.HasPrefix(line, "parts:"):
			return BoardFile
		case isTestRecord(line) || strings.HasPrefix(line, "P  ") || strings.HasPrefix(line, "C  "):
			ipc++
		case isBenchLine(line):
			bench++
		}
		n++
	}
	switch {
	case ipc > 0 && 2*ipc > n:
		return IPC356
	case hasModule(head):
		return Verilog
	case bench > 0:
		return Bench
	}
	return sniffTable(head)
}

// isTestRecord reports an operation code of IPC-D-356A that speaks of a net.
func isTestRecord(line string) bool {
	if len(line) < 3 {
		return false
	}
	if line == "999" || strings.HasPrefix(line, "999 ") {
		return true
	}
	return len(line) > 17 && (line[0] == '3' || line[0] == '0') && (line[2] == '7' || line[2] == '8' || line[2] == '9') && line[1] >= '0' && line[1] <= '9' && !strings.ContainsAny(line[:18], ",;\t")
}

func isBenchLine(line string) bool {
	up := strings.ToUpper(strings.TrimSpace(line))
	for _, word := range []string{"INPUT", "OUTPUT"} {
		if rest, ok := strings.CutPrefix(up, word); ok && strings.HasPrefix(strings.TrimSpace(rest), "(") && !strings.HasSuffix(up, ";") {
			return true
		}
	}
	_, rhs, ok := strings.Cut(up, "=")
	if !ok {
		return false
	}
	name, _, open := strings.Cut(strings.TrimSpace(rhs), "(")
	return open && benchGate(strings.TrimSpace(name)) != ""
}

// hasModule looks for the word module outside comments.
func hasModule(head string) bool {
	l := newLexer(head)
	for {
		t := l.next()
		if t.kind == endToken {
			return false
		}
		if t.kind == wordToken && !t.escaped && (t.text == "module" || t.text == "macromodule") {
			return true
		}
	}
}
