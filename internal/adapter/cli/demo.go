package cli

import (
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"halfsplit/examples"
	"halfsplit/internal/app"
	"halfsplit/internal/core/finding"
)

type demoCmd struct {
	Case string `arg:"" optional:"" help:"Example to diagnose; the first one when left out." placeholder:"NAME"`
	List bool   `help:"List the examples."`
	Save string `help:"Write the examples into this folder, to be changed and tried." placeholder:"FOLDER"`
	JSON bool   `name:"json" help:"Answer as JSON."`
}

// firstDemo is the case shown when none is named: a lift whose lamps and relays anyone can picture.
const firstDemo = "lift-panel/never-goes-up"

const caseSuffix = ".case.yaml"

func (c *demoCmd) Run(d *desk) error {
	names, err := demoNames()
	if err != nil {
		return err
	}
	if c.Save != "" {
		return save(d, c.Save)
	}
	if c.List {
		p := &page{}
		for _, n := range names {
			k, _ := inside{examples.Files}.Case(n + caseSuffix)
			p.line("%s  %s", pad(n, 36), k.Title)
		}
		return d.text(p.String())
	}
	if c.Case == "" {
		c.Case = firstDemo
	}
	name := strings.TrimSuffix(c.Case, caseSuffix)
	if !slices.Contains(names, name) {
		return fmt.Errorf("no example %s; %s", name, finding.DidYouMean(name, names))
	}
	v, fl, err := app.Diagnose(d.ctx, inside{examples.Files}, app.DiagnoseRequest{Case: name + caseSuffix})
	if err != nil {
		return err
	}
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	if c.JSON {
		return d.json(v)
	}
	p := &page{}
	p.para("", "An example: the log of a machine that never existed, as its technician wrote it, and what the program makes of it.")
	p.gap()
	log, err := fs.ReadFile(examples.Files, name+caseSuffix)
	if err != nil {
		return err
	}
	for line := range strings.Lines(string(log)) {
		p.line("  | %s", strings.TrimRight(line, "\n"))
	}
	p.gap()
	return d.text(p.String() + diagnosisText(v, false, false))
}

func demoNames() ([]string, error) {
	files, err := fs.Glob(examples.Files, "*/*"+caseSuffix)
	var out []string
	for _, f := range files {
		out = append(out, strings.TrimSuffix(f, caseSuffix))
	}
	return out, err
}

// save copies the examples to disk; it never writes over a file.
func save(d *desk, folder string) error {
	files, err := fs.Glob(examples.Files, "*/*.yaml")
	if err != nil {
		return err
	}
	for _, f := range files {
		data, err := fs.ReadFile(examples.Files, f)
		if err != nil {
			return err
		}
		if err := writeNew(path.Join(folder, f), data); err != nil {
			return err
		}
	}
	return d.text(fmt.Sprintf("%d files written below %s; try  halfsplit diagnose %s\n", len(files), folder, path.Join(folder, firstDemo+caseSuffix)))
}
