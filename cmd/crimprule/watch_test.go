package main

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"slices"
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

// A watched folder is what it is now: a picture that another one replaces, one that was cut short and is whole at last, one
// that is taken away, and what a list says of them.
func TestWatchingWhatChanges(t *testing.T) {
	dir := t.TempDir()
	photos := filepath.Join(dir, "photos")
	picture := grey(t)
	cut, whole := filepath.Join(photos, "cut.jpg"), picture(1)
	put(t, filepath.Join(photos, "first.jpg"), picture(0))
	put(t, cut, whole[:len(whole)/3])
	put(t, filepath.Join(photos, "gone.jpg"), picture(2))
	cmd := program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--watch", "--json", "--workers", "1")
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	require.NoError(t, cmd.Start())
	defer func() { _ = cmd.Process.Kill() }()
	sum := func(data []byte) string { return fmt.Sprintf("%x", sha256.Sum256(data)) }
	wait := func(name string, with, without []string) {
		require.Eventually(t, func() bool {
			data, err := os.ReadFile(filepath.Join(dir, "photos-evidence", name))
			has := func(text string) bool { return bytes.Contains(data, []byte(text)) }
			return err == nil && !slices.ContainsFunc(without, has) && !slices.ContainsFunc(with, func(text string) bool { return !has(text) })
		}, 30*time.Second, 50*time.Millisecond, "%s with %s", name, with)
	}
	wait("records.jsonl", []string{sum(picture(0)), sum(picture(2))}, nil)

	put(t, filepath.Join(photos, "first.jpg"), picture(10))
	put(t, cut, whole)
	require.NoError(t, os.Remove(filepath.Join(photos, "gone.jpg")))
	wait("records.jsonl", []string{sum(picture(10)), sum(whole)}, []string{sum(picture(0)), sum(picture(2))})

	list := filepath.Join(photos, "manifest.csv")
	put(t, list, []byte("file,crimp\nfirst.jpg,\""))
	time.Sleep(5 * time.Second)
	put(t, list, []byte("file,crimp\nfirst.jpg,crimp seven\nlater.jpg,8\n"))
	wait("crimps.csv", []string{"crimp seven", "later.jpg"}, nil)
	put(t, filepath.Join(photos, "later.jpg"), picture(3))
	wait("records.jsonl", []string{sum(picture(10)), sum(whole), sum(picture(3))}, nil)

	require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
	require.NoError(t, cmd.Wait(), complaints.String())
	assert.Equal(t, 5, strings.Count(out.String(), "\n"), "each once, and the changed one again")
	for _, text := range []string{`"first.jpg" was changed: it is measured again`, `"cut.jpg" was changed`, `"gone.jpg" is no picture of this scan any more`, `waiting: `,
		`a quote that opens in this line is not closed`, `"later.jpg" was changed`} {
		assert.Equal(t, 1, strings.Count(complaints.String(), text), "%s in\n%s", text, &complaints)
	}
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

// What comes of one source never takes the place of what came of another, and a call that fails leaves nothing behind.
func TestEvidenceOfAnotherSourceStays(t *testing.T) {
	dir := t.TempDir()
	picture := grey(t)
	put(t, filepath.Join(dir, "photos", "bad.jpg"), picture(0))
	put(t, filepath.Join(dir, "photos", "more.jpg"), picture(2))
	put(t, filepath.Join(dir, "others", "good.jpg"), picture(1))
	var packed bytes.Buffer
	w := zip.NewWriter(&packed)
	entry, err := w.Create("good.jpg")
	require.NoError(t, err)
	_, err = entry.Write(picture(1))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	put(t, filepath.Join(dir, "photos.zip"), packed.Bytes())
	scan := func(args ...string) called {
		return call(t, program(dir, append([]string{"scan", "--scale", "chessboard=5mm"}, args...)...))
	}
	require.Zero(t, scan("photos").status)
	require.Zero(t, scan("photos.zip").status)
	assert.FileExists(t, filepath.Join(dir, "photos.zip-evidence", "index.html"))
	assert.FileExists(t, filepath.Join(dir, "photos.zip-history.db"))

	before := checksums(t, filepath.Join(dir, "photos-evidence"))
	got := scan("others", "--out", "photos-evidence", "--history", "photos-history.db")
	assert.Equal(t, exitWrongCall, got.status)
	assert.Contains(t, got.stderr, fmt.Sprintf(`the evidence in "photos-evidence" is that of %q, and this scan is of %q: name another folder with --out`,
		filepath.Join(dir, "photos"), filepath.Join(dir, "others")))
	assert.Equal(t, before, checksums(t, filepath.Join(dir, "photos-evidence")))
	require.Zero(t, scan("photos/bad.jpg").status)
	assert.Equal(t, exitWrongCall, scan("photos/more.jpg").status, "the other one would be forgotten")
	assert.Zero(t, scan("photos/bad.jpg", "photos/more.jpg").status)

	put(t, filepath.Join(dir, "limits.yaml"), []byte("limits: {}\n"))
	for _, args := range [][]string{
		{"--history", "limits.yaml"}, {"--history", "nowhere/h.db"}, {"--pattern", "{x}"}, {"--tolerances", "none.yaml"}, {"--manifest", "none.csv"},
		{"--history", "limits.yaml", "--out", "a/b/c"}, {"--history", "nowhere/h.db", "--out", "a/b/c"},
	} {
		got := scan(append([]string{"photos"}, args...)...)
		assert.NotZero(t, got.status, "%s", args)
		left, err := filepath.Glob(filepath.Join(dir, "*.part"))
		require.NoError(t, err)
		assert.Empty(t, left, "%s", args)
		assert.NoDirExists(t, filepath.Join(dir, "a"), "%s", args)
	}
}
