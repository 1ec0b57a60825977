package store

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
)

// A file that may not be written is told and left alone. Tests may run as root, who may write anything; so this one thread touches files as
// another user.
func TestReadOnly(t *testing.T) {
	path := workshop(t)
	dir := filepath.Dir(path)
	for p, mode := range map[string]os.FileMode{path: 0o444, dir: 0o555, filepath.Dir(dir): 0o755} {
		if err := os.Chmod(p, mode); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() { _ = os.Chmod(dir, 0o700) })
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	before := prints(t, dir)
	told := 0
	attempt := func(name string) {
		if os.Geteuid() == 0 {
			if err := syscall.Setfsuid(65534); err != nil {
				t.Fatal(err)
			}
			defer func() { _ = syscall.Setfsuid(0) }()
		}
		s, err := Open(bg, name)
		if err == nil {
			_ = s.Close()
		}
		if errors.Is(err, ErrReadOnly) {
			told++
		}
		t.Log(err)
	}
	attempt(path)
	attempt(filepath.Join(dir, "another.db"))
	attempt(filepath.Join(dir, "folder", "another.db"))
	if err := os.Chmod(path, 0o666); err != nil { // the file may be written, its folder not
		t.Fatal(err)
	}
	if err := os.Remove(path + ".lock"); err != nil {
		t.Fatal(err)
	}
	attempt(path)
	same(t, "told", told, 4)
	same(t, "the folder", prints(t, dir), before)
}
