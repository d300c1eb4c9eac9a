package scan

import (
	"archive/zip"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"

	"crimprule/internal/evidence"
)

// What a ZIP may hold. A site has a few thousand photos of up to 20 MB; photos can hardly be packed closer, drawings and
// screenshots ten to fifty times.
const (
	maxEntries    = 20_000
	maxDirectory  = 8 << 20 // bytes of the table of contents, wherever it says that it ends
	maxEntryBytes = 1 << 30 // bytes of a picture
	maxRatio      = 100     // of a picture's bytes to its packed bytes ...
	freeBytes     = 8 << 20 // ... where it has more bytes than these
)

const packAgain = "pack the ZIP again from the pictures themselves"

// archive is an open ZIP.
type archive struct {
	root    root
	file    *os.File
	packs   []string             // folders that hold the evidence of a scan, a slash at the end
	entries map[string]*zip.File // by their clean names; nil for one that cannot be read
}

// archive lists a ZIP. A ZIP that cannot be read at all is an error; entries that are not fit to be read are listed
// with their problem.
func (c *collection) archive(r root) error {
	if why := irregular(r.given, r.info.Mode()); why != "" {
		return errors.New(why)
	}
	file, err := os.Open(r.path)
	if err != nil {
		return errors.New(unreadable(r.given, err))
	}
	a := &archive{root: r, file: file, entries: map[string]*zip.File{}}
	reader, err := readDirectory(file, r.info.Size())
	if err != nil {
		_ = file.Close()
		return fmt.Errorf("%q %w", r.given, err)
	}
	if a.packs = packsIn(reader.File); slices.Contains(a.packs, "") {
		_ = file.Close()
		return errors.New(problem(r.given, "is evidence that a scan wrote, not a ZIP of pictures", "name the folder or ZIP of the pictures themselves"))
	}
	for _, pack := range a.packs {
		c.leaveAlone(r.prefix+pack, r.path+"/"+pack)
	}
	c.listing.archives = append(c.listing.archives, a)
	shared := overlaps(reader.File)
	for i, f := range reader.File {
		c.entry(a, i, f, shared[f])
	}
	for folder, list := range a.manifests() {
		c.lists = append(c.lists, manifestPlace{path: r.path + "/" + list, prefix: r.prefix + folder})
	}
	return nil
}

// inZIP is an entry's name with slashes between folders: some programs write backslashes.
func inZIP(name string) string { return strings.ReplaceAll(name, `\`, "/") }

// packsIn gives the outermost folders in a ZIP that hold the evidence of a scan, as isPack tells of those on the disk; ""
// is the top of the ZIP.
func packsIn(files []*zip.File) (packs []string) {
	marks := map[string]int{}
	for _, f := range files {
		folder, base := path.Split(path.Clean(inZIP(f.Name)))
		switch base {
		case evidence.ManifestName:
			marks[folder] |= 1
		case evidence.RecordsName:
			marks[folder] |= 2
		}
	}
	for _, folder := range slices.Sorted(maps.Keys(marks)) {
		if marks[folder] == 3 && !slices.ContainsFunc(packs, func(pack string) bool { return strings.HasPrefix(folder, pack) }) {
			packs = append(packs, folder)
		}
	}
	return packs
}

// inPack tells whether an entry belongs to the evidence of a scan.
func (a *archive) inPack(clean string) bool {
	return slices.ContainsFunc(a.packs, func(pack string) bool { return strings.HasPrefix(clean+"/", pack) })
}

// manifests gives for each folder of the ZIP, with a slash at its end, the manifest in it.
func (a *archive) manifests() map[string]string {
	found := map[string]string{}
	for entry := range a.entries {
		folder, base := path.Split(entry)
		if strings.EqualFold(base, manifestName) && path.Base(found[folder]) != manifestName {
			found[folder] = entry
		}
	}
	return found
}

// entry lists one entry of a ZIP.
func (c *collection) entry(a *archive, i int, f *zip.File, damaged string) {
	slashed := inZIP(f.Name)
	isFolder := strings.HasSuffix(slashed, "/")
	raw := strings.TrimSuffix(slashed, "/")
	clean := path.Clean(raw)
	given := a.root.prefix + raw
	place := a.root.path + "/" + clean
	switch why := unsafeName(slashed); {
	case why != "":
		c.refuse(given, problem(given, why, "pack the ZIP again, with plain names for folders and files"))
		return
	case a.inPack(clean):
		return
	case isFolder && looksLike(raw):
		c.refuse(a.root.prefix+clean, irregular(given, fs.ModeDir))
		return
	case isFolder:
		return
	case hidden(clean):
		c.leaveAlone(a.root.prefix+clean, place)
		return
	}
	name := a.root.prefix + clean
	_, twice := a.entries[clean]
	why := ""
	if twice {
		why = problem(name, fmt.Sprintf("stands in the ZIP twice, the second time as entry %d", i+1), "give each picture a name of its own, and pack again")
	} else {
		why = a.faulty(name, f, damaged)
	}
	open := func() (io.ReadCloser, error) { return openEntry(name, f) }
	byBytes := ""
	if !looksLike(raw) && why == "" {
		byBytes = sniff(open)
	}
	switch telling := other(name, byBytes); {
	case looksLike(raw) || byBytes != "" && telling == "":
		size := int64(min(f.UncompressedSize64, 1<<62)) //nolint:gosec // bounded
		c.add(Found{File: name, Size: size, changed: a.root.info.ModTime(), ending: byBytes, Problem: cmp.Or(why, unread(name, byBytes)), open: open})
	case telling != "":
		c.refuse(name, telling)
	default:
		c.leaveAlone(name, place) // a manifest or a tolerances file may be among these
	}
	if twice || !isText(clean) && !looksLike(raw) && byBytes == "" {
		return
	}
	if why != "" {
		f = nil
	}
	a.entries[clean] = f
}

// isText tells whether a ZIP's entry may be wanted for what it says of the pictures.
func isText(name string) bool {
	return slices.Contains([]string{".csv", ".yaml", ".yml"}, ending(name))
}

var drive = regexp.MustCompile(`^[A-Za-z]:`)

// unsafeName says what is wrong with an entry's name: one that leads out of the folder in which the ZIP is unpacked, or
// elsewhere on some system.
func unsafeName(name string) string {
	switch {
	case name == "", name == "/":
		return "is an entry of the ZIP without a name"
	case strings.HasPrefix(name, "/"):
		return "has an absolute path in the ZIP"
	case drive.MatchString(name):
		return "has a drive letter in its path in the ZIP"
	case strings.ContainsRune(name, 0):
		return "has a zero byte in its name in the ZIP"
	case slices.Contains(strings.Split(name, "/"), ".."):
		return "leads out of the ZIP by '..' in its path"
	}
	return ""
}

// faulty says why an entry cannot be read; empty where it can, as far as its header tells.
func (a *archive) faulty(name string, f *zip.File, damaged string) string {
	const encrypted = 1 // general purpose bit 0; APPNOTE.TXT 4.4.4
	switch mode := f.Mode(); {
	case f.Flags&encrypted != 0:
		return problem(name, "is encrypted", "unpack the ZIP with its password, and scan the folder")
	case mode&fs.ModeSymlink != 0:
		return problem(name, "is a link, which is not followed in a ZIP", packAgain)
	case !mode.IsRegular():
		return problem(name, "is no regular file", packAgain)
	case f.Method != zip.Store && f.Method != zip.Deflate:
		return problem(name, fmt.Sprintf("is packed by method %d, which is not read", f.Method), "unpack the ZIP and scan the folder, or pack it again the usual way (deflate)")
	case damaged != "":
		return problem(name, damaged, packAgain)
	case f.UncompressedSize64 == 0:
		return empty(name)
	case f.UncompressedSize64 > maxEntryBytes:
		return problem(name, fmt.Sprintf("would have %.1f GB unpacked, more than the %.1f GB that a picture in a ZIP may have",
			float64(f.UncompressedSize64)/1e9, maxEntryBytes/1e9), "unpack the ZIP and scan the folder, if it is a picture at all")
	case tooDense(f.UncompressedSize64, f.CompressedSize64):
		return problem(name, fmt.Sprintf("would grow to %d times its packed size, which no photo does", f.UncompressedSize64/max(1, f.CompressedSize64)),
			"unpack the ZIP and scan the folder, if it is a picture at all")
	}
	return ""
}

func tooDense(size, packed uint64) bool { return size > freeBytes && size/maxRatio > packed }

// overlaps finds entries whose bytes are those of other entries too, by which a small ZIP can hold any amount, and those
// whose own header is damaged; and says what is wrong.
func overlaps(files []*zip.File) map[*zip.File]string {
	type span struct {
		f        *zip.File
		from, to uint64
	}
	wrong := map[*zip.File]string{}
	var spans []span
	for _, f := range files {
		at, err := f.DataOffset()
		if err != nil {
			wrong[f] = "is damaged in the ZIP (its header is not where it should be)"
			continue
		}
		if f.CompressedSize64 > 0 {
			spans = append(spans, span{f, uint64(at), uint64(at) + f.CompressedSize64})
		}
	}
	slices.SortFunc(spans, func(a, b span) int { return cmp.Compare(a.from, b.from) })
	for i := 1; i < len(spans); i++ {
		before, s := spans[i-1], &spans[i]
		if s.from < before.to {
			wrong[before.f] = "has bytes in common with another entry of the ZIP, as in one made to fill a disk"
			wrong[s.f] = wrong[before.f]
			s.to = max(s.to, before.to)
		}
	}
	return wrong
}

// openEntry opens an entry for reading; what comes out is counted.
func openEntry(name string, f *zip.File) (io.ReadCloser, error) {
	r, err := f.Open()
	if err != nil {
		return nil, errors.New(damagedEntry(name, err))
	}
	return &counted{name: name, from: r, packed: f.CompressedSize64}, nil
}

// counted reads an entry and stops where it gives more than it may, whatever its header said.
type counted struct {
	name   string
	from   io.ReadCloser
	packed uint64
	n      uint64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.from.Read(p)
	c.n += uint64(n) //nolint:gosec // never negative
	switch {
	case c.n > maxEntryBytes || tooDense(c.n, c.packed):
		return 0, errors.New(problem(c.name, fmt.Sprintf("gives more than %d bytes, as no photo does that is packed in %d", c.n, c.packed),
			"unpack the ZIP and scan the folder, if it is a picture at all"))
	case err != nil && !errors.Is(err, io.EOF):
		return n, errors.New(damagedEntry(c.name, err))
	}
	return n, err
}

func (c *counted) Close() error { return c.from.Close() }

func damagedEntry(name string, err error) string {
	return problem(name, "is damaged in the ZIP ("+strings.TrimPrefix(err.Error(), "zip: ")+")", packAgain+", or copy the ZIP again")
}
