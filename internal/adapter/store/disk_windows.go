package store

// What is asked of the operating system: a lock that ends with its process, and the free space.

import (
	"os"

	"golang.org/x/sys/windows"
)

// lockedByte lies beyond the text of the lock file, because others cannot read a locked byte here.
const lockedByte = 1 << 20

// tryLock takes the lock on an open file or says that another process (or another opening in this one) has it.
func tryLock(f *os.File) (bool, error) {
	at := windows.Overlapped{Offset: lockedByte}
	err := windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &at)
	if err == windows.ERROR_LOCK_VIOLATION {
		return false, nil
	}
	return err == nil, err
}

// unlock gives the lock back.
func unlock(f *os.File) error {
	at := windows.Overlapped{Offset: lockedByte}
	return windows.UnlockFileEx(windows.Handle(f.Fd()), 0, 1, 0, &at)
}

// freeSpace is the number of bytes that this user can still write in a folder.
func freeSpace(dir string) (int64, error) {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(name, &free, nil, nil); err != nil {
		return 0, err
	}
	return int64(free), nil
}

// syncFolder does nothing: a folder cannot be synced here.
func syncFolder(string) error { return nil }
