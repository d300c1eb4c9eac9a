package evidence

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// written writes the evidence of a site into a folder of its own.
func written(t testing.TB, v *invented) (string, Summary) {
	v.dir = t.TempDir()
	s, err := Write(context.Background(), v.dir, v.info(), v)
	require.NoError(t, err)
	return v.dir, s
}

func read(t testing.TB, parts ...string) string {
	data, err := os.ReadFile(filepath.Join(parts...))
	require.NoError(t, err)
	return string(data)
}

// TestWrite counts the invented site's crimps anew, from its own rules, and finds every file in its place.
func TestWrite(t *testing.T) {
	v := newInvented(t, 120)
	dir, s := written(t, v)
	want := map[record.Result]int{}
	pictures, failed, refused := 0, 0, 0
	require.NoError(t, v.Crimps(context.Background(), func(c site.Crimp) error {
		want[c.Result]++
		for _, p := range c.Pictures {
			pictures++
			if p.Record == nil {
				failed++
			} else if len(p.Record.Retake) > 0 {
				refused++
			}
		}
		return nil
	}))
	assert.Equal(t, 120, s.Crimps)
	assert.Equal(t, []int{pictures, failed, refused}, []int{s.Pictures, s.Failed, s.Refused})
	assert.Equal(t, want, s.Results)
	assert.Equal(t, want[record.Conforms], s.Conforming)
	assert.Equal(t, 120-want[record.NotMeasured]-want[""], s.Judged, "a value measured elsewhere without a limit keeps a crimp from being judged")
	for _, name := range []string{"index.html", "crimps/0001.html", "crimps/0120.html", "evidence.pdf", "crimps.csv", "records.jsonl",
		"manifest.sha256", "assets/style.css"} {
		assert.FileExists(t, filepath.Join(dir, name))
	}
	assert.NoFileExists(t, filepath.Join(dir, "crimps/0121.html"))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		assert.Contains(t, append(Names(), "originals", "overlays", "thumbs"), e.Name())
	}
	r, err := Verify(dir)
	require.NoError(t, err)
	assert.True(t, r.Whole(), "%+v", r)
	assert.Equal(t, s.Manifest, r.Manifest)
	for _, tolerances := range v.info().Tolerances {
		assert.Equal(t, tolerances.Text, read(t, dir, tolerances.Path()), "as it was")
		assert.Equal(t, tolerances.Hash, hashOf(read(t, dir, tolerances.Path())))
	}
}

// TestEqualInputGivesEqualBytes writes the same site twice.
func TestEqualInputGivesEqualBytes(t *testing.T) {
	v := newInvented(t, 130)
	v.odd = true
	one, first := written(t, v)
	two, second := written(t, v)
	lines := strings.Split(read(t, two, ManifestName), "\n")
	for i, line := range strings.Split(read(t, one, ManifestName), "\n") {
		require.Equal(t, line, lines[i])
	}
	assert.Equal(t, first, second)
}

// TestNoCrimps: a scan that found nothing has its evidence too.
func TestNoCrimps(t *testing.T) {
	dir, s := written(t, newInvented(t, 0))
	assert.Zero(t, s.Crimps)
	assert.Contains(t, s.Answer, "These pictures do not answer it")
	assert.Contains(t, read(t, dir, "index.html"), "0 crimps")
}

// TestMoreFilesAreInTheManifest: what a caller adds is checked too, and its error is handed on.
func TestMoreFilesAreInTheManifest(t *testing.T) {
	v := newInvented(t, 2)
	dir := t.TempDir()
	_, err := Write(context.Background(), dir, v.info(), v, func(dir string) error {
		return os.WriteFile(filepath.Join(dir, "more.txt"), []byte("more"), 0o644)
	})
	require.NoError(t, err)
	assert.Contains(t, read(t, dir, ManifestName), hashOf("more")+"  more.txt\n")

	dir, oops := t.TempDir(), errors.New("oops")
	_, err = Write(context.Background(), dir, v.info(), v, func(string) error { return oops })
	require.ErrorIs(t, err, oops)
	assert.NoFileExists(t, filepath.Join(dir, ManifestName))
}

// TestWhatCannotBeWritten: the error quotes the path and says what to do, and nothing half-written stays. /dev/full takes
// the part of a full disk; a file stands where a folder is needed.
func TestWhatCannotBeWritten(t *testing.T) {
	v := newInvented(t, 400)
	for _, name := range []string{"index.html", "evidence.pdf", "crimps.csv", "records.jsonl", "crimps/0007.html", "assets/style.css"} {
		dir := t.TempDir()
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		if err := os.Symlink("/dev/full", path); err != nil {
			t.Skip("no /dev/full here: ", err)
		}
		_, err := Write(context.Background(), dir, v.info(), v)
		require.Error(t, err, name)
		assert.Contains(t, err.Error(), `"`+path+`" cannot be written: no space left on device; free some space`, name)
		assert.Equal(t, 1, strings.Count(err.Error(), "cannot be written"), "told once: %v", err)
		assert.NoFileExists(t, path, "nothing half-written stays")
		assert.NoFileExists(t, filepath.Join(dir, ManifestName))
	}
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "crimps"), nil, 0o644))
	_, err := Write(context.Background(), dir, v.info(), v)
	require.ErrorContains(t, err, "cannot be written: not a directory; see that the folder can be written to")
	assert.NoFileExists(t, filepath.Join(dir, "crimps.csv"))
}

// TestSourceErrorsAndInterruption are handed on as they are.
func TestSourceErrorsAndInterruption(t *testing.T) {
	v := newInvented(t, 5)
	oops := errors.New("the history cannot be read")
	_, err := Write(context.Background(), t.TempDir(), v.info(), broken{v, oops})
	require.ErrorIs(t, err, oops)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Write(ctx, t.TempDir(), v.info(), v)
	require.ErrorIs(t, err, context.Canceled)
	_, err = Write(context.Background(), t.TempDir(), v.info(), misnumbered{})
	require.ErrorContains(t, err, "fault of the program")
}

// broken fails after the first crimp.
type broken struct {
	of  *invented
	err error
}

func (b broken) Crimps(ctx context.Context, each func(site.Crimp) error) error {
	return b.of.Crimps(ctx, func(c site.Crimp) error {
		if c.Number > 1 {
			return b.err
		}
		return each(c)
	})
}

type misnumbered struct{}

func (misnumbered) Crimps(_ context.Context, each func(site.Crimp) error) error {
	return each(site.Crimp{Number: 2})
}
