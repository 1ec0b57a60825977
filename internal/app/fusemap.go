package app

import (
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/jedec"
	"halfsplit/internal/core/part"
)

// WithFuses returns the library in which a part of programmable logic is programmed with the fuse map in a file, so that its page shows the
// equations that lie in its fuses. The findings are those of the file.
func WithFuses(lib *part.Library, files Files, name, file string) (*part.Library, finding.List) {
	var fl finding.List
	m, err := lib.Find(name)
	if err != nil {
		fl.Errorf(finding.Pos{}, name, "", "%v", err)
		return lib, fl
	}
	data, err := files.Bytes(file)
	if err != nil {
		fl.Errorf(finding.Pos{File: file}, file, "", "%v", plain(err))
		return lib, fl
	}
	f, fl := jedec.Read(file, data)
	if fl.Errors() {
		return lib, fl
	}
	t, err := m.Type.Programmed(f.Fuses)
	if err != nil {
		fl.Errorf(finding.Pos{File: file}, name, "check the type and the file", "%v", err)
		return lib, fl
	}
	with := lib.Clone()
	return with, append(fl, with.Add([]*part.Type{t}, true)...)
}
