package yamlfile

// The fuse map of programmable logic, beside the board like the image of a memory.

import (
	"path"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/jedec"
)

func isFuseMap(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".jed", ".jedec":
		return true
	}
	return false
}

// readFuses reads the map; what the file has to say is found in it and told with its line there.
func (r *boardReader) readFuses(n *node, p *board.Part, name string, data []byte) {
	f, fl := jedec.Read(name, data)
	for _, x := range fl {
		where := "fuse map " + quote(name)
		if x.Pos.Line > 0 {
			where += " line " + strconv.Itoa(x.Pos.Line)
		}
		if x.Severity == finding.Error {
			r.errorf(n, p.Ref, x.Hint, "%s: %s", where, x.Text)
		} else {
			r.warnf(n, p.Ref, x.Hint, "%s: %s", where, x.Text)
		}
	}
	p.Fuses = f.Fuses
}
