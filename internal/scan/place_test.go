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
	writePack(t, p.part, "originals/a.jpg")
	require.NoError(t, p.publish())
	assert.FileExists(t, filepath.Join(out, "originals", "a.jpg"))
	assert.NoDirExists(t, p.part)

	write(t, filepath.Join(out, "fotos", "note.txt"), "dear")
	_, err = openPlace(out)
	assert.ErrorContains(t, err, `"fotos" was added`)
	require.NoError(t, os.RemoveAll(filepath.Join(out, "fotos")))

	require.NoError(t, p.gather())
	assert.True(t, p.has("originals/a.jpg"), "what the pack has is taken over")
	writePack(t, p.part, "originals/new.jpg")
	require.NoError(t, p.publish())
	text, err := os.ReadFile(filepath.Join(out, evidence.ManifestName))
	require.NoError(t, err)
	assert.Contains(t, string(text), "new.jpg")
	p.close()
	left, err := os.ReadDir(filepath.Dir(out))
	require.NoError(t, err)
	assert.Len(t, left, 1, "neither .part nor .lock is left")
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
	require.NoError(t, os.MkdirAll(out+".lock", 0o755)) // a killed scan left it
	first, err := openPlace(out)
	require.NoError(t, err)
	refused := func() {
		t.Helper()
		require.NoError(t, os.RemoveAll(filepath.Join(first.part, "overlays")))
		p, err := placeAt(out)
		require.NoError(t, err)
		require.ErrorContains(t, p.open(), "another scan is writing")
		p.undo()
		assert.NoDirExists(t, filepath.Join(first.part, "overlays"), "the folder of the first one is its own")
		assert.DirExists(t, out+".lock")
	}
	refused()
	writePack(t, first.part, "originals/a.jpg")
	require.NoError(t, first.publish())
	refused() // also when what was gathered is published, as between the pictures of a watched folder
	first.close()
	assert.NoDirExists(t, out+".lock")

	second, err := openPlace(out)
	require.NoError(t, err)
	second.undo()
	assert.NoDirExists(t, second.part)
	assert.FileExists(t, filepath.Join(out, "originals", "a.jpg"))
}

// writePack writes a pack of one file.
func writePack(t *testing.T, dir, name string) {
	t.Helper()
	write(t, filepath.Join(dir, name), name)
	sum := sha256.Sum256([]byte(name))
	write(t, filepath.Join(dir, evidence.ManifestName), hex.EncodeToString(sum[:])+"  "+name+"\n")
	for _, folder := range gathered {
		_ = os.Remove(filepath.Join(dir, folder)) // where it is empty, as the manifest cannot name it
	}
}

// What somebody puts where the evidence goes, while it is gathered, stays there.
func TestWhatComesToThePlaceMeanwhileIsKept(t *testing.T) {
	for name, arrive := range map[string]func(out string){
		"a report": func(out string) { write(t, filepath.Join(out, "signed.txt"), "dear") },
		"a folder": func(out string) {
			require.NoError(t, os.RemoveAll(out))
			write(t, filepath.Join(out, "signed.txt"), "dear")
		},
		"a file": func(out string) {
			require.NoError(t, os.RemoveAll(out))
			write(t, out, "dear")
		},
		"a link": func(out string) {
			require.NoError(t, os.RemoveAll(out))
			require.NoError(t, os.Symlink("elsewhere", out))
		},
	} {
		out := filepath.Join(t.TempDir(), "evidence")
		writePack(t, out, "originals/a.jpg")
		p, err := openPlace(out)
		require.NoError(t, err)
		writePack(t, p.part, "originals/b.jpg")
		arrive(out)
		before, err := os.Lstat(out)
		require.NoError(t, err)
		require.ErrorContains(t, p.publish(), "call again", name)
		after, err := os.Lstat(out)
		require.NoError(t, err)
		assert.True(t, os.SameFile(before, after), name)
		assert.FileExists(t, filepath.Join(p.part, "originals", "b.jpg"), name)
		p.close()

		require.NoError(t, os.RemoveAll(out))
		p, err = openPlace(out)
		require.NoError(t, err)
		require.NoError(t, p.publish(), name)
		assert.FileExists(t, filepath.Join(out, "originals", "b.jpg"), name)
		p.close()
	}
}

// A scan that is killed between any two steps of publishing leaves a state that the next one mends.
func TestPublishingThatWasCutShort(t *testing.T) {
	for name, state := range map[string]struct {
		leave func(p *place)
		has   string // what is at the place then
		fails string
	}{
		"moved aside": {func(p *place) {
			writePack(t, p.unseen(), "originals/old.jpg")
			writePack(t, p.part, "originals/new.jpg")
		}, "old", ""},
		"replaced": {func(p *place) {
			writePack(t, p.unseen(), "originals/old.jpg")
			writePack(t, p.path, "originals/new.jpg")
		}, "new", ""},
		"replaced, and something dear lies in the old": {func(p *place) {
			writePack(t, p.unseen(), "originals/old.jpg")
			write(t, filepath.Join(p.unseen(), "signed.txt"), "dear")
			writePack(t, p.path, "originals/new.jpg")
		}, "old", `"signed.txt" was added`},
		"half deleted": {func(p *place) {
			write(t, filepath.Join(p.seen(), "originals/old.jpg"), "")
			writePack(t, p.path, "originals/new.jpg")
		}, "new", ""},
	} {
		out := filepath.Join(t.TempDir(), "evidence")
		p, err := placeAt(out)
		require.NoError(t, err)
		state.leave(p)
		err = p.open()
		if state.fails == "" {
			require.NoError(t, err, name)
		} else {
			require.ErrorContains(t, err, state.fails, name)
		}
		p.close()
		assert.FileExists(t, filepath.Join(out, "originals", state.has+".jpg"), name)
		assert.NoDirExists(t, p.lockPath(), name)
		if state.fails != "" {
			assert.FileExists(t, filepath.Join(out, "signed.txt"))
			assert.FileExists(t, filepath.Join(p.part, "originals", "new.jpg"))
		}
	}
}

// The place is replaced as a whole, so nothing else may live there.
func TestPlacesThatCannotBeReplaced(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "in", "deep"), 0o755))
	for out, path := range map[string]string{
		"in/deep": "in/deep/a.jpg", "in/deep/../deep": "in/deep", "new": "new.part/photos", "x": "x.lock",
	} {
		p, err := placeAt(filepath.Join(dir, out))
		require.NoError(t, err)
		path = filepath.Join(dir, path)
		assert.ErrorContains(t, p.keepsApart(dir, path), "name another folder with --out", out)
	}
	p, err := placeAt(filepath.Join(dir, "in", "evidence"))
	require.NoError(t, err)
	require.NoError(t, p.keepsApart(filepath.Join(dir, "in"), filepath.Join(dir, "in", "evidence-2")), "within the pictures it may lie")

	_, err = placeAt(filepath.Join(dir, strings.Repeat("x", 251)))
	require.ErrorContains(t, err, "the name is too long for the disk, where 5 letters more")
	t.Chdir(filepath.Join(dir, "in", "deep"))
	for _, out := range []string{".", "..", dir} {
		_, err = placeAt(out)
		require.ErrorContains(t, err, "called from", out)
	}
}

// A link to a folder stays one: the folder that it leads to is replaced.
func TestAPlaceThatIsALink(t *testing.T) {
	dir := t.TempDir()
	link := filepath.Join(dir, "link")
	require.NoError(t, os.Symlink("far/evidence", link))
	_, err := placeAt(link)
	require.ErrorContains(t, err, `is a link to "far/evidence", which does not exist`)
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "far", "evidence"), 0o755))
	p, err := openPlace(link)
	require.NoError(t, err)
	writePack(t, p.part, "originals/a.jpg")
	require.NoError(t, p.publish())
	p.close()
	to, err := os.Readlink(link)
	require.NoError(t, err)
	assert.Equal(t, "far/evidence", to)
	assert.FileExists(t, filepath.Join(dir, "far", "evidence", "originals", "a.jpg"))

	require.NoError(t, os.Symlink("far", filepath.Join(dir, "above")))
	for range 2 { // the same place has the same name before and after it is made
		p, err = placeAt(filepath.Join(dir, "above", "new", "evidence"))
		require.NoError(t, err)
		assert.Equal(t, filepath.Join(real(dir), "far", "new", "evidence"), p.path)
		require.NoError(t, os.MkdirAll(p.path, 0o755))
	}
}

// What the earlier pack has is taken only as far as it is as its manifest says, also by a call that goes on.
func TestWhatWasChangedInThePackIsNotTakenOver(t *testing.T) {
	out := filepath.Join(t.TempDir(), "evidence")
	names := []string{"originals/a.jpg", "overlays/b.png", "thumbs/b.jpg", "thumbs/c.jpg"}
	lines := func(text string) (all string) {
		for _, name := range names {
			sum := sha256.Sum256([]byte(text + name))
			all += hex.EncodeToString(sum[:]) + "  " + name + "\n"
		}
		return all
	}
	png, jpeg := "\x89PNG\r\n\x1a\nIEND\xaeB`\x82", "\xff\xd8\xff\xd9"
	for _, name := range names {
		write(t, filepath.Join(out, name), map[bool]string{true: png, false: jpeg}[strings.HasSuffix(name, "png")])
	}
	write(t, filepath.Join(out, evidence.ManifestName), lines("as it was "))
	for range 2 {
		p, err := openPlace(out)
		require.NoError(t, err)
		assert.Len(t, p.taken, len(names))
		p.close() // as one that was interrupted
	}
	p, err := openPlace(out)
	require.NoError(t, err)
	defer p.close()
	write(t, p.at(evidence.ManifestName), strings.Replace(lines("as it was "), lines("as it was ")[:8], "00000000", 1))
	changed, err := p.changed()
	require.NoError(t, err)
	assert.True(t, changed)
	assert.False(t, p.has("originals/a.jpg"))
	assert.False(t, p.has(evidence.ManifestName))
	assert.True(t, p.has("overlays/b.png"))

	write(t, p.at(evidence.ManifestName), lines("now "))
	changed, err = p.changed()
	require.NoError(t, err)
	assert.True(t, changed)
	for _, name := range names {
		assert.False(t, p.has(name), name)
	}
	write(t, p.at(evidence.ManifestName), lines("now "))
	changed, err = p.changed()
	require.NoError(t, err)
	assert.False(t, changed, "what was made anew is as it is")
}

// Of what an interrupted call drew only what is whole is kept; without its drawing no thumbnail counts.
func TestDrawingsThatAreNotWhole(t *testing.T) {
	p, err := placeAt(filepath.Join(t.TempDir(), "evidence"))
	require.NoError(t, err)
	png, jpeg := "\x89PNG\r\n\x1a\n....IEND\xaeB`\x82", "\xff\xd8....\xff\xd9"
	for name, text := range map[string]string{
		"overlays/whole.png": png, "thumbs/whole.jpg": jpeg, "overlays/torn.png": png[:12], "thumbs/torn.jpg": jpeg,
		"overlays/empty.png": "", "thumbs/empty.jpg": jpeg, "overlays/half.png": png, "thumbs/half.jpg": jpeg[:4] + "\x00\x00\x00\x00", "thumbs/.copy-1": "",
	} {
		write(t, p.at(name), text)
	}
	require.NoError(t, p.open())
	defer p.close()
	var left []string
	for _, dir := range []string{"overlays", "thumbs"} {
		files, err := os.ReadDir(p.at(dir))
		require.NoError(t, err)
		for _, f := range files {
			left = append(left, f.Name())
		}
	}
	assert.Equal(t, []string{"half.png", "whole.png", "whole.jpg"}, left)
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
