package main

import (
	"errors"
	"io/fs"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/internal/scan"
	"crimprule/vision/picture"
)

// The scan tells what is too large before it is decoded, by a limit of its own.
func TestTheScanHasTheLimitOfThePictures(t *testing.T) {
	assert.EqualValues(t, picture.MaxBytes, scan.MaxBytes)
}

// A user's quota (EDQUOT) fills up as disks do.
func TestWhatIsAFullDisk(t *testing.T) {
	for err, full := range map[error]bool{syscall.ENOSPC: true, syscall.EDQUOT: true, syscall.EIO: false} {
		assert.Equal(t, full, isFull(&fs.PathError{Op: "write", Path: "thumb.jpg", Err: err}), "%v", err)
	}
	assert.False(t, isFull(errors.New("no")))
}
