package evidence

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bundle makes a folder of plain files with a manifest.
func bundle(t *testing.T, files map[string]string) string {
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	_, err := folder(dir).manifest(t.Context())
	require.NoError(t, err)
	return dir
}

var small = map[string]string{
	"index.html": "page", "crimps/0001.html": "one", "originals/back\\slash": "b", "originals/two\nlines": "l", "originals/return\r": "r",
	"originals/ space ": "s", "originals/ümläut": "u", "originals/not \xff utf-8": "x", "originals/*star": "*",
}

// TestManifestIsThatOfSha256sum holds the manifest against GNU sha256sum, both ways: it accepts ours, and Verify accepts
// the one that it writes. The sums of "abc" and of nothing are those of FIPS 180-4's example files (from memory).
func TestManifestIsThatOfSha256sum(t *testing.T) {
	assert.Equal(t, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad  abc\n", manifestLine(hashOf("abc"), "abc"))
	assert.Equal(t, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", hashOf(""))
	if _, err := exec.LookPath("sha256sum"); err != nil || runtime.GOOS != "linux" {
		t.Skip("there is no sha256sum here")
	}
	dir := bundle(t, small)
	check := exec.Command("sha256sum", "--check", "--strict", "--quiet", ManifestName)
	check.Dir = dir
	out, err := check.CombinedOutput()
	require.NoError(t, err, "%s", out)

	list := exec.Command("sh", "-c", `find . -type f ! -name `+ManifestName+` -printf '%P\0' | xargs -0 sha256sum -- > `+ManifestName)
	list.Dir = dir
	require.NoError(t, list.Run())
	r, err := Verify(dir)
	require.NoError(t, err)
	assert.True(t, r.Whole(), "%+v", r)
	assert.Equal(t, len(small), r.Files)
}

// TestVerifyNamesWhatIsWrong changes a bundle in every way and finds each named.
func TestVerifyNamesWhatIsWrong(t *testing.T) {
	dir := bundle(t, small)
	r, err := Verify(dir)
	require.NoError(t, err)
	require.True(t, r.Whole(), "%+v", r)
	own := r.Manifest
	assert.Equal(t, hashOf(read(t, dir, ManifestName)), own)

	require.NoError(t, os.WriteFile(filepath.Join(dir, "index.html"), []byte("Page"), 0o644))
	require.NoError(t, os.Remove(filepath.Join(dir, "crimps", "0001.html")))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "crimps", "0002.html"), []byte("two"), 0o644))
	require.NoError(t, os.Rename(filepath.Join(dir, "originals", "*star"), filepath.Join(dir, "originals", "star")))
	r, err = Verify(dir)
	require.NoError(t, err)
	assert.False(t, r.Whole())
	assert.Equal(t, Report{Files: len(small), Manifest: own, Changed: []string{"index.html"}, Missing: []string{"crimps/0001.html", "originals/*star"},
		Additional: []string{"crimps/0002.html", "originals/star"}, Refused: []Problem{}}, r)
}

// TestVerifyFollowsNoLinks: a file that was replaced by a link to another one with the same content is refused, and so is
// a folder, and a pipe is not read.
func TestVerifyFollowsNoLinks(t *testing.T) {
	outside := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(outside, "index.html"), []byte("page"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(outside, "0001.html"), []byte("one"), 0o644))
	dir := bundle(t, small)
	require.NoError(t, os.Remove(filepath.Join(dir, "index.html")))
	require.NoError(t, os.Symlink(filepath.Join(outside, "index.html"), filepath.Join(dir, "index.html")))
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "crimps")))
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "crimps")))
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe"), 0o644))
	r, err := Verify(dir)
	require.NoError(t, err)
	assert.Equal(t, []Problem{{"crimps", "a symbolic link"}, {"index.html", "a symbolic link"}, {"pipe", "no plain file"}}, r.Refused)
	assert.Equal(t, []string{"crimps/0001.html"}, r.Missing, "what lies behind a link is not there")

	_, err = folder(dir).manifest(t.Context())
	require.ErrorContains(t, err, "evidence holds plain files only")

	require.NoError(t, os.Remove(filepath.Join(dir, ManifestName)))
	require.NoError(t, os.Symlink(filepath.Join(outside, "index.html"), filepath.Join(dir, ManifestName)))
	_, err = Verify(dir)
	require.ErrorContains(t, err, "is no plain file")
}

// TestVerifyRefusesWrongLines: names that lead out of the folder, and what is no line of a manifest, are named with their
// line; nothing outside is read.
func TestVerifyRefusesWrongLines(t *testing.T) {
	sum := hashOf("page")
	for text, reason := range map[string]string{
		sum + "  ../index.html":           `the name "../index.html" is none of a file below the folder`,
		sum + "  /etc/passwd":             `the name "/etc/passwd" is none of a file below the folder`,
		sum + "  crimps/../../x":          `is none of a file below the folder`,
		sum + "  ./index.html":            `is none of a file below the folder`,
		sum + "  crimps//0001.html":       `is none of a file below the folder`,
		sum + "  ":                        `it is no line of the form`,
		sum + "  .":                       `is none of a file below the folder`,
		sum + "  " + ManifestName:         `is none of a file below the folder`,
		sum[1:] + "  index.html":          `it is no line of the form`,
		strings.Repeat("g", 64) + "  x":   `its sum is no SHA-256`,
		`\` + sum + `  bad\tescape`:       `a backslash that escapes nothing`,
		`\` + sum + `  ends\`:             `a backslash that escapes nothing`,
		sum + "  a\n" + sum + "  a":       `the name "a" stands there twice`,
		"# a comment":                     `it is no line of the form`,
		"":                                "",
		strings.ToUpper(sum) + "  upper":  "",
		sum + " *binary":                  "",
		`\` + sum + `  esca\\ped\nname\r`: "",
	} {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, ManifestName), []byte(text+"\n"), 0o644))
		r, err := Verify(dir)
		require.NoError(t, err, text)
		if reason == "" && text != "" {
			assert.Empty(t, r.Refused, text)
			assert.Len(t, r.Missing, 1, text)
			continue
		}
		require.Len(t, r.Refused, 1, text)
		assert.Contains(t, r.Refused[0].Reason, reason)
		assert.Contains(t, r.Refused[0].Name, ManifestName+", line ")
	}
}

// TestVerifyWrongFolder: what cannot be checked at all is an error that says what to do.
func TestVerifyWrongFolder(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	for path, want := range map[string]string{
		filepath.Join(dir, "nowhere"): "does not exist: name the folder of the evidence",
		file:                          "is no folder: name the folder of the evidence",
		dir:                           "holds no manifest.sha256",
	} {
		_, err := Verify(path)
		require.ErrorContains(t, err, want)
		require.ErrorContains(t, err, path)
	}
}

// FuzzManifestLine: what is written is read again, whatever the name, and no line makes the reader panic.
func FuzzManifestLine(f *testing.F) {
	for name := range small {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		_, _, _ = parseLine(name)
		if name == "" {
			return
		}
		line := manifestLine(hashOf(name), name)
		sum, back, err := parseLine(strings.TrimSuffix(line, "\n"))
		require.NoError(t, err)
		assert.Equal(t, name, back)
		assert.Equal(t, hashOf(name), sum)
		assert.Equal(t, 1, strings.Count(line, "\n"))
	})
}
