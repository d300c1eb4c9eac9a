//go:build unix

package history

import "syscall"

// canWrite tells whether files can be made in a folder.
func canWrite(folder string) bool {
	const writable = 2 // W_OK of access(2)
	return syscall.Access(folder, writable) == nil
}
