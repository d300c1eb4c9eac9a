package scan

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/evidence"
)

// large makes a file of a size that takes no room.
func large(t *testing.T, path string, size int64) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, []byte("\xff\xd8\xff"), 0o644))
	require.NoError(t, os.Truncate(path, size))
}

func TestAFileThatIsTooLargeIsNotCopied(t *testing.T) {
	dir := t.TempDir()
	large(t, filepath.Join(dir, "most.jpg"), MaxBytes)
	large(t, filepath.Join(dir, "more.jpg"), MaxBytes+1)
	l, err := Find([]string{dir}, FindOptions{})
	require.NoError(t, err)
	require.Len(t, l.Files, 2)
	assert.Equal(t, `"more.jpg" has 2.1 GB, more than the 2.1 GB that a picture's file may have: crop the picture to the crimp and its scale reference`, l.Files[0].Problem)
	assert.Empty(t, l.Files[1].Problem)
	_, err = Task{Name: "more.jpg", Path: filepath.Join(dir, "more.jpg")}.Load()
	assert.EqualError(t, err, l.Files[0].Problem)
}

// A file may have grown since it was found.
func TestReadingEndsWhereAFileIsTooLarge(t *testing.T) {
	from := &bounded{from: endless{}, name: "x.jpg", n: MaxBytes - 1000}
	data, err := io.ReadAll(from)
	assert.ErrorContains(t, err, `"x.jpg" has 2.1 GB, more than`)
	assert.LessOrEqual(t, len(data), 1000)
}

type endless struct{}

func (endless) Read(p []byte) (int, error) { return min(len(p), 100), nil }

// Twenty thousand entries of one name took minutes.
func TestManyEntriesOfOneName(t *testing.T) {
	for _, name := range []string{"../a.jpg", "a.jpg"} {
		entries := make([]packed, maxEntries)
		for i := range entries {
			entries[i] = packed{name: name, data: []byte("x")}
		}
		path := saved(t, zipOf(t, entries...))
		began := time.Now()
		l, err := Find([]string{path}, FindOptions{})
		require.NoError(t, err)
		assert.Less(t, time.Since(began), 15*time.Second)
		assert.Len(t, l.Files, maxEntries)
		assert.Equal(t, fmt.Sprintf("%s (%d)", l.Files[0].File, maxEntries), l.Files[maxEntries-1].File)
		require.NoError(t, l.Close())
	}
	c := collection{names: map[string]int{}}
	for _, name := range []string{"a", "a (3)", "a", "a", "a (3)", "a", "a (3)"} {
		c.add(Found{File: name})
	}
	assert.Equal(t, []string{"a", "a (3)", "a (2)", "a (4)", "a (3) (2)", "a (5)", "a (3) (3)"}, c.listing.names())
}

// What a scan wrote is no site, in a ZIP as on the disk.
func TestEvidenceInAZIPIsLeftAlone(t *testing.T) {
	pack := func(folder string) []packed {
		var all []packed
		for _, name := range []string{evidence.ManifestName, "originals/00-1.jpg", "overlays/1.png", "thumbs/1.jpg", "crimps.csv", evidence.RecordsName, "deep/" + evidence.RecordsName,
			"deep/" + evidence.ManifestName} {
			all = append(all, packed{name: folder + name, data: []byte("x")})
		}
		return all
	}
	entries := append(pack(`site/north-evidence/`), pack(`old\`)...)
	entries = append(entries, packed{name: "site/1.jpg", data: []byte("x")}, packed{name: "half/" + evidence.RecordsName}, packed{name: "half/2.jpg", data: []byte("x")})
	l, err := Find([]string{saved(t, zipOf(t, entries...))}, FindOptions{})
	require.NoError(t, err)
	assert.Equal(t, []string{"half/2.jpg", "site/1.jpg"}, l.names())
	assert.ElementsMatch(t, []string{"old/", "site/north-evidence/", "half/" + evidence.RecordsName}, l.LeftAlone)
	require.NoError(t, l.Close())
	_, err = Find([]string{saved(t, zipOf(t, pack("")...))}, FindOptions{})
	assert.ErrorContains(t, err, "is evidence that a scan wrote, not a ZIP of pictures: name the folder or ZIP of the pictures themselves")
	_, err = Find([]string{saved(t, zipOf(t, pack("out/")...))}, FindOptions{})
	assert.ErrorIs(t, err, ErrNothing)
}
