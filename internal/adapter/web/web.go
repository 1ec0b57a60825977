// Package web is the bench page: a server that a browser on the tablet beside the work talks to. It only routes; the pages are in the
// packages below it, what they show comes from app, and guard decides who may ask.
package web

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"strings"

	"halfsplit/internal/adapter/web/boards"
	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/adapter/web/handover"
	"halfsplit/internal/adapter/web/jobs"
	"halfsplit/internal/adapter/web/parts"
	"halfsplit/internal/adapter/web/probe"
	"halfsplit/internal/adapter/web/reckon"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/adapter/web/substitute"
	"halfsplit/internal/adapter/web/volts"
	"halfsplit/internal/app"
)

// Server is the bench page over one workshop.
type Server struct {
	guard *guard.Guard
	mux   http.Handler
}

// Sizes of forms, in bytes. Photos and backups have their own; every other form is text.
const (
	textBody   = 4 << 20
	boardBody  = 12 << 20 // the text of a board as a form sends it, where a bracket takes three bytes
	photoBody  = 48 << 20
	backupBody = 4 << 30
)

// New makes the server. cfg is completed with the page's own log-in and refusals.
func New(desk *app.Desk, cfg guard.Config) (*Server, error) {
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	cfg.Public = append(cfg.Public, shell.Prefix)
	cfg.Body = func(r *http.Request) int64 {
		switch {
		case strings.HasSuffix(r.URL.Path, "/photos"), r.URL.Path == "/boards/import":
			return photoBody
		case strings.HasPrefix(r.URL.Path, "/boards/"):
			return boardBody
		case r.URL.Path == "/shop/restore":
			return backupBody
		}
		return textBody
	}
	sh, err := shell.New(desk, cfg.Log, cfg.LAN || cfg.Hash != "")
	if err != nil {
		return nil, err
	}
	cfg.Refused = sh.Refused
	g, err := guard.New(cfg, sh.Login)
	if err != nil {
		return nil, err
	}
	return &Server{g, routes(sh)}, nil
}

// routes are all pages.
func routes(sh *shell.Shell) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET "+shell.Prefix, sh.Assets)
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/jobs", http.StatusSeeOther) })
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) { sh.Fail(w, r, app.ErrNone) })
	jobs.Register(mux, sh)
	probe.Register(mux, sh)
	reckon.Register(mux, sh)
	substitute.Register(mux, sh)
	handover.Register(mux, sh)
	boards.Register(mux, sh)
	parts.Register(mux, sh)
	volts.Register(mux, sh)
	return mux
}

// Listen takes the address; URL and Announcement are known afterwards.
func (s *Server) Listen() error { return s.guard.Listen() }

// URL is the address of the page on this machine.
func (s *Server) URL() string { return s.guard.URL() }

// Announcement says where the page is, and on a LAN what to compare on the tablet.
func (s *Server) Announcement() string { return s.guard.Announcement() }

// Serve answers until ctx ends.
func (s *Server) Serve(ctx context.Context) error { return s.guard.Serve(ctx, s.mux) }

// Handler is the whole page behind its guard, for tests without a listener.
func (s *Server) Handler() http.Handler { return s.guard.Wrap(s.mux) }
