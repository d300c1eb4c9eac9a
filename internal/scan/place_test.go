package scan

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/evidence"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
}

// openPlace checks and opens.
func openPlace(path string) (*place, error) {
	p, err := placeAt(path)
	if err == nil {
		err = p.open()
	}
	return p, err
}

func TestEvidenceTakesItsPlaceInOneStep(t *testing.T) {
	out := filepath.Join(t.TempDir(), "evidence")
	p, err := openPlace(out)
	require.NoError(t, err)
	defer p.close()
	write(t, p.at("originals/a.jpg"), "a")
	write(t, p.at("originals/gone.jpg"), "b")
	write(t, p.at("index.html"), "of an earlier try")
	require.NoDirExists(t, out, "nothing is there before all is written")

	require.NoError(t, p.prune(map[string]bool{"originals/a.jpg": true}))
	assert.NoFileExists(t, p.at("index.html"))
	assert.NoFileExists(t, p.at("originals/gone.jpg"))
	write(t, p.at(evidence.ManifestName), strings.Repeat("01", 32)+"  originals/a.jpg\n")
	require.NoError(t, p.publish())
	assert.FileExists(t, filepath.Join(out, "originals", "a.jpg"))
	assert.NoDirExists(t, p.part)

	write(t, filepath.Join(out, "fotos", "note.txt"), "dear")
	_, err = openPlace(out)
	assert.ErrorContains(t, err, `"fotos" was added`)
	require.NoError(t, os.RemoveAll(filepath.Join(out, "fotos")))

	require.NoError(t, p.reopen())
	assert.True(t, p.has("originals/a.jpg"), "what the pack has is taken over")
	write(t, p.at(evidence.ManifestName), "new")
	require.NoError(t, p.publish())
	text, err := os.ReadFile(filepath.Join(out, evidence.ManifestName))
	require.NoError(t, err)
	assert.Equal(t, "new", string(text))
	left, err := os.ReadDir(filepath.Dir(out))
	require.NoError(t, err)
	assert.Len(t, left, 1, "neither .part nor .old is left")
}

func TestNothingDearIsOverwritten(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "photos", "a.jpg"), "a")
	_, err := openPlace(filepath.Join(dir, "photos"))
	assert.ErrorContains(t, err, "name a new or empty folder")
	_, err = openPlace(filepath.Join(dir, "photos", "a.jpg"))
	assert.ErrorContains(t, err, "is a file: name a folder")
	_, err = openPlace(filepath.Join(dir, "photos", "a.jpg", "deeper"))
	assert.ErrorContains(t, err, "name a folder for the evidence")

	write(t, filepath.Join(dir, "evidence.part", "mine.txt"), "a")
	_, err = openPlace(filepath.Join(dir, "evidence"))
	assert.ErrorContains(t, err, "mine.txt")
	assert.FileExists(t, filepath.Join(dir, "evidence.part", "mine.txt"))
}

func TestTwoScansDoNotWriteToOneFolder(t *testing.T) {
	out := filepath.Join(t.TempDir(), "evidence")
	first, err := openPlace(out)
	require.NoError(t, err)
	_, err = openPlace(out)
	assert.ErrorContains(t, err, "another scan is writing")
	first.close()
	second, err := openPlace(out)
	require.NoError(t, err)
	second.undo()
	assert.DirExists(t, second.part, "the first one made it")
	first.undo()
	assert.NoDirExists(t, second.part)
}

func TestBytesAreKeptUnderTheirHash(t *testing.T) {
	dir := t.TempDir()
	sha, size, err := keep(strings.NewReader("picture"), dir, func(sha string) string { return originalName("x/ä <b>.JPG", sha) })
	require.NoError(t, err)
	want := sha256.Sum256([]byte("picture"))
	assert.Equal(t, hex.EncodeToString(want[:]), sha)
	assert.EqualValues(t, 7, size)
	assert.FileExists(t, filepath.Join(dir, sha[:16]+"-___b_.jpg"))

	_, _, err = keep(io.MultiReader(strings.NewReader("half"), failing{}), dir, func(string) string { return "half" })
	var reading readError
	require.ErrorAs(t, err, &reading)
	_, _, err = keep(strings.NewReader("picture"), filepath.Join(dir, "none"), func(string) string { return "x" })
	var writing writeError
	require.ErrorAs(t, err, &writing)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, left, 1, "no temporary file is left")
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("the card was pulled") }

func TestNamesOfOriginalsAreSafeEverywhere(t *testing.T) {
	sha := strings.Repeat("0123456789abcdef", 4)
	for file, want := range map[string]string{
		"a/b/photo 1.jpg":                  "0123456789abcdef-photo_1.jpg",
		"../../etc/passwd":                 "0123456789abcdef-passwd",
		"line\nbreak\"quote'.png":          "0123456789abcdef-line_break_quote_.png",
		".jpg":                             "0123456789abcdef.jpg",
		strings.Repeat("x", 300) + ".tiff": "0123456789abcdef-" + strings.Repeat("x", 60) + ".tiff",
		"\xff\xfe.jpeg":                    "0123456789abcdef-__.jpeg",
		"a.b.c.webp":                       "0123456789abcdef-abc.webp",
	} {
		assert.Equal(t, want, originalName(file, sha), "%q", file)
	}
}
