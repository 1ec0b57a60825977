package cli

import (
	"bufio"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"halfsplit/internal/adapter/store"
	"halfsplit/internal/adapter/web"
	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
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
