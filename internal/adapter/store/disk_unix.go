//go:build unix

package store

// What is asked of the operating system: a lock that ends with its process, and the free space.

import (
	"os"
	"syscall"
)

// tryLock takes the lock on an open file or says that another process (or another opening in this one) has it.
func tryLock(f *os.File) (bool, error) {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == syscall.EWOULDBLOCK {
		return false, nil
	}
	return err == nil, err
}

// unlock gives the lock back. Closing the file is not enough: a program that this process is just starting may still hold a copy of it.
func unlock(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_UN) }

// freeSpace is the number of bytes that this user can still write in a folder.
func freeSpace(dir string) (int64, error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}

// syncFolder makes a new name in a folder outlast a power cut.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
