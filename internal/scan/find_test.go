package scan

import (
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/site"
)

// put writes files into a folder; their content is their name.
func put(t require.TestingT, dir string, names ...string) {
	for _, name := range names {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(name), 0o644))
	}
}

func find(t require.TestingT, o FindOptions, sources ...string) *Listing {
	l, err := Find(sources, o)
	require.NoError(t, err)
	return l
}

func (l *Listing) names() (all []string) {
	for _, f := range l.Files {
		all = append(all, f.File)
	}
	return all
}

// problems are the files that are refused, with why.
func (l *Listing) problems() map[string]string {
	all := map[string]string{}
	for _, f := range l.Files {
		if f.Problem != "" {
			all[f.File] = f.Problem
		}
	}
	return all
}

func TestFindWalksAFolderInNaturalOrder(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "crimp-10.jpg", "crimp-2.JPG", "crimp-1.jpeg", "b/1.png", "a/10.tif", "a/9.tiff", "a/2/x.webp", "notes.txt", "a/plan.pdf",
		".hidden.jpg", "._crimp-1.jpeg", ".trash/gone.jpg", "skipped/no.jpg", "pack/manifest.sha256", "pack/records.jsonl", "pack/originals/no.jpg",
		"sums/manifest.sha256", "sums/kept.jpg")
	l := find(t, FindOptions{Skip: []string{filepath.Join(dir, "skipped")}}, dir)
	assert.Equal(t, []string{"a/2/x.webp", "a/9.tiff", "a/10.tif", "b/1.png", "crimp-1.jpeg", "crimp-2.JPG", "crimp-10.jpg", "sums/kept.jpg"}, l.names())
	assert.Equal(t, []string{"a/plan.pdf", "notes.txt", "pack/", "sums/manifest.sha256", "._crimp-1.jpeg", ".hidden.jpg", ".trash/"}, l.LeftAlone)
	assert.Equal(t, dir, l.Source)
	assert.Empty(t, l.Manifests)
	for _, f := range l.Files {
		r, err := f.Open()
		require.NoError(t, err)
		data, err := io.ReadAll(r)
		require.NoError(t, err)
		assert.Equal(t, f.File, string(data))
		assert.EqualValues(t, len(data), f.Size)
		assert.Equal(t, filepath.Join(dir, f.File), f.Path)
		assert.Equal(t, site.Alone, f.Origin)
		require.NoError(t, r.Close())
	}
}

func TestFindTellsOfWhatIsNoReadablePicture(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "good.jpg", "a.heic", "b.DNG", "c.bmp", "pair.jpg", "pair.CR2", "folder.jpg/inside.jpg")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "empty.jpg"), nil, 0o644))
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe.jpg"), 0o644))
	socket, err := net.Listen("unix", filepath.Join(dir, "socket.jpg"))
	require.NoError(t, err)
	defer func() { _ = socket.Close() }()
	for name, to := range map[string]string{"gone.jpg": "nowhere.jpg", "device.jpg": "/dev/null", "away.jpg": os.TempDir(), "away": os.TempDir(), "round": "."} {
		require.NoError(t, os.Symlink(to, filepath.Join(dir, name)))
	}
	l := find(t, FindOptions{}, dir)
	assert.Equal(t, map[string]string{
		"a.heic":     `"a.heic" is a HEIC picture, which is not read: export it as JPEG, or set the phone's camera to take JPEG, and scan again`,
		"b.DNG":      `"b.DNG" is a camera's raw file, which is not read: export it as JPEG, and scan again`,
		"c.bmp":      `"c.bmp" is a BMP picture, which is not read: export it as PNG, and scan again`,
		"empty.jpg":  `"empty.jpg" is empty (0 bytes): copy it again from the camera or phone, or take the picture again`,
		"folder.jpg": `"folder.jpg" is a folder, not a picture: what lies in it was looked at all the same; give it another name`,
		"pipe.jpg":   `"pipe.jpg" is a pipe (FIFO), not a picture: save the picture to a file, and scan again`,
		"socket.jpg": `"socket.jpg" is a socket, not a picture: save the picture to a file, and scan again`,
		"device.jpg": `"device.jpg" is a device, not a picture: save the picture to a file, and scan again`,
		"gone.jpg":   `"gone.jpg" is a link to a file that does not exist: copy the picture itself there, or delete the link`,
		"away.jpg":   `"away.jpg" is a link to a folder, which is not followed, so that pictures in it were not measured: name that folder itself, or delete the link`,
		"away":       `"away" is a link to a folder, which is not followed, so that pictures in it were not measured: name that folder itself, or delete the link`,
	}, l.problems())
	assert.Contains(t, l.names(), "folder.jpg/inside.jpg")
	assert.Contains(t, l.names(), "pair.jpg")
	assert.NotContains(t, l.names(), "pair.CR2", "a camera's raw file beside its own JPEG is left alone")
	assert.Equal(t, []string{"pair.CR2"}, l.LeftAlone)
	for _, f := range l.Files {
		if f.Problem != "" {
			_, err := f.Open()
			assert.EqualError(t, err, f.Problem)
		}
	}
}

func TestFindTakesTheSameFileOnce(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "north/1.jpg", "south/1.jpg")
	require.NoError(t, os.Symlink("../north/1.jpg", filepath.Join(dir, "south/link.jpg")))
	north, south := filepath.Join(dir, "north"), filepath.Join(dir, "south")
	require.NoError(t, os.Symlink("1.jpg", filepath.Join(dir, "north/0.jpg")))
	assert.Equal(t, []string{"north/1.jpg", "south/1.jpg"}, find(t, FindOptions{}, dir).names(), "each by its own name")
	assert.Equal(t, []string{"1.jpg", "link.jpg"}, find(t, FindOptions{}, south).names(), "a link to what is not listed otherwise")
	assert.Equal(t, []string{"south/1.jpg", "north/1.jpg"}, find(t, FindOptions{}, south, north, filepath.Join(north, "1.jpg")).names())
	assert.Equal(t, []string{"1.jpg"}, find(t, FindOptions{}, north, north+"/../north").names())
	assert.Equal(t, []string{"1.jpg"}, find(t, FindOptions{}, filepath.Join(north, "1.jpg")).names())
	l := find(t, FindOptions{}, filepath.Join(south, "1.jpg"), filepath.Join(north, "1.jpg"))
	assert.Equal(t, []string{"south/1.jpg", "north/1.jpg"}, l.names(), "in the order of the call")
	assert.Equal(t, filepath.Join(south, "1.jpg")+"\n"+filepath.Join(north, "1.jpg"), l.Source)
	assert.Equal(t, []string{"north/1.jpg", "south/1.jpg"}, find(t, FindOptions{}, north, dir).names(), "a source within another")
}

func TestFindRefusesSourcesThatCannotBeScanned(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "notes.txt", "pack/manifest.sha256", "pack/records.jsonl", "pack/originals/1.jpg")
	for given, want := range map[string]string{
		dir + "/none":      fmt.Sprintf("%q does not exist: check the name and the folder", dir+"/none"),
		dir + "/notes.txt": fmt.Sprintf("%q is neither a folder nor a ZIP nor a picture by its name or its first bytes: scan takes pictures that end in", dir+"/notes.txt"),
		dir + "/pack":      fmt.Sprintf("%q is evidence that a scan wrote, not a folder of pictures: name the folder of the pictures themselves", dir+"/pack"),
		dir: fmt.Sprintf("no picture found in %q (2 other files): pictures that end in .jpg, .jpeg, .png, .tif, .tiff or .webp are looked for, "+
			"in folders at any depth, in ZIPs, or named one by one; name the folder that holds them", dir),
	} {
		_, err := Find([]string{given}, FindOptions{})
		assert.ErrorContains(t, err, want)
	}
	_, err := Find([]string{dir}, FindOptions{})
	assert.ErrorIs(t, err, ErrNothing)
	_, err = Find(nil, FindOptions{})
	assert.ErrorContains(t, err, "name a folder, pictures or a ZIP")
}

func TestFindTellsOfMissingPermission(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "ok.jpg", "closed.jpg", "locked/1.jpg")
	require.NoError(t, os.Chmod(filepath.Join(dir, "closed.jpg"), 0))
	require.NoError(t, os.Chmod(filepath.Join(dir, "locked"), 0))
	defer func() { _ = os.Chmod(filepath.Join(dir, "locked"), 0o755) }() //nolint:gosec // a folder of the test's own
	require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755))               //nolint:gosec // a folder of the test's own
	var l *Listing
	var err, lockedErr error
	done := make(chan bool)
	go func() {
		defer close(done)
		if os.Geteuid() == 0 { // root may read everything: a thread of its own looks at files as nobody, and ends with that
			runtime.LockOSThread()
			err = syscall.Setfsuid(65534)
		}
		if err == nil {
			l, err = Find([]string{dir}, FindOptions{})
			_, lockedErr = Find([]string{filepath.Join(dir, "locked")}, FindOptions{})
		}
	}()
	<-done
	require.NoError(t, err)
	const next = `may not be read: get the permission to read it, or copy it to a folder of your own`
	assert.Equal(t, map[string]string{"closed.jpg": `"closed.jpg" ` + next, "locked": `"locked" ` + next}, l.problems())
	assert.ErrorContains(t, lockedErr, next)
}

func TestFilesThatChangeAfterTheyWereListed(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "a.jpg", "b.jpg")
	l := find(t, FindOptions{}, dir)
	require.NoError(t, os.Remove(l.Files[0].Path))
	require.NoError(t, syscall.Mkfifo(l.Files[0].Path, 0o644))
	require.NoError(t, os.Remove(l.Files[1].Path))
	for i, want := range []string{`"a.jpg" is a pipe (FIFO), not a picture`, `"b.jpg" does not exist`} {
		_, err := l.Files[i].Open() // must not wait for someone to write into the pipe
		assert.ErrorContains(t, err, want)
	}
}

// fileNames are names as they come from cameras, phones, people and other people's archives.
func fileNames() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		parts := rapid.SliceOfN(rapid.OneOf(
			rapid.SampledFrom([]string{"\n", "\r\n", `"`, "'", "<b>", "\u202e", "\xff\xfe", " ", "a\u0308", "ä", "é", ",", ";", "\t", "{}", "%s", "&amp;", "\\", "-", "..", "日本"}),
			rapid.StringMatching(`[a-z0-9_-]{1,8}`)), 1, 8).Draw(t, "parts")
		return strings.Join(parts, "") + rapid.SampledFrom([]string{".jpg", ".PNG", ".tif"}).Draw(t, "ending")
	})
}

func TestAnyNameComesBackAsItIs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "find")
		require.NoError(t, err)
		defer func() { _ = os.RemoveAll(dir) }()
		names := rapid.SliceOfNDistinct(fileNames().Filter(func(n string) bool { return !strings.HasPrefix(n, ".") }), 1, 8, rapid.ID[string]).Draw(t, "names")
		for _, n := range names {
			require.NoError(t, os.WriteFile(filepath.Join(dir, n), []byte(n), 0o644))
		}
		l := find(t, FindOptions{}, dir)
		assert.ElementsMatch(t, names, l.names())
		for _, f := range l.Files {
			r, err := f.Open()
			require.NoError(t, err)
			data, err := io.ReadAll(r)
			require.NoError(t, err)
			assert.Equal(t, f.File, string(data))
			assert.NoError(t, r.Close())
		}
	})
}

func TestNaturalOrder(t *testing.T) {
	sorted := []string{"a", "a/b", "a/b/c", "a-1", "a-02", "a-2", "a-10", "a-10-1", "b2/9", "b10/1", "crimp-9.jpg", "crimp-10.jpg"}
	shuffled := slices.Clone(sorted)
	slices.Sort(shuffled)
	slices.SortFunc(shuffled, naturally)
	assert.Equal(t, sorted, shuffled)
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[a0-2/_-]{0,7}`)
		a, b, c := name.Draw(t, "a"), name.Draw(t, "b"), name.Draw(t, "c")
		assert.Equal(t, a == b, naturally(a, b) == 0)
		assert.Equal(t, naturally(a, b), -naturally(b, a))
		if naturally(a, b) <= 0 && naturally(b, c) <= 0 {
			assert.LessOrEqual(t, naturally(a, c), 0)
		}
	})
}

func TestTenThousandFilesAreListed(t *testing.T) {
	dir, one := t.TempDir(), filepath.Join(t.TempDir(), "one.jpg")
	require.NoError(t, os.WriteFile(one, []byte("x"), 0o644))
	for i := range 10_000 {
		if i%100 == 0 {
			require.NoError(t, os.Mkdir(filepath.Join(dir, fmt.Sprint("string-", i/100)), 0o755))
		}
		require.NoError(t, os.Link(one, filepath.Join(dir, fmt.Sprintf("string-%d/crimp-%d.jpg", i/100, i%100))))
	}
	l := find(t, FindOptions{Pattern: "string-{string}/crimp-{crimp}"}, dir)
	assert.Len(t, l.Files, 10_000)
	assert.Equal(t, "string-99/crimp-99.jpg", l.Files[9999].File)
	assert.Equal(t, site.Label{String: "99", Crimp: "99"}, l.Files[9999].Label)
}
