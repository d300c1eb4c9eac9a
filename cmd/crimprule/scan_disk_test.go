package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mounted mounts a small file system in memory, where this is allowed, with options such as size=1m.
func mounted(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, options); err != nil {
		t.Skipf("no file system can be mounted here (%v)", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(dir, 0)) })
	return dir
}

func TestAFullDiskLeavesNothingHalfWritten(t *testing.T) {
	small := mounted(t, "size=3m")
	dir := t.TempDir()
	picture := grey(t)
	for i := range 400 {
		put(t, filepath.Join(dir, "photos", fmt.Sprintf("crimp-%04d.jpg", i)), picture(i))
	}
	out := filepath.Join(small, "evidence")
	got := call(t, program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--out", out, "--history", "history.db"))
	assert.Equal(t, exitFailed, got.status, got.stderr)
	assert.Contains(t, got.stderr, "the disk is full")
	assert.Contains(t, got.stderr, "make room, or name another folder")
	left, err := os.ReadDir(small)
	require.NoError(t, err)
	assert.Empty(t, left)

	got = call(t, program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--out", "evidence", "--history", filepath.Join(small, "history.db")))
	assert.Equal(t, exitFailed, got.status, got.stderr)
	assert.Contains(t, got.stderr, "full")
	assert.NoDirExists(t, filepath.Join(dir, "evidence"))
}

func TestAHistoryThatCannotBeWritten(t *testing.T) {
	dir := mounted(t, "size=8m")
	put(t, filepath.Join(dir, "photos", "a.jpg"), smallJPEG(t))
	require.NoError(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	got := call(t, program(t.TempDir(), "scan", filepath.Join(dir, "photos"), "--scale", "chessboard=5mm", "--out", "evidence"))
	assert.Equal(t, exitFailed, got.status, got.stderr)
	assert.Contains(t, got.stderr, "photos-history.db")
	assert.Contains(t, got.stderr, "name another file")
}

// What cannot be printed is no fault of the evidence: it stays.
func TestAFullStandardOutputIsNoFullDisk(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skipf("this system has no /dev/full (%v)", err)
	}
	defer func() { _ = full.Close() }()
	dir := t.TempDir()
	put(t, filepath.Join(dir, "in", "a.jpg"), smallJPEG(t))
	limits, err := os.ReadFile("../../samples/canopy-4mm2.yaml")
	require.NoError(t, err)
	put(t, filepath.Join(dir, "limits.yaml"), limits)
	for _, args := range [][]string{{"scan", "--json"}, {"scan"}, {"grade", "--tolerances", "limits.yaml"}, {"grade", "--json", "--tolerances", "limits.yaml"}} {
		cmd := program(dir, append(args, "in", "--scale", "chessboard=5mm")...)
		var complaints bytes.Buffer
		cmd.Stdout, cmd.Stderr = full, &complaints
		require.Error(t, cmd.Run())
		assert.Equal(t, exitFailed, cmd.ProcessState.ExitCode())
		assert.Contains(t, complaints.String(), "standard output: no space left on device")
		assert.NotContains(t, complaints.String(), "disk is full")
		thumbs, err := filepath.Glob(filepath.Join(dir, "in-evidence*", "thumbs", "*.jpg"))
		require.NoError(t, err)
		assert.Len(t, thumbs, 1, "what was drawn is kept")
	}
}

// A disk's own folder cannot be replaced, which is told before anything is measured.
func TestEvidenceIsNotWrittenToAMountPoint(t *testing.T) {
	disk := mounted(t, "size=1m")
	dir := t.TempDir()
	put(t, filepath.Join(dir, "in", "a.jpg"), smallJPEG(t))
	got := call(t, program(dir, "scan", "in", "--scale", "chessboard=5mm", "--out", disk))
	assert.Equal(t, exitWrongCall, got.status, got.stderr)
	assert.Contains(t, got.stderr, "name a new folder in it")
	assert.NoFileExists(t, filepath.Join(dir, "in-history.db"))
}
