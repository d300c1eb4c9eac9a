package scan

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
)

// folder lists a folder and what lies below it.
func (c *collection) folder(dir, realDir, prefix string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		name := strings.TrimSuffix(prefix, "/")
		c.refuse(name, unreadable(name, err))
	}
	if list := manifestAmong(entries); list != "" {
		c.lists = append(c.lists, manifestPlace{path: filepath.Join(dir, list), prefix: prefix})
	}
	for _, e := range entries {
		name := prefix + e.Name()
		path, realPath := filepath.Join(dir, e.Name()), filepath.Join(realDir, e.Name())
		switch {
		case e.IsDir():
			c.below(path, realPath, name, e.Type())
		case hidden(e.Name()):
			c.leaveAlone(name, path)
		case e.Type()&fs.ModeSymlink != 0:
			c.links = append(c.links, func() { c.link(path, name) })
		default:
			if info, err := e.Info(); err != nil {
				c.refuse(name, unreadable(name, err))
			} else {
				c.plain(path, realPath, name, info)
			}
		}
	}
}

// below lists a folder in a folder.
func (c *collection) below(path, realPath, name string, mode fs.FileMode) {
	if c.skip[realPath] {
		return
	}
	if hidden(filepath.Base(path)) || isPack(path) || isGathering(path) {
		c.leaveAlone(name+"/", path)
		return
	}
	if looksLike(name) {
		c.refuse(name, irregular(name, mode))
	}
	c.folder(path, realPath, name+"/")
}

// manifestAmong is the name of the manifest among a folder's files, however its letters are written; empty where there is
// none.
func manifestAmong(entries []fs.DirEntry) string {
	found := ""
	for _, e := range entries {
		if strings.EqualFold(e.Name(), manifestName) && found != manifestName && !e.IsDir() {
			found = e.Name()
		}
	}
	return found
}

// link lists the file that a link leads to.
func (c *collection) link(path, name string) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && looksLike(name):
		c.refuse(name, problem(name, "is a link to a file that does not exist", "copy the picture itself there, or delete the link"))
	case errors.Is(err, fs.ErrNotExist):
		c.leaveAlone(name, path)
	case err != nil:
		c.refuse(name, unreadable(name, err))
	case info.IsDir() && (c.skip[real(path)] || c.scans(real(path))):
	case info.IsDir():
		c.refuse(name, problem(name, "is a link to a folder, which is not followed, so that pictures in it were not measured", "name that folder itself, or delete the link"))
	default:
		c.plain(path, real(path), name, info)
	}
}

// scans tells whether a folder is looked through anyway.
func (c *collection) scans(folder string) bool {
	return slices.ContainsFunc(c.roots, func(root string) bool { return within(folder, root) })
}

// plain lists a file that is no link and not hidden, if it is a picture by its name or by its first bytes. What may hold
// pictures is told of.
func (c *collection) plain(path, realPath, name string, info fs.FileInfo) {
	byBytes := ""
	switch {
	case looksLike(name):
	case info.Mode().IsRegular():
		byBytes = sniff(func() (io.ReadCloser, error) { return openFile(path, name) })
		if why := other(name, byBytes); why != "" {
			if c.watched && slices.Contains(copying, ending(name)) {
				c.leaveAlone(name, path)
			} else {
				c.refuse(name, why)
			}
			return
		}
		if byBytes != "" {
			break
		}
		fallthrough
	default:
		c.leaveAlone(name, path)
		return
	}
	c.fileAt(path, realPath, name, byBytes, info)
}

// fileAt lists a picture, unless it is listed already. byBytes is the ending that its first bytes tell, where its name tells
// none.
func (c *collection) fileAt(path, realPath, name, byBytes string, info fs.FileInfo) {
	if listed, twice := c.taken[realPath]; twice {
		if listed != name {
			c.same[name] = listed
		}
		return
	}
	c.taken[realPath] = name
	f := Found{File: name, Path: path, Size: info.Size(), changed: info.ModTime(), ending: byBytes, Problem: unread(name, byBytes),
		open: func() (io.ReadCloser, error) { return openFile(path, name) }}
	switch why := irregular(name, info.Mode()); {
	case f.Problem != "":
	case why != "":
		f.Problem = why
	case info.Size() == 0:
		f.Problem = empty(name)
	case info.Size() > MaxBytes:
		f.Problem = tooLarge(name, info.Size())
	case info.Mode().Perm()&0o444 == 0: // whether others may read it, opening it will tell
		if file, err := f.open(); err != nil {
			f.Problem = err.Error()
		} else {
			_ = file.Close()
		}
	}
	c.add(f)
}

// openFile opens a regular file. What became a pipe since it was listed does not make it wait.
func openFile(path, name string) (io.ReadCloser, error) {
	file, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, errors.New(unreadable(name, err))
	}
	info, err := file.Stat()
	if err == nil && info.Mode().IsRegular() {
		return file, nil
	}
	_ = file.Close()
	if err != nil {
		return nil, errors.New(unreadable(name, err))
	}
	return nil, errors.New(irregular(name, info.Mode()))
}

// isPack tells whether a folder holds the evidence of a scan.
func isPack(dir string) bool {
	for _, name := range []string{evidence.ManifestName, evidence.RecordsName} {
		if _, err := os.Lstat(filepath.Join(dir, name)); err != nil {
			return false
		}
	}
	return true
}

// isGathering tells whether a folder holds what a scan gathers for its evidence, which an interrupted one leaves.
func isGathering(dir string) bool {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return false
	}
	n := 0
	for _, e := range entries {
		if slices.Contains(gathered, e.Name()) && e.IsDir() {
			n++
		} else if !slices.Contains(packNames, e.Name()) {
			return false
		}
	}
	return n == len(gathered)
}

// dropOriginals leaves alone what is not read where the same picture lies beside it in a format that is: cameras keep
// their raw file that way, phones their HEIC. Where the manifest names it, it stays and is told of.
func (c *collection) dropOriginals() {
	read := map[string]bool{}
	for _, f := range c.listing.Files {
		if f.Problem == "" {
			read[stem(f.File)] = true
		}
	}
	c.listing.Files = slices.DeleteFunc(c.listing.Files, func(f Found) bool {
		drop := unread(f.File, f.ending) != "" && read[stem(f.File)] && f.Origin != site.FromManifest
		if drop {
			c.leaveAlone(f.File, f.Path)
		}
		return drop
	})
}
