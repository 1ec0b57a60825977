package boards

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"halfsplit/internal/adapter/importer"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/finding"
)

// Bounds of what comes in: files at once, and bytes of all of them after unpacking.
const (
	maxFiles    = 64
	maxUnpacked = 32 << 20
)

func sortedNames(files map[string][]byte) []string { return slices.Sorted(maps.Keys(files)) }

// uploaded reads the files of a form; archives are unpacked in memory, and names with folders in them lose those.
func uploaded(r *http.Request) ([]importer.File, error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, wrong("no file came with the form: choose one")
	}
	var out []importer.File
	total := 0
	take := func(name string, in io.Reader) error {
		if len(out) >= maxFiles {
			return wrong("more than %d files; import fewer at a time", maxFiles)
		}
		data, err := io.ReadAll(io.LimitReader(in, int64(maxUnpacked-total)+1))
		if err != nil {
			return err
		}
		if total += len(data); total > maxUnpacked {
			return wrong("the files have more than %d MB together", maxUnpacked>>20)
		}
		out = append(out, importer.File{Name: plainName(name), Data: data})
		return nil
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		if part.FileName() == "" {
			continue
		}
		if err := take(part.FileName(), part); err != nil {
			return nil, err
		}
		last := out[len(out)-1]
		if !bytes.HasPrefix(last.Data, []byte("PK\x03\x04")) {
			continue
		}
		out = out[:len(out)-1]
		z, err := zip.NewReader(bytes.NewReader(last.Data), int64(len(last.Data)))
		if err != nil {
			return nil, wrong("%s: the archive cannot be read: %v", last.Name, err)
		}
		for _, f := range z.File {
			if f.FileInfo().IsDir() {
				continue
			}
			in, err := f.Open()
			if err != nil {
				return nil, wrong("%s: %v", last.Name, err)
			}
			err = take(f.Name, in)
			in.Close()
			if err != nil {
				return nil, asWrong(err)
			}
		}
	}
	if len(out) == 0 {
		return nil, wrong("no file was chosen")
	}
	return out, nil
}

// plainName is a file's name without folders and without what no file name holds.
func plainName(name string) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || strings.ContainsRune(`:*?"<>|`, r) {
			return '_'
		}
		return r
	}, name)
	if name == "." || name == ".." || name == "/" {
		name = "file"
	}
	if r := []rune(name); len(r) > 80 {
		name = string(r[len(r)-80:])
	}
	return name
}

var boardKey = regexp.MustCompile(`(?m)^board[ \t]*:`)
var partsKey = regexp.MustCompile(`(?m)^parts[ \t]*:`)

// isBoard tells whether a file is a board file of this program.
func isBoard(f importer.File) bool {
	ext := strings.ToLower(path.Ext(f.Name))
	return (ext == ".yaml" || ext == ".yml") && f.Name != app.PartsBeside && !regexp.MustCompile(`(?m)^case[ \t]*:`).Match(f.Data) && (boardKey.Match(f.Data) || partsKey.Match(f.Data))
}

// importView says what was made of files.
type importView struct {
	info    shell.Info
	sheet   *sheet
	read    []importer.Read
	count   app.ImportCount
	unknown []string
	found   finding.List
	board   finding.List
}

// imported makes a board of files: a board file with what lies beside it, or netlists, pin lists and bills of materials.
func (p *pages) imported(w http.ResponseWriter, r *http.Request) error {
	in, err := uploaded(r)
	if err != nil {
		return err
	}
	v := importView{info: shell.Info{Shell: p.Shell, Title: "Import", Nav: "boards"}, sheet: &sheet{}}
	if n, err := strconv.ParseInt(r.URL.Query().Get("job"), 10, 64); err == nil && n > 0 {
		v.sheet.job = n
	}
	files := app.BoardFiles{Files: map[string][]byte{}}
	boards := 0
	for _, f := range in {
		if isBoard(f) {
			boards++
			files.Text = app.PlainLines(string(f.Data))
			v.read = append(v.read, importer.Read{File: f.Name, Format: importer.BoardFile})
		}
	}
	if boards > 1 {
		return wrong("there are %d board files: import one board at a time", boards)
	}
	if boards == 1 {
		for _, f := range in {
			if !isBoard(f) {
				files.Files[f.Name] = f.Data
				v.read = append(v.read, importer.Read{File: f.Name, Format: "file beside the board"})
			}
		}
	} else if err := p.netlists(in, &files, &v); err != nil {
		return err
	}
	if files.Text == "" {
		p.Render(w, r, http.StatusUnprocessableEntity, importPage(v))
		return nil
	}
	kept, fl, err := p.Desk.SaveBoard(r.Context(), 0, files)
	if err != nil {
		return asWrong(err)
	}
	v.sheet.id, v.sheet.kept, v.board = kept.BoardID, kept, fl
	if b, _ := p.Desk.ReadText(files); b != nil {
		v.count = app.CountOf(b)
	}
	p.Render(w, r, http.StatusOK, importPage(v))
	return nil
}

// netlists makes the board's text of files of other programs.
func (p *pages) netlists(in []importer.File, files *app.BoardFiles, v *importView) error {
	var lists []importer.File
	for _, f := range in {
		if f.Name == app.PartsBeside {
			files.Files[f.Name] = f.Data
		} else {
			lists = append(lists, f)
		}
	}
	lib, _ := p.Desk.LibraryOf(*files)
	res := importer.Import(lists, lib)
	v.read, v.unknown, v.found = res.Files, res.Unknown, res.Findings
	if res.Board == nil {
		return nil
	}
	text, err := p.Desk.WriteBoard(res.Board)
	if err != nil {
		return asWrong(err)
	}
	head := ""
	for _, f := range res.Files {
		head += fmt.Sprintf("# imported from %s (%s)\n", f.File, f.Format)
	}
	if len(res.Outputs) > 0 {
		head += "# outputs: " + strings.Join(strings.Fields(strings.Join(res.Outputs, " ")), " ") + "\n"
	}
	files.Text = head + string(text)
	if res.Records != nil {
		files.Files[app.PartsBeside] = append(append(files.Files[app.PartsBeside], '\n'), res.Records...)
	}
	return nil
}

// addFiles lays files beside the board: descriptions of parts, contents of memories. They become part of a new version.
func (p *pages) addFiles(w http.ResponseWriter, r *http.Request) error {
	in, err := uploaded(r)
	if err != nil {
		return err
	}
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if s.id == 0 {
		return wrong("save the board first; then files can lie beside it")
	}
	files := maps.Clone(s.files.Files)
	if files == nil {
		files = map[string][]byte{}
	}
	for _, f := range in {
		if f.Name == app.BoardName {
			return wrong("%s is the board itself: import it on the page of all boards", f.Name)
		}
		files[f.Name] = f.Data
	}
	s.files.Files = files
	return p.store(w, r, s, "files")
}

func (p *pages) removeFile(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	files := maps.Clone(s.files.Files)
	delete(files, r.PostForm.Get("file"))
	s.files.Files = files
	return p.store(w, r, s, "files")
}

// export sends the newest version, or the one asked for: the board file alone, or all files as an archive that is always the same.
func (p *pages) export(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if s.id == 0 {
		return app.ErrNone
	}
	kept, files, err := p.Desk.Store().BoardVersion(r.Context(), s.kept.ID)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("board-%d-version-%d", s.id, kept.Number)
	if len(files.Files) == 0 {
		w.Header().Set("Content-Type", "application/yaml; charset=utf-8")
		w.Header().Set("Content-Disposition", `attachment; filename="`+name+`.yaml"`)
		p.send(w, []byte(files.Text))
		return nil
	}
	data, err := archive(files)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`.zip"`)
	p.send(w, data)
	return nil
}

// send writes a file; when the browser has gone there is nobody to tell.
func (p *pages) send(w http.ResponseWriter, data []byte) {
	if _, err := w.Write(data); err != nil {
		p.Log.Info("an export broke off", "error", err)
	}
}

// archive packs a board's files, in order of their names and without times.
func archive(files app.BoardFiles) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	add := func(name string, data []byte) error {
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err != nil {
			return err
		}
		_, err = f.Write(data)
		return err
	}
	err := add(app.BoardName, []byte(files.Text))
	for _, name := range sortedNames(files.Files) {
		err = errors.Join(err, add(name, files.Files[name]))
	}
	err = errors.Join(err, z.Close())
	return b.Bytes(), err
}
