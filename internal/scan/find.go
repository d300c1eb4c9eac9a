// Package scan takes a site's photos in one go. Finding them (find.go, folder.go, archive.go) and telling whose crimp
// each shows (manifest.go, pattern.go) is pure Go and reads no picture; measuring runs in worker processes (pool.go).
package scan

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// FindOptions say where to look for what is known of the pictures, and where not to look for pictures.
type FindOptions struct {
	Manifest string           // a CSV file; empty: manifest.csv at the top of each source, where there is one
	Pattern  string           // of file names, such as {string}_{crimp}_{view}; empty: names tell nothing
	Assumed  bool             // nobody gave the pattern: a tag that says something else is no doubt
	Skip     []string         // folders that are never entered
	Watched  bool             // what is being copied is waited for, not told of
	Now      func() time.Time // nil: time.Now; crimps of days to come are mistakes
}

// Found is one picture, or what looks like one, in the order of the input.
type Found struct {
	File    string // its path in the scanned folder or ZIP, slashes between folders; no two are equal
	Path    string // absolute, where it is a file of its own; empty in a ZIP
	Size    int64  // bytes
	Problem string // why it is refused before reading, with what to do; empty where it is not

	Label      site.Label
	Origin     site.Origin // FromManifest, FromName, Assumed or Alone
	View       record.View // from the manifest or the name; empty: as the call says
	Scales     []string    // from the manifest, each fit for tolerance.ParseScale; none: as the call says
	Declare    []string    // the same for tolerance.ParseDeclare
	Tolerances []string    // from the manifest: files for Listing.Read; none: as the call says

	root    int    // the source that it was found in, by its place in the call
	ending  string // of its format, as .jpg, where its name has no ending that tells
	open    func() (io.ReadCloser, error)
	changed time.Time // of the last change, of the file or of the ZIP that it lies in; zero where there is no file
}

// Open gives the picture's bytes. Reading may fail too: what comes out of a ZIP is checked on the way. Errors quote
// the file and end with what to do.
func (f Found) Open() (io.ReadCloser, error) {
	if f.Problem != "" {
		return nil, errors.New(f.Problem)
	}
	return f.open()
}

// Listing is what was found.
type Listing struct {
	Source    string   // absolute path of what is scanned; several: one a line
	Files     []Found  // sources in the order of the call, the files of each sorted
	LeftAlone []string // files that are no pictures, and folders (a slash at the end) that were not entered; hidden ones come last
	Notes     []string // what else a person must look into: sentences, each with what to do
	Manifests []string // the manifests that were read
	// Lines tells of the pictures that stand in a manifest in which line, counted from 1 over the lines of all manifests.
	Lines map[string]int

	archives []*archive
}

// Close closes the ZIPs; nothing can be opened any more.
func (l *Listing) Close() error {
	var all []error
	for _, a := range l.archives {
		all = append(all, a.file.Close())
	}
	return errors.Join(all...)
}

// ErrNothing is the error where the sources could be read but hold no picture.
var ErrNothing = errors.New("no picture found")

// Find lists the pictures in sources: folders, picture files and ZIPs. Names are relative to the folder or ZIP itself
// or, of several sources, to the deepest folder that holds them all. The same file is listed once. It reads names and
// manifests but no picture, and follows links to files but not to folders. Every error quotes what is wrong and ends
// with what to do; nothing may have been measured then.
func Find(sources []string, o FindOptions) (*Listing, error) {
	names, err := parsePattern(o.Pattern)
	if err != nil {
		return nil, err
	}
	if names != nil && o.Assumed {
		names.origin = site.Assumed
	}
	c := &collection{taken: map[string]string{}, same: map[string]string{}, names: map[string]int{}, skip: map[string]bool{}, watched: o.Watched}
	for _, folder := range o.Skip {
		c.skip[real(folder)] = true
	}
	roots, err := openRoots(sources)
	if err != nil {
		return nil, err
	}
	for _, r := range roots {
		c.roots = append(c.roots, real(r.path))
	}
	if err := c.collectAll(roots); err != nil {
		_ = c.listing.Close()
		return nil, err
	}
	c.listing.Source = sourceOf(roots)
	if err := c.label(o, names); err != nil {
		_ = c.listing.Close()
		return nil, err
	}
	c.dropOriginals()
	c.tellLeftAlone(o.Manifest == "")
	c.tellAlike()
	if len(c.listing.Files) == 0 {
		_ = c.listing.Close()
		return nil, nothing(roots, len(c.listing.LeftAlone))
	}
	return &c.listing, nil
}

func nothing(roots []root, leftAlone int) error {
	var quoted []string
	for _, r := range roots {
		quoted = append(quoted, fmt.Sprintf("%q", r.given))
	}
	beside := ""
	if leftAlone > 0 {
		beside = fmt.Sprintf(" (%d other files)", leftAlone)
	}
	return fmt.Errorf("%w in %s%s: %s are looked for, in folders at any depth, in ZIPs, or named one by one; name the folder that holds them",
		ErrNothing, strings.Join(quoted, ", "), beside, lookedFor)
}

// root is one source.
type root struct {
	given  string // as the caller wrote it
	path   string // absolute
	prefix string // what its files' names begin with, a slash at the end
	info   fs.FileInfo
}

// openRoots looks at the sources and gives each its prefix; one named twice counts once.
func openRoots(sources []string) ([]root, error) {
	if len(sources) == 0 {
		return nil, errors.New("nothing to scan is given: name a folder, pictures or a ZIP")
	}
	var roots []root
	seen := map[string]bool{}
	for _, s := range sources {
		info, err := os.Stat(s)
		if err != nil {
			return nil, errors.New(unreadable(s, err))
		}
		path, err := filepath.Abs(s)
		if err != nil {
			return nil, errors.New(unreadable(s, err))
		}
		if !info.IsDir() && !looksLike(path) && ending(path) != ".zip" && (!info.Mode().IsRegular() || sniff(func() (io.ReadCloser, error) { return openFile(path, s) }) == "") {
			return nil, errors.New(problem(s, "is neither a folder nor a ZIP nor a picture by its name or its first bytes", "scan takes "+lookedFor+", folders of them, and ZIPs (.zip)"))
		}
		if !seen[real(path)] {
			seen[real(path)] = true
			roots = append(roots, root{given: s, path: path, info: info})
		}
	}
	base := roots[0].path
	if len(roots) > 1 || !roots[0].whole() {
		base = common(roots)
	}
	for i := range roots {
		if rel, err := filepath.Rel(base, roots[i].path); err == nil && rel != "." {
			roots[i].prefix = filepath.ToSlash(rel) + "/"
		}
	}
	return roots, nil
}

// whole tells whether the source holds pictures and is none itself.
func (r root) whole() bool { return r.info.IsDir() || ending(r.path) == ".zip" }

// common is the deepest folder that holds all roots; a folder among them may be it.
func common(roots []root) string {
	folder := roots[0].path
	if !roots[0].info.IsDir() {
		folder = filepath.Dir(folder)
	}
	for _, r := range roots[1:] {
		for !within(r.path, folder) {
			folder = filepath.Dir(folder)
		}
	}
	return folder
}

// within tells whether a path is a folder or lies in it.
func within(path, folder string) bool {
	rel, err := filepath.Rel(folder, path)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}

func sourceOf(roots []root) string {
	var paths []string
	for _, r := range roots {
		paths = append(paths, r.path)
	}
	return strings.Join(paths, "\n")
}

// real is a path with its links followed as far as that is possible.
func real(path string) string {
	if absolute, err := filepath.Abs(path); err == nil {
		path = absolute
	}
	if followed, err := filepath.EvalSymlinks(path); err == nil {
		return followed
	}
	return filepath.Clean(path)
}

// collection gathers what is found.
type collection struct {
	listing Listing
	taken   map[string]string // the names of the files that are listed, by their real paths
	same    map[string]string // further names of theirs, which are not listed
	names   map[string]int    // the names that are listed, with the number that the next file of that name gets
	skip    map[string]bool   // real paths of folders that are not entered
	roots   []string          // real paths of the sources
	watched bool
	root    int      // the source that is being listed
	links   []func() // links in it, to be listed after all files
	alone   []leftAlone
	lists   []manifestPlace // manifests that lie among the pictures
}

// leftAlone is what is no picture: its name, and its path as Listing.Read takes it.
type leftAlone struct{ name, path string }

func (c *collection) leaveAlone(name, path string) { c.alone = append(c.alone, leftAlone{name, path}) }

// tellLeftAlone fills in LeftAlone and, where lists are looked for, names what looks like one and was not read. What was read
// is not left alone.
func (c *collection) tellLeftAlone(lists bool) {
	read := map[string]bool{}
	for _, path := range c.listing.Manifests {
		read[path] = true
	}
	for _, f := range c.listing.Files {
		for _, path := range f.Tolerances {
			read[path] = true
		}
	}
	var seen, unseen []string
	for _, a := range c.alone {
		switch {
		case read[a.path]:
		case hidden(a.name):
			unseen = append(unseen, a.name)
		default:
			seen = append(seen, a.name)
			if note := unreadList(a.name); lists && note != "" {
				c.listing.Notes = append(c.listing.Notes, note)
			}
		}
	}
	c.listing.LeftAlone = append(seen, unseen...)
}

// collectAll lists the sources and sorts what each gave. Links come after all files, so that a file that is listed once has
// its own name.
func (c *collection) collectAll(roots []root) error {
	links := make([][]func(), len(roots))
	for i, r := range roots {
		c.root = i
		if err := c.collect(r); err != nil {
			return err
		}
		links[i], c.links = c.links, nil
	}
	for i := range roots {
		c.root = i
		for _, follow := range links[i] {
			follow()
		}
	}
	slices.SortStableFunc(c.listing.Files, func(a, b Found) int {
		return cmp.Or(cmp.Compare(a.root, b.root), naturally(a.File, b.File))
	})
	return nil
}

// collect lists a source but for the links in it.
func (c *collection) collect(r root) error {
	lists := len(c.lists)
	switch {
	case r.info.IsDir():
		if isPack(r.path) || isGathering(r.path) {
			return errors.New(problem(r.given, "is evidence that a scan wrote, not a folder of pictures", "name the folder of the pictures themselves"))
		}
		if _, err := os.ReadDir(r.path); err != nil {
			return errors.New(unreadable(r.given, err))
		}
		c.folder(r.path, real(r.path), r.prefix)
	case ending(r.path) == ".zip":
		if err := c.archive(r); err != nil {
			return err
		}
	default:
		c.plain(r.path, real(r.path), strings.TrimSuffix(r.prefix, "/"), r.info)
	}
	for i := range c.lists[lists:] {
		c.lists[lists+i].given = r.given + strings.TrimPrefix(c.lists[lists+i].path, r.path)
	}
	return nil
}

// add lists a file under a name that no other has.
func (c *collection) add(f Found) {
	name := f.File
	for c.names[f.File] > 0 {
		f.File = fmt.Sprintf("%s (%d)", name, c.names[name])
		c.names[name]++
	}
	c.names[f.File] = 2
	f.root = c.root
	c.listing.Files = append(c.listing.Files, f)
}

// refuse lists what cannot be measured.
func (c *collection) refuse(name, problem string) { c.add(Found{File: name, Problem: problem}) }
