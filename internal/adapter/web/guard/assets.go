package guard

// Files of the page itself (scripts, styles, fonts, icons) under an address that names their content, so that a browser asks for each
// only once and never shows an old one.

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"strings"
)

// Assets serves a fixed set of files. One name stands for the content of all of them, so that files may refer to each other relatively.
type Assets struct {
	prefix string // "/static/<hash>/"
	known  map[string]bool
	files  http.Handler
}

// NewAssets reads every file of fsys once. prefix begins and ends with "/".
func NewAssets(prefix string, fsys fs.FS) (*Assets, error) {
	sum := sha256.New()
	known := map[string]bool{}
	err := fs.WalkDir(fsys, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(fsys, name)
		if err != nil {
			return err
		}
		known[name] = true
		fmt.Fprintf(sum, "%d %s %d\n", len(name), name, len(b))
		sum.Write(b)
		return nil
	})
	if err != nil {
		return nil, err
	}
	a := &Assets{prefix: prefix + hex.EncodeToString(sum.Sum(nil)[:8]) + "/", known: known}
	a.files = http.StripPrefix(a.prefix, http.FileServerFS(fsys))
	return a, nil
}

// URL is the address of a file. An unknown name is a mistake in the page and panics when the page is first drawn.
func (a *Assets) URL(name string) string {
	if !a.known[name] {
		panic("guard: no asset " + name)
	}
	return a.prefix + name
}

// ServeHTTP answers files under their present address; folders are not listed.
func (a *Assets) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	name, ok := strings.CutPrefix(r.URL.Path, a.prefix)
	if !ok || !a.known[name] || strings.HasSuffix(name, "index.html") {
		http.NotFound(w, r)
		return
	}
	if changes(r.Method) {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "This is a file of the page.", http.StatusMethodNotAllowed)
		return
	}
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	a.files.ServeHTTP(w, r)
}
