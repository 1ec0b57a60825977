package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"halfsplit/internal/adapter/importer"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/finding"
)

type importCmd struct {
	Files []string `arg:"" help:"Netlists, pin lists and bills of materials of one board." placeholder:"FILE"`
	Out   string   `help:"Board file to write." default:"board.yaml" placeholder:"FILE"`
	Force bool     `help:"Write over a board file that is there; add to a parts file that is there."`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

// Help is printed below the options.
func (c *importCmd) Help() string {
	return "Reads ISCAS .bench, structural Verilog, EDIF 2.0.0, IPC-D-356A with a bill of materials, and pin lists as CSV; what a file is, is told from its content."
}

func (c *importCmd) Run(d *desk) error {
	records := filepath.Join(filepath.Dir(c.Out), app.PartsBeside)
	if err := c.mayWrite(c.Out); err != nil {
		return err
	}
	lib, fl := app.LibraryBeside(d.files, c.Out, c.Parts)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	var in []importer.File
	for _, name := range c.Files {
		data, err := readUpTo(name, importer.MaxFile+1)
		if err != nil {
			fl = nil
			fl.Errorf(finding.Pos{File: name}, name, "", "%v", err)
			return d.findings(fl, 0)
		}
		in = append(in, importer.File{Name: name, Data: data})
	}
	res := importer.Import(in, lib)
	view := app.ImportView{Files: []app.ImportedFile{}, Outputs: append([]string{}, res.Outputs...), Unknown: append([]string{}, res.Unknown...),
		Errors: app.Rows(res.Findings.Only(finding.Error)), Warnings: app.Rows(res.Findings.Only(finding.Warning))}
	for _, f := range res.Files {
		view.Files = append(view.Files, app.ImportedFile{File: f.File, Format: string(f.Format)})
	}
	if res.Board != nil {
		text, err := yamlfile.WriteBoard(res.Board)
		if err != nil {
			return err
		}
		if res.Records != nil {
			if err := c.writeRecords(records, res.Records); err != nil {
				return err
			}
			view.Records = records
		}
		if err := c.write(c.Out, append([]byte(heading(res)), text...)); err != nil {
			return err
		}
		view.Board, view.Title, view.Count = c.Out, res.Board.Title, app.CountOf(res.Board)
	}
	if c.JSON {
		return errors.Join(d.json(view), d.findings(res.Findings, 0))
	}
	said := d.findings(res.Findings, -1)
	return errors.Join(d.text(importText(view)), said)
}

// mayWrite refuses a file that is there.
func (c *importCmd) mayWrite(name string) error {
	if _, err := os.Lstat(name); err == nil && !c.Force {
		return fmt.Errorf("%s is there already; choose another name with --out, or write over it with --force", name)
	}
	return nil
}

func (c *importCmd) write(name string, data []byte) error {
	if c.Force {
		return os.WriteFile(name, data, 0o666)
	}
	return writeNew(name, data)
}

// writeRecords writes the records of unknown parts, or adds them to what the parts file holds: what a technician described is never lost.
func (c *importCmd) writeRecords(name string, data []byte) error {
	old, err := os.ReadFile(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return writeNew(name, data)
	case err != nil:
		return err
	case !c.Force:
		return fmt.Errorf("%s is there already, and %s; put the board into another folder with --out, or let them be added with --force",
			name, "this board has parts that it does not describe")
	}
	return os.WriteFile(name, append(append(old, '\n'), data...), 0o666)
}

// heading says in the board file where it comes from, and which nets leave the model: a board has no other place for that.
func heading(res importer.Result) string {
	p := &page{}
	for _, f := range res.Files {
		p.para("# ", fmt.Sprintf("imported from %s (%s)", filepath.Base(f.File), f.Format))
	}
	if len(res.Outputs) > 0 {
		for _, l := range wrap("outputs: "+strings.Join(res.Outputs, " "), width-2) {
			p.line("# %s", l)
		}
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' || r == 0x7F {
			return -1
		}
		return r
	}, p.String())
}

func importText(v app.ImportView) string {
	p := &page{}
	for _, f := range v.Files {
		p.line("%s: %s", f.File, f.Format)
	}
	if v.Board == "" {
		p.line("no board was made of it")
		return p.String()
	}
	p.line("%s: %s, %s, %s, %s; %s", v.Board, plural(v.Count.Parts, "part", "parts"), plural(v.Count.Nets, "net", "nets"),
		plural(v.Count.Inputs, "input", "inputs"), plural(len(v.Outputs), "output", "outputs"),
		plural(len(v.Warnings), "warning", "warnings"))
	if v.Records != "" {
		lead := v.Records + ": "
		if len(v.Unknown) == 0 {
			p.line("%sgates that a board file has no word for", lead)
		} else {
			p.para(lead, plural(len(v.Unknown), "opaque part", "opaque parts")+": "+strings.Join(v.Unknown, ", "))
		}
	}
	return p.String()
}

// readUpTo reads a file, of a longer one its beginning.
func readUpTo(name string, limit int64) ([]byte, error) {
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, errors.New("there is no such file")
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, errors.New("this is a folder, not a file")
	}
	return io.ReadAll(io.LimitReader(f, limit))
}
