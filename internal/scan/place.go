package scan

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"

	"crimprule/internal/evidence"
	"crimprule/internal/grade"
)

// The folders of an evidence pack that are filled while measuring, each file named after what it was made from, so that
// it never has to be written twice.
var gathered = []string{"originals", "overlays", "thumbs"}

// packNames are the other names that an evidence pack may hold.
var packNames = append(evidence.Names(), grade.Folder)

// place is where the evidence comes to lie. It is gathered in a folder beside it, PATH.part, which takes the place of
// PATH in one step when everything is written: whoever opens PATH finds a whole pack or none. An interrupted scan leaves
// the .part folder, and the next call goes on in it. Another folder beside it, PATH.lock, keeps other scans away as long as
// this one runs; in it lies for a moment what is being replaced.
type place struct {
	given      string // as the call names it
	path, part string // absolute, links followed
	lock       *lock
	made       []string          // folders that were not there before, the deepest first
	taken      map[string]string // files that are shared with the pack at the place: their SHA-256 by its manifest
}

// placeAt checks whether evidence may be written to a path. Nothing is made yet.
func placeAt(given string) (*place, error) {
	path, err := followed(given)
	if err != nil {
		return nil, err
	}
	p := &place{given: given, path: path, part: path + ".part"}
	for _, check := range []func() error{p.mayMove, func() error { return p.mayReplace(p.path) }, p.mayUse} {
		if err := check(); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// followed is the absolute path of a folder that need not be there yet. A link stays a link: what it leads to is written.
func followed(given string) (string, error) {
	path := absolute(given)
	to, err := filepath.EvalSymlinks(path)
	switch {
	case err == nil:
		return to, nil
	case !errors.Is(err, fs.ErrNotExist):
		return path, nil // whatever is wrong with it is told by what it is needed for
	}
	if to, err := os.Readlink(path); err == nil {
		return "", fmt.Errorf("--out %q is a link to %q, which does not exist: make that folder, or name another one", given, to)
	}
	dir, err := followed(filepath.Dir(path)) // so that it has the same name when it is there
	return filepath.Join(dir, filepath.Base(path)), err
}

// mayMove refuses what cannot be moved aside as a whole.
func (p *place) mayMove() error {
	if _, err := os.Lstat(p.part); errors.Is(err, syscall.ENAMETOOLONG) {
		return fmt.Errorf("--out %q: the name is too long for the disk, where %d letters more are needed for a folder beside it; name a folder with a shorter name",
			p.given, len(p.part)-len(p.path))
	}
	if here, err := os.Getwd(); err == nil && within(real(here), p.path) {
		return fmt.Errorf("--out %q is the folder that this is called from, or holds it, and is replaced as a whole: name a new folder, or call from elsewhere", p.given)
	}
	// No folder can be moved into itself. For a mount point that is not even looked at, since it would be on another disk.
	err := os.Rename(p.path, filepath.Join(p.path, "itself"))
	if errors.Is(err, syscall.EXDEV) || errors.Is(err, syscall.EBUSY) {
		return fmt.Errorf("--out %q is where a disk is mounted, and cannot be replaced as a whole: name a new folder in it", p.given)
	}
	return nil
}

// keepsApart refuses to write where one of these files and folders lies, since the place is replaced as a whole.
func (p *place) keepsApart(paths ...string) error {
	for _, path := range paths {
		for _, ours := range []string{p.path, p.part, p.lockPath()} {
			if within(real(path), real(ours)) {
				return fmt.Errorf("--out %q is written to by way of %q, which is %q or holds it, and is replaced as a whole: name another folder with --out", p.given, ours, path)
			}
		}
	}
	return nil
}

// open locks the place, makes the folder that gathers the evidence, and takes over what an earlier pack has of it.
func (p *place) open() error {
	p.made = absent(filepath.Dir(p.path))
	if err := os.MkdirAll(filepath.Dir(p.path), 0o755); err != nil {
		return p.unwritable(err)
	}
	var err error
	if p.lock, err = lockFolder(p.lockPath()); errors.Is(err, errLocked) {
		return fmt.Errorf("another scan is writing its evidence to %q: wait until it has ended, or name another folder with --out", p.given)
	} else if err != nil {
		return p.unwritable(err)
	}
	for _, step := range []func() error{p.recover, func() error { return p.mayReplace(p.path) }, p.mayUse} {
		if err := step(); err != nil {
			return err
		}
	}
	p.made = append(absent(p.part), p.made...)
	return errors.Join(p.sweep(), p.gather())
}

// gather makes the folders that are gathered in; after publishing, anew.
func (p *place) gather() error {
	for _, dir := range gathered {
		if err := os.MkdirAll(filepath.Join(p.part, dir), 0o755); err != nil {
			return p.unwritable(err)
		}
	}
	if err := p.takeOver(); err != nil {
		return p.unwritable(err)
	}
	return nil
}

// absent lists a folder and those above it that are not there.
func absent(dir string) []string {
	var list []string
	for ; ; dir = filepath.Dir(dir) {
		if _, err := os.Lstat(dir); !errors.Is(err, fs.ErrNotExist) {
			return list
		}
		list = append(list, dir)
	}
}

func (p *place) unwritable(err error) error {
	return fmt.Errorf("the evidence cannot be written to %q: %w; name another folder with --out", p.given, plainly(err))
}

// mayReplace refuses to touch a folder that is neither empty nor an evidence pack: it may hold something dear. dir is the
// place, or where that was moved to.
func (p *place) mayReplace(dir string) error {
	entries, err := os.ReadDir(dir)
	if info, lstat := os.Lstat(dir); lstat == nil && !info.IsDir() {
		err = syscall.ENOTDIR // nor a link to a folder
	}
	switch {
	case errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0:
		return nil
	case errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("--out %q is a file: name a folder for the evidence", p.given)
	case err != nil:
		return fmt.Errorf("--out %q cannot be looked into: %w; name another folder", p.given, plainly(err))
	}
	if _, err := os.Stat(filepath.Join(dir, evidence.ManifestName)); err != nil {
		return fmt.Errorf("--out %q holds files that are no evidence of a scan: name a new or empty folder, nothing is overwritten", p.given)
	}
	added, err := evidence.Added(dir)
	if err == nil && added != "" {
		err = fmt.Errorf("%q was added to the evidence in %q after it was written: move it away, or name another --out; nothing is overwritten", added, p.given)
	}
	return err
}

// mayUse refuses to gather in a folder that somebody else has made: what does not belong to a pack is taken away later.
func (p *place) mayUse() error {
	entries, err := os.ReadDir(p.part)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return p.unwritable(err)
	}
	for _, e := range entries {
		if !slices.Contains(gathered, e.Name()) && !slices.Contains(packNames, e.Name()) {
			return fmt.Errorf("the evidence is gathered in %q, and %q there is none of it: move that folder away, or name another --out", p.part, e.Name())
		}
	}
	return nil
}

// has tells whether a gathered file is there; name is relative to the pack, with slashes.
func (p *place) has(name string) bool {
	if name == "" {
		return false
	}
	info, err := os.Lstat(p.at(name))
	return err == nil && info.Mode().IsRegular()
}

func (p *place) at(name string) string { return filepath.Join(p.part, filepath.FromSlash(name)) }

// prune removes what does not belong to the pack that is about to be written: pages of an earlier try, temporary files,
// and pictures that the scan no longer has.
func (p *place) prune(wanted map[string]bool) error {
	entries, err := os.ReadDir(p.part)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !slices.Contains(gathered, e.Name()) {
			if err := os.RemoveAll(filepath.Join(p.part, e.Name())); err != nil {
				return err
			}
			continue
		}
		files, err := os.ReadDir(filepath.Join(p.part, e.Name()))
		if err != nil {
			return err
		}
		for _, f := range files {
			if !wanted[e.Name()+"/"+f.Name()] {
				if err := os.RemoveAll(filepath.Join(p.part, e.Name(), f.Name())); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// undo takes away what open made, for a scan that does not begin. What an interrupted one left stays.
func (p *place) undo() {
	if p.lock != nil && slices.Contains(p.made, p.part) {
		p.discard()
	}
	p.close()
	for _, dir := range p.made {
		_ = os.Remove(dir) // fails where somebody else has put something into it
	}
}

// discard removes all that was gathered.
func (p *place) discard() { _ = os.RemoveAll(p.part) }

func (p *place) close() {
	if p.lock != nil {
		p.lock.release()
		p.lock = nil
	}
}
