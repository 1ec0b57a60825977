package jobs

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/photo"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// form reads what was typed; the mistakes are gathered and told together.
type form struct {
	r     *http.Request
	wrong []error
}

// read parses the form of a request. The error is not a mistake of the person: too large, or broken off.
func read(r *http.Request) (*form, error) {
	if err := r.ParseForm(); err != nil {
		return nil, err
	}
	return &form{r: r}, nil
}

func (f *form) text(name string) string { return tidy(f.r.PostForm.Get(name)) }

// tidy gives lines one kind of end, and no empty space around.
func tidy(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n")) }

func (f *form) yes(name string) bool { return f.r.PostForm.Get(name) != "" }

func (f *form) amount(name string) job.Money {
	m, err := shell.ReadAmount(f.r.PostForm.Get(name))
	if err != nil {
		f.wrong = append(f.wrong, err)
	}
	return m
}

// number reads a decimal number within bounds; given is false for an empty field. what begins the message, such as "the ripple".
func (f *form) number(name, what string, low, high float64) (x float64, given bool) {
	s := f.text(name)
	if s == "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(strings.NewReplacer(",", ".", "−", "-", "\u00a0", "", " ", "").Replace(s), 64)
	switch {
	case err != nil || math.IsNaN(x):
		f.mistake("%s: %q is no number", what, s)
	case x < low || x > high:
		f.mistake("%s: %s is not within %s to %s", what, s, plainNumber(low), plainNumber(high))
	}
	return x, true
}

// number64 reads a hidden number of the page itself.
func (f *form) number64(name string) int64 {
	n, err := strconv.ParseInt(f.r.PostForm.Get(name), 10, 64)
	if err != nil {
		f.mistake("the form is not whole; load the page again")
	}
	return n
}

func (f *form) mistake(format string, args ...any) {
	f.wrong = append(f.wrong, fmt.Errorf(format, args...))
}

// err is every mistake, one to a line; nil without one.
func (f *form) err() error {
	if len(f.wrong) == 0 {
		return nil
	}
	return app.Wrong{Err: errors.Join(f.wrong...)}
}

func plainNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// refs reads places typed one after the other: U3, C12 R4.
func refs(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\t' })
}

// plain turns errors of the adapters into what the frame knows how to tell.
func plain(err error) error {
	var refused *photo.Refused
	if errors.As(err, &refused) {
		return app.Wrong{Err: refused}
	}
	return err
}
