package scan

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/site"
)

// packed is an entry for a ZIP.
type packed struct {
	name string
	data []byte
	edit func(*zip.FileHeader)
}

func zipOf(t require.TestingT, entries ...packed) []byte {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, e := range entries {
		h := &zip.FileHeader{Name: e.name, Method: zip.Deflate}
		if e.edit != nil {
			e.edit(h)
		}
		f, err := w.CreateHeader(h)
		require.NoError(t, err)
		_, err = f.Write(e.data)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return b.Bytes()
}

func saved(t testing.TB, data []byte) string {
	path := filepath.Join(t.TempDir(), "site.zip")
	require.NoError(t, os.WriteFile(path, data, 0o644))
	return path
}

func readAll(t require.TestingT, f Found) string {
	r, err := f.Open()
	require.NoError(t, err)
	data, err := io.ReadAll(r)
	require.NoError(t, err)
	require.NoError(t, r.Close())
	return string(data)
}

func TestGoodEntriesBesideBadOnes(t *testing.T) {
	picture := []byte("a picture")
	zeros := make([]byte, 20<<20)
	data := zipOf(t,
		packed{name: "north/crimp-10.jpg", data: picture}, packed{name: "north/crimp-2.jpg", data: picture},
		packed{name: "./north//crimp-3.jpg", data: picture}, packed{name: "north/crimp-3.jpg", data: picture},
		packed{name: "../up.jpg", data: picture}, packed{name: "a/../../up.txt", data: picture}, packed{name: "/etc/passwd", data: picture},
		packed{name: "C:/crimp.jpg", data: picture}, packed{name: `south\crimp.jpg`, data: picture}, packed{name: "zero\x00.jpg", data: picture},
		packed{name: "link.jpg", data: []byte("north/crimp-2.jpg"), edit: func(h *zip.FileHeader) { h.SetMode(fs.ModeSymlink | 0o777) }},
		packed{name: "secret.jpg", data: picture, edit: func(h *zip.FileHeader) { h.Flags |= 1 }},
		packed{name: "empty.jpg"}, packed{name: "bomb.jpg", data: zeros}, packed{name: "IMG_1.HEIC", data: picture},
		packed{name: "inner.zip", data: picture}, packed{name: "notes.txt", data: picture}, packed{name: "__MACOSX/._crimp-2.jpg", data: picture},
		packed{name: ".hidden/1.jpg", data: picture}, packed{name: "folder.jpg/"}, packed{name: "plain/"},
		packed{name: "gr\x81n.jpg", data: picture, edit: func(h *zip.FileHeader) { h.NonUTF8 = true }})
	path := saved(t, data)
	l := find(t, FindOptions{}, path)
	defer func() { assert.NoError(t, l.Close()) }()
	const plain = ": pack the ZIP again, with plain names for folders and files"
	assert.Equal(t, map[string]string{
		"../up.jpg":             `"../up.jpg" leads out of the ZIP by '..' in its path` + plain,
		"a/../../up.txt":        `"a/../../up.txt" leads out of the ZIP by '..' in its path` + plain,
		"/etc/passwd":           `"/etc/passwd" has an absolute path in the ZIP` + plain,
		"C:/crimp.jpg":          `"C:/crimp.jpg" has a drive letter in its path in the ZIP` + plain,
		"inner.zip":             `"inner.zip" is a ZIP within what is scanned and was not looked into, so that pictures in it were not measured: unpack it there, and move it away`,
		"zero\x00.jpg":          `"zero\x00.jpg" has a zero byte in its name in the ZIP` + plain,
		"link.jpg":              `"link.jpg" is a link, which is not followed in a ZIP: pack the ZIP again from the pictures themselves`,
		"secret.jpg":            `"secret.jpg" is encrypted: unpack the ZIP with its password, and scan the folder`,
		"empty.jpg":             `"empty.jpg" is empty (0 bytes): copy it again from the camera or phone, or take the picture again`,
		"bomb.jpg":              `"bomb.jpg" would grow to 1028 times its packed size, which no photo does: unpack the ZIP and scan the folder, if it is a picture at all`,
		"IMG_1.HEIC":            `"IMG_1.HEIC" is a HEIC picture, which is not read: export it as JPEG, or set the phone's camera to take JPEG, and scan again`,
		"folder.jpg":            `"folder.jpg" is a folder, not a picture: what lies in it was looked at all the same; give it another name`,
		"north/crimp-3.jpg (2)": `"north/crimp-3.jpg" stands in the ZIP twice, the second time as entry 4: give each picture a name of its own, and pack again`,
	}, l.problems())
	good := map[string]string{}
	for _, f := range l.Files {
		if f.Problem == "" {
			good[f.File] = readAll(t, f)
			assert.Empty(t, f.Path)
			assert.EqualValues(t, len(picture), f.Size)
		}
	}
	assert.Equal(t, map[string]string{"north/crimp-2.jpg": "a picture", "north/crimp-3.jpg": "a picture", "north/crimp-10.jpg": "a picture", "south/crimp.jpg": "a picture", "gr\x81n.jpg": "a picture"}, good)
	assert.Equal(t, []string{"notes.txt", "__MACOSX/._crimp-2.jpg", ".hidden/1.jpg"}, l.LeftAlone)
}

func TestAZIPAmongOtherSources(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "south/1.jpg")
	path := filepath.Join(dir, "north.zip")
	require.NoError(t, os.WriteFile(path, zipOf(t, packed{name: "1.jpg", data: []byte("x")}, packed{name: "../1.jpg", data: []byte("x")}), 0o644))
	l := find(t, FindOptions{}, path, filepath.Join(dir, "south"))
	defer func() { _ = l.Close() }()
	assert.Equal(t, []string{"north.zip/../1.jpg", "north.zip/1.jpg", "south/1.jpg"}, l.names())
}

func TestEntriesThatLieAboutTheirSize(t *testing.T) {
	// The header says 9 bytes; the data unpack to 20 MB. Whoever trusts the header reads too much.
	data := zipOf(t, packed{name: "bomb.jpg", data: make([]byte, 20<<20)}, packed{name: "good.jpg", data: []byte("good")})
	for _, signature := range []string{"PK\x01\x02"} {
		at := bytes.Index(data, []byte(signature))
		binary.LittleEndian.PutUint32(data[at+24:], 9)
	}
	l := find(t, FindOptions{}, saved(t, data))
	defer func() { _ = l.Close() }()
	assert.Empty(t, l.problems())
	r, err := l.Files[0].Open()
	require.NoError(t, err)
	n, err := io.Copy(io.Discard, r)
	assert.ErrorContains(t, err, `"bomb.jpg" `)
	assert.Less(t, n, int64(9<<20))
	assert.Equal(t, "good", readAll(t, l.Files[1]))

	liar := &counted{name: "bomb.jpg", from: io.NopCloser(bytes.NewReader(make([]byte, 20<<20))), packed: 100}
	n, err = io.Copy(io.Discard, liar)
	assert.ErrorContains(t, err, `"bomb.jpg" gives more than`)
	assert.LessOrEqual(t, n, int64(freeBytes))
}

func TestEntriesThatShareTheirBytes(t *testing.T) {
	data := zipOf(t, packed{name: "a.jpg", data: []byte("some bytes of a picture")}, packed{name: "b.jpg", data: []byte("another picture's bytes")}, packed{name: "c.jpg", data: []byte("c")})
	first := bytes.Index(data, []byte("PK\x01\x02"))
	second := first + 1 + bytes.Index(data[first+1:], []byte("PK\x01\x02"))
	copy(data[second+42:second+46], data[first+42:first+46]) // where its local header lies
	l := find(t, FindOptions{}, saved(t, data))
	defer func() { _ = l.Close() }()
	const why = ` has bytes in common with another entry of the ZIP, as in one made to fill a disk: pack the ZIP again from the pictures themselves`
	assert.Equal(t, map[string]string{"a.jpg": `"a.jpg"` + why, "b.jpg": `"b.jpg"` + why}, l.problems())
	assert.Equal(t, "c", readAll(t, l.Files[2]))
}

func TestDamagedEntries(t *testing.T) {
	body := bytes.Repeat([]byte("0123456789abcdef"), 40)
	store := func(h *zip.FileHeader) { h.Method = zip.Store }
	data := zipOf(t, packed{"flipped.jpg", body, store}, packed{"header.jpg", []byte("picture"), nil}, packed{"method.jpg", []byte("picture"), nil}, packed{"good.jpg", []byte("good"), nil})
	data[bytes.Index(data, body)+100] ^= 1
	local := bytes.Index(data, []byte("header.jpg")) - 30
	data[local] = 'X'
	directory := bytes.LastIndex(data, []byte("method.jpg")) - 46
	data[directory+10] = 9
	l := find(t, FindOptions{}, saved(t, data))
	defer func() { _ = l.Close() }()
	assert.Equal(t, map[string]string{
		"header.jpg": `"header.jpg" is damaged in the ZIP (its header is not where it should be): pack the ZIP again from the pictures themselves`,
		"method.jpg": `"method.jpg" is packed by method 9, which is not read: unpack the ZIP and scan the folder, or pack it again the usual way (deflate)`,
	}, l.problems())
	for _, f := range l.Files {
		if f.File == "flipped.jpg" {
			r, err := f.Open()
			require.NoError(t, err)
			_, err = io.ReadAll(r)
			assert.EqualError(t, err, `"flipped.jpg" is damaged in the ZIP (checksum error): pack the ZIP again from the pictures themselves, or copy the ZIP again`)
		}
	}
}

func TestZIPsThatAreRefusedAsAWhole(t *testing.T) {
	good := zipOf(t, packed{name: "a.jpg", data: []byte("some bytes of a picture")})
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"empty":   {nil, "is not a ZIP, or its end is missing: copy it again, or unpack it elsewhere and scan the folder"},
		"text":    {[]byte("this is text"), "is not a ZIP, or its end is missing"},
		"cut":     {good[:len(good)-10], "is not a ZIP, or its end is missing"},
		"7z":      {[]byte("7z\xbc\xaf\x27\x1c..................."), "is not a ZIP"},
		"nothing": {zipOf(t), "no picture found in"},
	} {
		path := saved(t, c.data)
		_, err := Find([]string{path}, FindOptions{})
		assert.ErrorContains(t, err, fmt.Sprintf("%q", path), name)
		assert.ErrorContains(t, err, c.want, name)
	}
}

func TestAHundredThousandEntriesAreRefusedQuickly(t *testing.T) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := range 100_000 {
		_, err := w.CreateRaw(&zip.FileHeader{Name: fmt.Sprint(i, ".jpg")})
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	honest := saved(t, b.Bytes())
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := Find([]string{honest}, FindOptions{})
	runtime.ReadMemStats(&after)
	assert.EqualError(t, err, fmt.Sprintf("%q has 100000 entries, and at most 20000 are read from a ZIP: "+
		"unpack it and scan the folder, or pack fewer pictures into each ZIP", honest))
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(4<<20), "the table of contents was read")

}

// A ZIP with more entries than its end says, whose table of contents would fill the memory.
func TestEntriesThatTheEndDoesNotTellOf(t *testing.T) {
	const n = 1<<16 + 5
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := range n {
		_, err := w.CreateRaw(&zip.FileHeader{Name: fmt.Sprintf("%0150d.jpg", i)})
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	data := b.Bytes()
	end, end64 := bytes.LastIndex(data, []byte(endRecord)), bytes.LastIndex(data, []byte(endRecord64))
	copy(data[bytes.LastIndex(data, []byte(endLocator64)):], "XXXX") // so that it is not known for a large one
	binary.LittleEndian.PutUint16(data[end+8:], n-1<<16)
	binary.LittleEndian.PutUint16(data[end+10:], n-1<<16)
	copy(data[end+12:end+16], data[end64+40:]) // length and place of the table of contents
	copy(data[end+16:end+20], data[end64+48:])
	_, err := Find([]string{saved(t, data)}, FindOptions{})
	assert.ErrorContains(t, err, "has far more entries, and at most 20000 are read from a ZIP")
}

func TestAManifestInAZIP(t *testing.T) {
	path := saved(t, zipOf(t, packed{name: "a.jpg", data: []byte("x")}, packed{name: "limits/seam.yaml", data: []byte("name: x")},
		packed{name: "Manifest.csv", data: []byte("file;crimp;tolerances\na.jpg;7;limits/seam.yaml\n")}))
	l := find(t, FindOptions{}, path)
	defer func() { _ = l.Close() }()
	assert.Equal(t, site.Label{Crimp: "7"}, l.Files[0].Label)
	assert.Equal(t, []string{path + "/Manifest.csv"}, l.Manifests)
	data, err := l.Read(l.Files[0].Tolerances[0])
	require.NoError(t, err)
	assert.Equal(t, "name: x", string(data))

	path = saved(t, zipOf(t, packed{name: "a.jpg", data: []byte("x")}, packed{name: "manifest.csv", data: []byte("file,tolerances\na.jpg,../../etc/passwd\n")}))
	_, err = Find([]string{path}, FindOptions{})
	assert.ErrorContains(t, err, `tolerances file "../../etc/passwd" lies outside of the ZIP`)
}

func TestAnyNameComesOutOfAZIPAsItIs(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.SliceOfNDistinct(fileNames().Filter(func(n string) bool { return n[0] != '.' && unsafeName(n) == "" && !strings.Contains(n, `\`) }), 1, 8, rapid.ID[string]).Draw(t, "names")
		var entries []packed
		for _, n := range names {
			entries = append(entries, packed{name: n, data: []byte(n)})
		}
		path := filepath.Join(dir, "names.zip")
		require.NoError(t, os.WriteFile(path, zipOf(t, entries...), 0o644))
		l := find(t, FindOptions{}, path)
		defer func() { _ = l.Close() }()
		assert.ElementsMatch(t, names, l.names())
		for _, f := range l.Files {
			assert.Equal(t, f.File, readAll(t, f))
		}
	})
}

func FuzzZIP(f *testing.F) {
	f.Add(zipOf(f, packed{name: "a.jpg", data: []byte("picture")}, packed{name: "manifest.csv", data: []byte("file\na.jpg\n")}))
	f.Add([]byte("PK\x05\x06"))
	path := filepath.Join(f.TempDir(), "fuzz.zip")
	f.Fuzz(func(t *testing.T, data []byte) {
		require.NoError(t, os.WriteFile(path, data, 0o644))
		l, err := Find([]string{path}, FindOptions{})
		if err != nil {
			return
		}
		for _, found := range l.Files {
			if r, err := found.Open(); err == nil {
				_, _ = io.Copy(io.Discard, r)
				_ = r.Close()
			}
		}
		_ = l.Close()
	})
}
