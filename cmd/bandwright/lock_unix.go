//go:build unix && !solaris && !illumos && !aix

package main

import (
	"os"
	"syscall"
)

// lock takes the lock on a file or folder until it is closed; false where
// somebody else has it or there are no locks.
func lock(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
