package circuit

import (
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/part"
)

// programmed makes of programmable logic with a fuse map a type of its own. Without a map the part stays opaque.
func (b *builder) programmed(src *board.Part, t *part.Type) *part.Type {
	switch {
	case t.Array == "" && src.Fuses == nil:
	case t.Array == "":
		b.fl.Errorf(src.Pos, src.Ref, "give a memory its image: raw bytes, .hex, S-records or .txt", "%s: %s is a fuse map, but a %s is no programmable logic", src.Ref, src.ContentsFile, src.Type)
	case src.Contents != nil:
		b.fl.Errorf(src.Pos, src.Ref, "name a fuse map in the JEDEC format, which ends in .jed", "%s: %s is the image of a memory, but a %s takes a fuse map", src.Ref, src.ContentsFile, src.Type)
	case src.Fuses == nil && src.ContentsFile == "":
		b.fl.Warnf(src.Pos, src.Ref, "add  contents: FILE.jed  with its fuse map, and it is simulated", "%s: no fuse map given, so what it computes is unknown", src.Ref)
	case src.Fuses != nil:
		p, err := t.Programmed(src.Fuses)
		if err != nil {
			b.fl.Errorf(src.Pos, src.Ref, "check the type and the file", "%s: %s: %v", src.Ref, src.ContentsFile, err)
			return t
		}
		return p
	}
	return t
}
