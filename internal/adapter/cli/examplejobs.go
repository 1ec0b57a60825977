package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"halfsplit/examples"
	"halfsplit/internal/app"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/job"
)

// The built-in machines, as jobs of the bench page.

// hidden is what a folder says of one of its cases.
type hidden struct {
	name    string
	faults  []string
	brought int // lines of the log that are what the machine was brought with; -1: the looks at its beginning
}

// ExampleJobs are the built-in machines as jobs: the case's title is what the owner says, its hidden faults are the truth.
func ExampleJobs() ([]app.Example, error) {
	var out []app.Example
	for _, kind := range []struct {
		pattern string
		read    func([]byte) ([]hidden, error)
	}{{"*/answers.yaml", readAnswers}, {"*/truth.yaml", readTruth}, {"*/hidden.yaml", readAnswers}} {
		found, err := fs.Glob(examples.Files, kind.pattern)
		if err != nil {
			return nil, err
		}
		for _, file := range found {
			text, err := fs.ReadFile(examples.Files, file)
			if err != nil {
				return nil, err
			}
			list, err := kind.read(text)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", file, err)
			}
			more, err := exampleJobs(path.Dir(file), list)
			if err != nil {
				return nil, err
			}
			out = append(out, more...)
		}
	}
	return out, nil
}

// readAnswers reads the hidden faults of logic boards and of boards with both halves, case by case.
func readAnswers(text []byte) ([]hidden, error) {
	var m yaml.MapSlice
	if err := yaml.Unmarshal(text, &m); err != nil {
		return nil, err
	}
	var out []hidden
	for _, item := range m {
		h := hidden{name: fmt.Sprint(item.Key), brought: -1}
		list, _ := item.Value.([]any)
		for _, f := range list {
			h.faults = append(h.faults, fmt.Sprint(f))
		}
		out = append(out, h)
	}
	return out, nil
}

// readTruth reads the hidden faults of boards with an analogue half, and what each machine was brought with.
func readTruth(text []byte) ([]hidden, error) {
	var order yaml.MapSlice
	var m map[string]struct {
		Hidden  []string
		Brought int
	}
	if err := errors.Join(yaml.Unmarshal(text, &order), yaml.Unmarshal(text, &m)); err != nil {
		return nil, err
	}
	var out []hidden
	for _, item := range order {
		name := fmt.Sprint(item.Key)
		out = append(out, hidden{name, m[name].Hidden, m[name].Brought})
	}
	return out, nil
}

func exampleJobs(dir string, list []hidden) ([]app.Example, error) {
	files, err := exampleFiles(dir)
	if err != nil {
		return nil, err
	}
	var out []app.Example
	for _, h := range list {
		if slices.ContainsFunc(h.faults, func(f string) bool { return strings.HasPrefix(f, string(fault.PartErratic)) }) {
			continue // a part that does as it likes cannot answer from a model
		}
		k, fl := inside{examples.Files}.Case(path.Join(dir, h.name))
		if k == nil || fl.Errors() {
			return nil, fmt.Errorf("%s/%s cannot be read", dir, h.name)
		}
		e := app.Example{Name: path.Join(dir, strings.TrimSuffix(h.name, caseSuffix)), Files: files, Faults: h.faults, Symptoms: symptoms(k, h.brought)}
		e.Intake = job.Intake{Machine: files.Title, Owner: "example", Complaint: k.Title, Mains: true, Stored: true,
			History: "An invented machine with something wrong in it: it answers the checks by itself, from the model.", Accessories: "none", Condition: "as new, apart from what is wrong"}
		for _, z := range k.Damage {
			e.Intake.Zones = append(e.Intake.Zones, job.Zone{Kind: z.Kind, Parts: z.Parts, Nets: z.Nets})
		}
		out = append(out, e)
	}
	return out, nil
}

// symptoms are the lines of the log with which a machine comes: so many; or, where that is not said, up to the first reading that is no look,
// which is what an owner can see.
func symptoms(k *evidence.Case, brought int) (out []job.Entry) {
	for i, l := range k.Log {
		f := job.FromEvidence(l)
		if brought >= 0 && i >= brought || brought < 0 && (f.Repairs() || len(f.See)+len(f.Read) == 0 || len(out) > 0 && len(f.See) == 0) {
			break
		}
		out = append(out, f)
	}
	return out
}

// exampleFiles are the board of an example folder and what lies beside it.
func exampleFiles(dir string) (app.BoardFiles, error) {
	b, fl := inside{examples.Files}.Board(path.Join(dir, app.BoardName))
	if b == nil || fl.Errors() {
		return app.BoardFiles{}, fmt.Errorf("the example board in %s cannot be read", dir)
	}
	text, err := fs.ReadFile(examples.Files, path.Join(dir, app.BoardName))
	if err != nil {
		return app.BoardFiles{}, err
	}
	out := app.BoardFiles{Title: b.Title, Parts: len(b.Parts), Text: string(text), Files: map[string][]byte{}}
	parts, err := fs.ReadFile(examples.Files, path.Join(dir, app.PartsBeside))
	switch {
	case err == nil:
		out.Files[app.PartsBeside] = parts
	case !errors.Is(err, fs.ErrNotExist):
		return out, err
	}
	return out, nil
}
