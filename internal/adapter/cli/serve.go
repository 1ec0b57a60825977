package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"halfsplit/examples"
	"halfsplit/internal/adapter/store"
	"halfsplit/internal/adapter/web"
	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/job"
)

// The bench page, and the passphrase that a LAN asks for.

type serveCmd struct {
	Addr string   `help:"Where to listen, as HOST:PORT." placeholder:"HOST:PORT"`
	LAN  bool     `name:"lan" help:"Let other machines of the network in; needs a passphrase (halfsplit passphrase), uses TLS."`
	Name []string `help:"A further host name under which the page is reached." placeholder:"HOST"`
	Cert string   `help:"Certificate for TLS, PEM; without it one is made." placeholder:"FILE"`
	Key  string   `help:"Key of the certificate, PEM." placeholder:"FILE"`
	Data string   `help:"Folder for the jobs, boards and pictures; without it the user's own data folder." placeholder:"FOLDER" env:"HALFSPLIT_DATA"`
}

// storeName is the one file that everything is in.
const storeName = "halfsplit.db"

func (c *serveCmd) Run(d *desk) error {
	dir, err := dataFolder(c.Data)
	if err != nil {
		return err
	}
	st, err := store.Open(d.ctx, filepath.Join(dir, storeName))
	if err != nil {
		return err
	}
	defer st.Close()
	shop := app.NewDesk(st, yamlfile.Texts{}, app.RealClock())
	list, err := ExampleJobs()
	if err != nil {
		return err
	}
	shop.OfferExamples(list)
	srv, err := web.New(shop, guard.Config{Addr: c.Addr, LAN: c.LAN, Names: c.Name, CertFile: c.Cert, KeyFile: c.Key, Dir: dir,
		Log: slog.New(slog.NewTextHandler(d.err, &slog.HandlerOptions{Level: slog.LevelWarn}))})
	if err != nil {
		return err
	}
	if err := srv.Listen(); err != nil {
		return err
	}
	fmt.Fprint(d.out, srv.Announcement())
	fmt.Fprintf(d.out, "Everything is kept in %s\nCtrl-C ends it; what was entered stays.\n", filepath.Join(dir, storeName))
	return srv.Serve(d.ctx)
}

// dataFolder is where the program keeps things: the folder given, or the user's data folder (XDG Base Directory, or what stands for it).
func dataFolder(given string) (string, error) {
	if given != "" {
		return given, os.MkdirAll(given, 0o700)
	}
	base := os.Getenv("XDG_DATA_HOME")
	if base == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", fmt.Errorf("there is no home folder to keep things in (%w): give one with --data FOLDER", err)
		}
		base = filepath.Join(home, ".local", "share")
		if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
			if base, err = os.UserConfigDir(); err != nil {
				return "", fmt.Errorf("there is no folder to keep things in (%w): give one with --data FOLDER", err)
			}
		}
	}
	dir := filepath.Join(base, "halfsplit")
	return dir, os.MkdirAll(dir, 0o700)
}

// ExampleJobs are the built-in machines as jobs: the case's title is what the owner says, its hidden faults are the truth.
func ExampleJobs() ([]app.Example, error) {
	var out []app.Example
	answers, err := fs.Glob(examples.Files, "*/answers.yaml")
	if err != nil {
		return nil, err
	}
	for _, file := range answers {
		dir := path.Dir(file)
		text, err := fs.ReadFile(examples.Files, file)
		if err != nil {
			return nil, err
		}
		var truth yaml.MapSlice
		if err := yaml.Unmarshal(text, &truth); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		files, err := exampleFiles(dir)
		if err != nil {
			return nil, err
		}
		for _, item := range truth {
			name := fmt.Sprint(item.Key)
			k, fl := inside{examples.Files}.Case(path.Join(dir, name))
			if k == nil || fl.Errors() {
				return nil, fmt.Errorf("%s/%s cannot be read", dir, name)
			}
			e := app.Example{Name: path.Join(dir, strings.TrimSuffix(name, caseSuffix)), Files: files}
			e.Intake = job.Intake{Machine: files.Title, Owner: "example", Complaint: k.Title, Mains: true, Stored: true,
				History: "An invented machine with something wrong in it: it answers the checks by itself, from the model.", Accessories: "none", Condition: "as new, apart from what is wrong"}
			for _, f := range item.Value.([]any) {
				e.Faults = append(e.Faults, fmt.Sprint(f))
			}
			if slices.ContainsFunc(e.Faults, func(f string) bool { return strings.HasPrefix(f, string(fault.PartErratic)) }) {
				continue // a part that does as it likes cannot answer from a model
			}
			for _, l := range k.Log { // up to the first reading that is no look: what an owner can see
				f := job.FromEvidence(l)
				if f.Repairs() || len(f.See)+len(f.Read) == 0 || len(e.Symptoms) > 0 && len(f.See) == 0 {
					break
				}
				e.Symptoms = append(e.Symptoms, f)
			}
			for _, z := range k.Damage {
				e.Intake.Zones = append(e.Intake.Zones, job.Zone{Kind: z.Kind, Parts: z.Parts, Nets: z.Nets})
			}
			out = append(out, e)
		}
	}
	return out, nil
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

type passphraseCmd struct {
	Data string `help:"Folder for the jobs, as with serve." placeholder:"FOLDER" env:"HALFSPLIT_DATA"`
}

func (c *passphraseCmd) Run(d *desk) error {
	dir, err := dataFolder(c.Data)
	if err != nil {
		return err
	}
	fmt.Fprint(d.err, "New passphrase (it is shown as you type; at least 12 characters): ")
	line, err := bufio.NewReader(d.in).ReadString('\n')
	if err != nil && line == "" {
		return errors.New("no passphrase was given")
	}
	if err := guard.SavePassphrase(dir, strings.TrimRight(line, "\r\n")); err != nil {
		return err
	}
	fmt.Fprintln(d.out, "Kept. halfsplit serve --lan asks for it.")
	return nil
}
