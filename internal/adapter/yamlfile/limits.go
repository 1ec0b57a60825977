package yamlfile

// How much a file may hold, and the checks made on its bytes before any of it is understood.

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"halfsplit/internal/core/finding"
)

// Limits. They are far above any real board (a minicomputer of 5000 packages takes about 2 MiB and
// 300 000 marks) and low enough that the worst file is refused or read within seconds.
const (
	maxFile     = 16 << 20  // bytes of a board or case file
	maxContents = 1 << 20   // bytes of a contents file, and of what it unpacks to
	maxMarks    = 1_000_000 // punctuation marks and lines: bounds the scanner's memory
	maxNodes    = 1_000_000 // values after aliases are written out
	maxDepth    = 64        // maps and lists inside each other
	maxName     = 100       // characters of a net, pin, part or action name
	maxFindings = 100       // problems reported for one file
	maxBusWidth = 64        // nets of one bus
	maxTimes    = 1_000_000 // repeat: times
	maxRepeats  = 16        // repeats inside each other
)

// readLimited reads at most limit bytes of a file and says in words for a technician why it could not.
func readLimited(path string, limit int64) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, plainError(err)
	}
	if info.IsDir() {
		return nil, errors.New("this is a folder, not a file")
	}
	if info.Mode().IsRegular() && info.Size() > limit {
		return nil, tooBig(info.Size(), limit)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, plainError(err)
	}
	defer f.Close()
	return readAtMost(f, limit)
}

func readAtMost(r io.Reader, limit int64) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, plainError(err)
	}
	if int64(len(data)) > limit {
		return nil, tooBig(0, limit)
	}
	return data, nil
}

func tooBig(size, limit int64) error {
	if size == 0 {
		return fmt.Errorf("the file is larger than %d MiB, which is the most that is read", limit>>20)
	}
	return fmt.Errorf("the file has %.1f MiB; at most %d MiB are read", float64(size)/(1<<20), limit>>20)
}

// plainError leaves out the system call and the path, which the finding shows already.
func plainError(err error) error {
	var pe *fs.PathError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errors.New("there is no such file")
	case errors.Is(err, fs.ErrPermission):
		return errors.New("no permission to read this file")
	case errors.As(err, &pe):
		return pe.Err
	}
	return err
}

// neighbours lists the YAML files beside a file that was not found, for the nearest right spelling.
func neighbours(path string) []string {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		if ext := filepath.Ext(e.Name()); ext == ".yaml" || ext == ".yml" {
			names = append(names, e.Name())
		}
	}
	return names
}

// readFile reads a board or case file; nil and a finding when it cannot.
func readFile(path string) ([]byte, finding.List) {
	data, err := readLimited(path, maxFile)
	if err == nil {
		return data, nil
	}
	var l finding.List
	hint := ""
	if near := finding.Nearest(filepath.Base(path), neighbours(path)); near != "" && near != filepath.Base(path) {
		hint = "did you mean " + near + "?"
	}
	l.Errorf(finding.Pos{File: path}, path, hint, "%v", err)
	return nil, l
}

// cleanText checks the bytes of a file and returns its text with line ends as \n and without a byte order mark.
func cleanText(file string, data []byte) (string, *finding.Finding) {
	bad := func(at int, hint, format string, args ...any) (string, *finding.Finding) {
		return "", &finding.Finding{Severity: finding.Error, Pos: placeOf(file, data, at), Text: fmt.Sprintf(format, args...), Hint: hint}
	}
	if len(data) > maxFile {
		return bad(-1, "", "%v", tooBig(int64(len(data)), maxFile))
	}
	if bytes.HasPrefix(data, []byte{0xFF, 0xFE}) || bytes.HasPrefix(data, []byte{0xFE, 0xFF}) {
		return bad(-1, "save it as UTF-8 in the editor", "the file is UTF-16, expected UTF-8")
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	marks := 0
	for i := 0; i < len(data); {
		r, n := rune(data[i]), 1
		if r >= utf8.RuneSelf {
			r, n = utf8.DecodeRune(data[i:])
		}
		switch {
		case r == utf8.RuneError && n == 1:
			return bad(i, "save it as UTF-8 in the editor", "byte %02X is not UTF-8 text", data[i])
		case r < ' ' && r != '\n' && r != '\r' && r != '\t', r >= 0x7F && r < 0xA0 && r != 0x85:
			return bad(i, "is this a text file?", "a control character (code %02X) does not belong here", r)
		case strings.ContainsRune("\n\r,:[]{}-?&*!|>#%'\"", r):
			marks++
		}
		i += n
	}
	if marks > maxMarks {
		return bad(-1, "split the board", "the file has more than %d lines and punctuation marks", maxMarks)
	}
	text := strings.ReplaceAll(string(data), "\r\n", "\n")
	text = trimLines(strings.ReplaceAll(text, "\r", "\n"))
	return text, checkLines(file, text)
}

// trimLines takes the blanks from the ends of lines: they mean nothing, and they shift the columns that the YAML
// scanner reports. Blanks after a backslash stay, because there they may be escaped.
func trimLines(text string) string {
	var b strings.Builder
	b.Grow(len(text))
	for i, line := range strings.Split(text, "\n") {
		if i > 0 {
			b.WriteByte('\n')
		}
		if t := strings.TrimRight(line, " \t"); !strings.HasSuffix(t, `\`) {
			line = t
		}
		b.WriteString(line)
	}
	return b.String()
}

// placeOf turns a byte offset into line and column, both from 1; a negative offset is the whole file.
func placeOf(file string, data []byte, at int) finding.Pos {
	p := finding.Pos{File: file}
	if at >= 0 {
		before := data[:at]
		p.Line = 1 + bytes.Count(before, []byte("\n"))
		p.Col = 1 + utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:])
	}
	return p
}
