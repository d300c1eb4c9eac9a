package scan

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
)

const (
	likeJPEG = "\xff\xd8\xff\xe1 and so on"
	likeHEIC = "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1"
)

// contents are files whose names do not tell what they are, and what they hold.
var contents = map[string]string{
	"N_03": likeJPEG, "N_04.jpg_large": likeJPEG, "N_05.jpg~": likeJPEG, "N_06.JPG.": likeJPEG, "N_07.1": likeJPEG, "N_08": likeHEIC, "N_09.dat": "BM\x10\x00\x00\x00\x00\x00\x00\x00\x36\x00\x00\x00",
	"N_10.jpg.part": likeJPEG, "N_11.JPG.crdownload": "", "N_12.tmp": likeJPEG, "notes": "text", "short": "\xff\xd8", "notes.tmp": "text", "more/inner.ZIP": "PK", "old.rar": "Rar!", ".N_13.jpg": likeJPEG,
}

var fromContents = map[string]string{
	"N_08":                `"N_08" is a HEIC picture, which is not read: export it as JPEG, or set the phone's camera to take JPEG, and scan again`,
	"N_09.dat":            `"N_09.dat" is a BMP picture, which is not read: export it as PNG, and scan again`,
	"N_10.jpg.part":       `"N_10.jpg.part" is a picture that was not copied to its end (.part): copy it again, and delete this file`,
	"N_11.JPG.crdownload": `"N_11.JPG.crdownload" is a picture that was not copied to its end (.crdownload): copy it again, and delete this file`,
	"N_12.tmp":            `"N_12.tmp" is a picture that was not copied to its end (.tmp): copy it again, and delete this file`,
	"more/inner.ZIP":      `"more/inner.ZIP" is a ZIP within what is scanned and was not looked into, so that pictures in it were not measured: unpack it there, and move it away`,
	"old.rar":             `"old.rar" is a RAR archive within what is scanned and was not looked into, so that pictures in it were not measured: unpack it there, and move it away`,
}

func assertContents(t *testing.T, l *Listing) {
	t.Helper()
	assert.Equal(t, fromContents, l.problems())
	assert.Equal(t, []string{"notes", "notes.tmp", "short", ".N_13.jpg"}, l.LeftAlone)
	crimps := map[string]string{}
	for _, f := range l.Files {
		if f.Problem == "" {
			assert.Equal(t, likeJPEG, readAll(t, f))
			assert.Equal(t, ".jpg", f.ending)
			crimps[f.File] = f.Label.Crimp
		}
	}
	assert.Equal(t, map[string]string{"N_03": "03", "N_04.jpg_large": "04", "N_05.jpg~": "05", "N_06.JPG.": "06", "N_07.1": "07.1"}, crimps)
}

func TestPicturesAreToldByTheirFirstBytes(t *testing.T) {
	dir := t.TempDir()
	var entries []packed
	for name, content := range contents {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644))
	}
	for _, name := range []string{"notes", "notes.tmp", "short"} {
		entries = append(entries, packed{name: name, data: []byte(contents[name])})
	}
	for name, content := range contents {
		if entries[0].name != name && entries[1].name != name && entries[2].name != name {
			entries = append(entries, packed{name: name, data: []byte(content)})
		}
	}
	o := FindOptions{Pattern: "{string}_{crimp}"}
	assertContents(t, find(t, o, dir))
	l := find(t, o, saved(t, zipOf(t, entries...)))
	defer func() { _ = l.Close() }()
	assertContents(t, l)

	o.Watched = true
	assert.NotContains(t, find(t, o, dir).problems(), "N_10.jpg.part", "it is waited for")
	one := find(t, o, filepath.Join(dir, "N_03"))
	assert.Equal(t, []string{"N_03"}, one.names())
}

func TestFoldersThatLinksLeadTo(t *testing.T) {
	dir, other := t.TempDir(), t.TempDir()
	put(t, dir, "1.jpg", "north/2.jpg")
	put(t, other, "3.jpg")
	for name, to := range map[string]string{"back": ".", "twice": "north", "away": other} {
		require.NoError(t, os.Symlink(to, filepath.Join(dir, name)))
	}
	l := find(t, FindOptions{}, dir)
	assert.Equal(t, map[string]string{"away": `"away" is a link to a folder, which is not followed, so that pictures in it were not measured: name that folder itself, or delete the link`}, l.problems())
	assert.Empty(t, find(t, FindOptions{}, dir, other).problems(), "it is looked through anyway")
}

// What an interrupted scan, or one whose disk was full, leaves is no folder of photos.
func TestFoldersThatGatherEvidenceAreNoPhotos(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "1.jpg", "x.part/originals/0123456789abcdef-1.jpg", "x.part/overlays/a.png", "x.part/thumbs/a.jpg", "x.part/index.html",
		"mine/originals/2.jpg", "mine/overlays/2.png", "mine/thumbs/2.jpg", "mine/holiday/3.jpg", ".crimprule-123/old/originals/4.jpg")
	l := find(t, FindOptions{}, dir)
	assert.Equal(t, []string{"1.jpg", "mine/holiday/3.jpg", "mine/originals/2.jpg", "mine/overlays/2.png", "mine/thumbs/2.jpg"}, l.names())
	assert.Equal(t, []string{"x.part/", ".crimprule-123/"}, l.LeftAlone)
	_, err := Find([]string{filepath.Join(dir, "x.part")}, FindOptions{})
	assert.ErrorContains(t, err, "is evidence that a scan wrote")
}

func TestManifestsBelowTheScannedFolder(t *testing.T) {
	files := map[string]string{
		"a.jpg": "x", "north/b.jpg": "x", "north/deep/c.jpg": "x", "south/d.jpg": "x", "south/e.jpg": "x",
		"manifest.csv":       "file,crimp\na.jpg,A\nnorth/deep/c.jpg,C\nsouth/d.jpg,D\n",
		"north/manifest.csv": "file,crimp\nb.jpg,B\ngone.jpg,G\n",
		"south/Manifest.csv": "file,crimp,tolerances\nd.jpg,D,\ne.jpg,E,../limits.yaml\n",
		"limits.yaml":        "name: x", "spare.yaml": "name: y", "north/manifest (1).csv": "file", "north/deep/Manifest-2026.xlsx": "x", "manifest.txt": "x", "manifesto.pdf": "x",
	}
	dir := t.TempDir()
	var entries []packed
	for name, content := range files {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644))
		if name != "south/Manifest.csv" { // written as some programs for Windows do, in a folder at the top
			entries = append(entries, packed{name: "site/" + name, data: []byte(content)})
		}
	}
	entries = append(entries, packed{name: `site\south\manifest.csv`, data: []byte(files["south/Manifest.csv"])})
	zipped := saved(t, zipOf(t, entries...))
	for source, top := range map[string]string{dir: "", zipped: "site/"} {
		l := find(t, FindOptions{}, source)
		crimps := map[string]string{}
		for _, f := range l.Files {
			crimps[f.File] = f.Label.Crimp
		}
		assert.Equal(t, map[string]string{top + "a.jpg": "A", top + "north/b.jpg": "B", top + "north/gone.jpg": "G", top + "north/deep/c.jpg": "C", top + "south/d.jpg": "D", top + "south/e.jpg": "E"}, crimps)
		assert.Len(t, l.Manifests, 3)
		assert.Equal(t, map[string]string{top + "north/gone.jpg": fmt.Sprintf("%q is named in line 3 of the manifest %q but is no picture that was found: put the picture there or take the line out",
			"gone.jpg", source+"/"+top+"north/manifest.csv")}, l.problems())
		assert.Subset(t, l.LeftAlone, []string{top + "manifesto.pdf", top + "spare.yaml"})
		assert.NotContains(t, l.LeftAlone, top+"limits.yaml", "it was read")
		assert.ElementsMatch(t, []string{
			fmt.Sprintf("%q looks like a manifest but was not read: where it is the list of the pictures, name it manifest.csv, or say --manifest", top+"north/manifest (1).csv"),
			fmt.Sprintf("%q looks like a manifest but was not read: where it is the list of the pictures, name it manifest.csv, or say --manifest", top+"manifest.txt"),
			fmt.Sprintf("%q looks like a manifest but was not read: where it is the list of the pictures, save it as 'CSV UTF-8' with the name manifest.csv", top+"north/deep/Manifest-2026.xlsx"),
		}, l.Notes)
		assert.NoError(t, l.Close())
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "manifest.csv"), []byte("file,crimp\na.jpg,A\nnorth/b.jpg,other\n"), 0o644))
	_, err := Find([]string{dir}, FindOptions{})
	assert.EqualError(t, err, fmt.Sprintf("the manifests %q (line 2) and %q (line 3) say different things of the picture \"north/b.jpg\": take one of the two lines out",
		filepath.Join(dir, "north/manifest.csv"), filepath.Join(dir, "manifest.csv")))
	l := find(t, FindOptions{Manifest: filepath.Join(dir, "north/manifest.csv")}, filepath.Join(dir, "north"))
	assert.Equal(t, site.Label{Crimp: "B"}, l.Files[0].Label)
	assert.Empty(t, l.Notes, "who names the manifest knows which one counts")
}
