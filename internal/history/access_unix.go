//go:build unix

package history

import "syscall"

// canWrite tells whether a file can be written, or files can be made in a folder.
func canWrite(path string) bool {
	const writable = 2 // W_OK of access(2)
	return syscall.Access(path, writable) == nil
}
