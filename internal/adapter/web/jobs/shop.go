package jobs

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// haveNames are what the bench can have, in words.
var haveNames = map[string]string{
	"scope": "Oscilloscope", "logic-probe": "Logic probe", "meter": "Meter for volts and ohms", "iron": "Soldering iron and sucker", "spare": "Spare chips to swap in",
	"adapter": "No-operation adapter: lets a processor run free",
}

// shopView is what holds for every job of the shop.
type shopView struct {
	info     shell.Info
	currency string
	rate     job.Money
	part     string // usual price, as typed
	have     []string
	minutes  map[string]string // by stage, as set; "" means the usual
	saved    bool
	restored bool
}

func (p *pages) shop(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	t := p.usualTerms(r)
	v := shopView{info: shell.Info{Shell: p.Shell, Title: "Shop", Nav: "shop"}, currency: t.Currency, rate: t.Rate, minutes: map[string]string{},
		have: strings.Fields(p.Desk.SettingOr(ctx, "have", "scope meter iron")), saved: r.FormValue("saved") != "", restored: r.FormValue("restored") != ""}
	if n, err := strconv.ParseInt(p.Desk.SettingOr(ctx, "part-price", ""), 10, 64); err == nil {
		v.part = shell.Amount(job.Money(n), "")
	}
	for _, s := range job.Stages {
		v.minutes[s.Name] = p.Desk.SettingOr(ctx, "minutes-"+s.Name, "")
	}
	p.Render(w, r, http.StatusOK, shopPage(v))
	return nil
}

// longestStage in minutes: ten working days.
const longestStage = 4800

// saveShop keeps the settings; all of them, or none when one is wrong.
func (p *pages) saveShop(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	type setting struct{ name, value string }
	var all []setting
	cents := func(name, field, what string) {
		m := f.amount(field)
		value := ""
		if f.text(field) != "" {
			value = strconv.FormatInt(int64(m), 10)
		}
		if m < 0 || m > 1e9 {
			f.mistake("%s is negative or absurd", what)
		}
		all = append(all, setting{name, value})
	}
	all = append(all, setting{"currency", f.text("currency")})
	if len([]rune(f.text("currency"))) > 8 {
		f.mistake("the currency has more than 8 characters")
	}
	cents("rate", "rate", "the rate")
	cents("part-price", "part-price", "the usual price of a part")
	have := r.PostForm["have"]
	for _, h := range have {
		if !slices.Contains(job.HaveWords, h) {
			f.mistake("%q is none of %s", h, strings.Join(job.HaveWords, ", "))
		}
	}
	if len(have) == 0 {
		have = []string{"none"} // an empty setting would mean that it was never set
	}
	all = append(all, setting{"have", strings.Join(have, " ")})
	for _, s := range job.Stages {
		value := ""
		if m, given := f.number("minutes-"+s.Name, "minutes of "+s.Title, 0, longestStage); given {
			value = plainNumber(m)
		}
		all = append(all, setting{"minutes-" + s.Name, value})
	}
	if err := f.err(); err != nil {
		return err
	}
	for _, s := range all {
		if err := p.Desk.Store().SetSetting(r.Context(), s.name, s.value); err != nil {
			return err
		}
	}
	shell.Back(w, r, "/shop?saved=1")
	return nil
}

// download sends a backup. It is written while it is sent, so a failure on the way can only break the answer off.
func (p *pages) download(w http.ResponseWriter, r *http.Request) error {
	h := w.Header()
	h.Set("Content-Type", "application/x-tar")
	h.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="halfsplit-%s.tar"`, p.Desk.Now().Local().Format("2006-01-02-1504")))
	c := &counted{w: w}
	err := p.Desk.Store().Backup(r.Context(), c)
	if err == nil {
		return nil
	}
	if c.n == 0 {
		h.Del("Content-Disposition")
		return err
	}
	p.Log.Error("a backup broke off", "error", err)
	panic(http.ErrAbortHandler) // half a backup must not look like a whole one
}

// counted counts what was written.
type counted struct {
	w io.Writer
	n int64
}

func (c *counted) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.n += int64(n)
	return n, err
}

// restore takes a backup in place of everything. What is wrong with the file is a mistake of the person, not of the program.
func (p *pages) restore(w http.ResponseWriter, r *http.Request) error {
	parts, err := r.MultipartReader()
	if err != nil {
		return app.Wrong{Err: errors.New("no backup came with the form: choose one")}
	}
	sure := false
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return app.Wrong{Err: errors.New("no backup came with the form: choose one")}
		}
		if err != nil {
			return brokenOff(err, 0)
		}
		switch {
		case part.FormName() == "sure":
			sure = true
		case part.FormName() == "backup" && part.FileName() != "":
			if !sure {
				return app.Wrong{Err: errors.New("everything that is here now would go: tick that you are sure")}
			}
			if err := p.Desk.Restore(r.Context(), part); err != nil {
				if _, large := guard.TooLarge(err); large || r.Context().Err() != nil {
					return err
				}
				return app.Wrong{Err: err}
			}
			shell.Back(w, r, "/shop?restored=1")
			return nil
		}
	}
}
