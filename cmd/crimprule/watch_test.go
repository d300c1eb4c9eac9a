package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A watched folder is measured as pictures come in, each only when it is whole.
func TestWatching(t *testing.T) {
	dir := t.TempDir()
	photos := filepath.Join(dir, "photos")
	picture := grey(t)
	require.NoError(t, os.Mkdir(photos, 0o755)) // nothing is there yet
	cmd := program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--watch", "--json", "--workers", "1")
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	require.NoError(t, cmd.Start())
	defer func() { _ = cmd.Process.Kill() }()
	rows := func() int {
		data, _ := os.ReadFile(filepath.Join(dir, "photos-evidence", "records.jsonl"))
		return bytes.Count(data, []byte("\n"))
	}
	wait := func(n int) {
		require.Eventually(t, func() bool { return rows() == n }, 30*time.Second, 50*time.Millisecond, "%d records", n)
	}
	put(t, filepath.Join(photos, "first.jpg"), picture(0))
	wait(1)

	// A picture that grows while it is copied, and stops for a while, as slow cards do.
	whole := picture(1)
	file, err := os.Create(filepath.Join(photos, "second.jpg"))
	require.NoError(t, err)
	for i := 0; i < len(whole); i += 1 + len(whole)/4 {
		_, err := file.Write(whole[i:min(len(whole), i+1+len(whole)/4)])
		require.NoError(t, err)
		time.Sleep(700 * time.Millisecond)
	}
	require.NoError(t, file.Close())
	wait(2)

	for i := range 3 {
		put(t, filepath.Join(photos, fmt.Sprintf("more-%d.jpg", i)), picture(2+i))
	}
	wait(5)
	require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
	require.NoError(t, cmd.Wait(), complaints.String())
	assert.Equal(t, 5, strings.Count(out.String(), "\n"))
	assert.NotContains(t, complaints.String(), "cut")
	assert.NoFileExists(t, filepath.Join(dir, "photos-evidence.part"))
	verified := call(t, program(dir, "evidence", "verify", "photos-evidence"))
	assert.Zero(t, verified.status, verified.stderr)
}

// Whatever a file is called, it comes out right everywhere.
func TestFileNamesOfAllKinds(t *testing.T) {
	dir := t.TempDir()
	names := []string{"two words.jpg", `"quoted" 'twice'.jpg`, "line\nbreak.jpg", "<b>bold & <script>alert(1)</script>.jpg", "größe-日本.jpg",
		"=cmd().jpg", "-leading.jpg", "percent%20.jpg", "back\\slash.jpg", "not utf-8 \xff.jpg", "\u202eright to left.jpg"}
	picture := grey(t)
	for i, name := range names {
		put(t, filepath.Join(dir, "photos", strings.ReplaceAll(name, "/", "_")), picture(i))
	}
	got := call(t, program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--json"))
	require.Zero(t, got.status, got.stderr)
	assert.Equal(t, len(names), strings.Count(got.stdout, "\n"))
	originals, err := os.ReadDir(filepath.Join(dir, "photos-evidence", "originals"))
	require.NoError(t, err)
	assert.Len(t, originals, len(names))
	page, err := os.ReadFile(filepath.Join(dir, "photos-evidence", "index.html"))
	require.NoError(t, err)
	assert.NotContains(t, string(page), "<script>alert")
	seen := map[string]bool{}
	for _, row := range csvOf(t, filepath.Join(dir, "photos-evidence", "crimps.csv")) {
		seen[row["file"]] = true
	}
	assert.Len(t, seen, len(names))
	assert.Zero(t, call(t, program(dir, "evidence", "verify", "photos-evidence")).status)
}
