// Package e2e drives the real program in a real browser: it builds the binary, starts its bench page and works on it with finger, mouse
// and keys. Its tests take an invented machine through a whole job; cmd/pictures takes the README's pictures with it.
//
// This file is the program under test: built, started, killed.
package e2e

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// Witness is told of what goes wrong; testing.TB is one. Fatalf does not return.
type Witness interface {
	Helper()
	Fatalf(format string, args ...any)
}

// Build compiles the program into a folder, as it is released, and returns the binary.
func Build(w Witness, dir string) string {
	w.Helper()
	root, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}").Output()
	if err != nil {
		w.Fatalf("where is the module? %v", err)
	}
	bin := filepath.Join(dir, "halfsplit")
	c := exec.Command("go", "build", "-o", bin, "./cmd/halfsplit")
	c.Dir = strings.TrimSpace(string(root))
	c.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := c.CombinedOutput(); err != nil {
		w.Fatalf("the program does not build: %v\n%s", err, out)
	}
	return bin
}

// Server is the program with its bench page open.
type Server struct {
	URL string // without a slash at the end
	w   Witness
	cmd *exec.Cmd
}

// Serve starts the program over a data folder. addr is HOST:PORT; port 0 takes a free one.
func Serve(w Witness, bin, data, addr string) *Server {
	w.Helper()
	c := exec.Command(bin, "serve", "--addr", addr, "--data", data)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		w.Fatalf("%v", err)
	}
	if err := c.Start(); err != nil {
		w.Fatalf("%v", err)
	}
	s := &Server{w: w, cmd: c}
	lines := bufio.NewReader(out)
	first, err := lines.ReadString('\n')
	_, address, found := strings.Cut(strings.TrimSpace(first), " at ")
	if err != nil || !found {
		s.Kill()
		w.Fatalf("the program did not say where its page is, but %q (%v)", first, err)
	}
	s.URL = strings.TrimSuffix(address, "/")
	go func() { // what else it says must not fill the pipe
		for err == nil {
			_, err = lines.ReadString('\n')
		}
	}()
	return s
}

// Addr is where it listens, as HOST:PORT.
func (s *Server) Addr() string { return strings.TrimPrefix(s.URL, "http://") }

// Kill ends the program without a warning, as a failing battery does.
func (s *Server) Kill() {
	_ = s.cmd.Process.Kill() // an error says that it has ended already
	_ = s.cmd.Wait()         // which was killed
}

// Stop ends the program as Ctrl-C does.
func (s *Server) Stop() {
	s.w.Helper()
	late := time.AfterFunc(10*time.Second, func() { _ = s.cmd.Process.Kill() })
	defer late.Stop()
	if err := s.cmd.Process.Signal(syscall.SIGINT); err != nil {
		s.w.Fatalf("the program had ended before it was told to: %v", err)
	}
	if err := s.cmd.Wait(); err != nil {
		s.w.Fatalf("the program did not end well: %v", err)
	}
}
