package scan

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"crimprule/internal/evidence"
)

// The folders of an evidence pack that are filled while measuring, each file named after what it was made from, so that
// it never has to be written twice.
var gathered = []string{"originals", "overlays", "thumbs"}

// packNames are the other names that an evidence pack may hold.
var packNames = []string{"index.html", "crimps", "assets", "contact", "trainees", "tolerances", "evidence.pdf", "crimps.csv", evidence.RecordsName, evidence.ManifestName}

// place is where the evidence comes to lie. It is gathered in a folder beside it, PATH.part, which takes the place of
// PATH in one step when everything is written: whoever opens PATH finds a whole pack or none. An interrupted scan leaves
// the .part folder, and the next call goes on in it.
type place struct {
	path, part string
	lock       *os.File
	made       []string // folders that were not there before, the deepest first
}

// placeAt checks whether evidence may be written to a path. Nothing is made yet.
func placeAt(path string) (*place, error) {
	p := &place{path: filepath.Clean(path)}
	p.part = p.path + ".part"
	return p, errors.Join(p.mayReplace(), p.mayUse())
}

// reopen makes the gathering folder anew after it was published.
func (p *place) reopen() error {
	p.close()
	return p.open()
}

// open makes and locks the folder that gathers the evidence, and takes over what an earlier pack at the same place has of
// it.
func (p *place) open() error {
	p.made = nil
	for dir := p.part; ; dir = filepath.Dir(dir) {
		if _, err := os.Lstat(dir); !errors.Is(err, fs.ErrNotExist) {
			break
		}
		p.made = append(p.made, dir)
	}
	for _, dir := range gathered {
		if err := os.MkdirAll(filepath.Join(p.part, dir), 0o755); err != nil {
			return p.unwritable(err)
		}
	}
	var err error
	if p.lock, err = os.Open(p.part); err != nil {
		return p.unwritable(err)
	}
	if err := syscall.Flock(int(p.lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = p.lock.Close()
		return fmt.Errorf("another scan is writing its evidence to %q: wait until it has ended, or name another folder with --out", p.path)
	}
	return p.takeOver()
}

func (p *place) unwritable(err error) error {
	return fmt.Errorf("the evidence cannot be written to %q: %w; name another folder with --out", p.path, plainly(err))
}

// mayReplace refuses to touch a folder that is neither empty nor an evidence pack: it may hold something dear.
func (p *place) mayReplace() error {
	entries, err := os.ReadDir(p.path)
	switch {
	case errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0:
		return nil
	case errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("--out %q is a file: name a folder for the evidence", p.path)
	case err != nil:
		return fmt.Errorf("--out %q cannot be looked into: %w; name another folder", p.path, plainly(err))
	}
	if _, err := os.Stat(filepath.Join(p.path, evidence.ManifestName)); err != nil {
		return fmt.Errorf("--out %q holds files that are no evidence of a scan: name a new or empty folder, nothing is overwritten", p.path)
	}
	added, err := evidence.Added(p.path)
	if err == nil && added != "" {
		err = fmt.Errorf("%q was added to the evidence in %q after it was written: move it away, or name another --out; nothing is overwritten", added, p.path)
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

// takeOver links what the pack that stands at the place has of pictures and drawings; the files are never changed, only
// replaced, so that two packs may share them.
func (p *place) takeOver() error {
	for _, dir := range gathered {
		entries, err := os.ReadDir(filepath.Join(p.path, dir))
		if err != nil {
			continue // none there
		}
		for _, e := range entries {
			from, to := filepath.Join(p.path, dir, e.Name()), filepath.Join(p.part, dir, e.Name())
			if _, err := os.Lstat(to); err == nil || !e.Type().IsRegular() {
				continue
			}
			if err := os.Link(from, to); err != nil {
				if err := copyFile(from, to); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }()
	_, _, err = keep(in, filepath.Dir(to), func(string) string { return filepath.Base(to) })
	return err
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
	isGathered := map[string]bool{}
	for _, dir := range gathered {
		isGathered[dir] = true
	}
	for _, e := range entries {
		if !isGathered[e.Name()] {
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

// publish puts the gathered pack in its place.
func (p *place) publish() error {
	aside, err := os.MkdirTemp(filepath.Dir(p.path), ".crimprule-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(aside) }()
	old := filepath.Join(aside, "old")
	if err := ignoreAbsent(os.Rename(p.path, old)); err != nil {
		return err
	}
	if err := os.Rename(p.part, p.path); err != nil {
		return errors.Join(err, ignoreAbsent(os.Rename(old, p.path)))
	}
	return nil
}

func ignoreAbsent(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// undo takes away what open made, for a scan that does not begin. What an interrupted one left stays.
func (p *place) undo() {
	p.close()
	if slices.Contains(p.made, p.part) {
		p.discard()
	}
	for _, dir := range p.made {
		_ = os.Remove(dir) // fails where somebody else has put something into it
	}
}

// discard removes all that was gathered.
func (p *place) discard() { _ = os.RemoveAll(p.part) }

func (p *place) close() {
	if p.lock != nil {
		_ = p.lock.Close()
	}
}

// readError marks an error of the picture's own side when bytes are copied, writeError one of ours.
type (
	readError  struct{ error }
	writeError struct{ error }
)

func (e readError) Unwrap() error  { return e.error }
func (e writeError) Unwrap() error { return e.error }

// keep copies bytes into a file of dir whose name follows from their SHA-256. It is there as a whole or not at all.
func keep(from io.Reader, dir string, name func(sha string) string) (sha string, size int64, err error) {
	temp, err := os.CreateTemp(dir, ".copy-*")
	if err != nil {
		return "", 0, writeError{err}
	}
	defer func() {
		if err != nil {
			_ = temp.Close()
			_ = os.Remove(temp.Name())
		}
	}()
	hash, buffer := sha256.New(), make([]byte, 1<<17)
	for {
		n, readErr := from.Read(buffer)
		hash.Write(buffer[:n])
		size += int64(n)
		if _, err := temp.Write(buffer[:n]); err != nil {
			return "", 0, writeError{err}
		}
		if errors.Is(readErr, io.EOF) {
			break
		}
		if readErr != nil {
			return "", 0, readError{readErr}
		}
	}
	sha = hex.EncodeToString(hash.Sum(nil))
	if err := errors.Join(temp.Chmod(0o644), temp.Close()); err != nil {
		return "", 0, writeError{err}
	}
	if err := os.Rename(temp.Name(), filepath.Join(dir, name(sha))); err != nil {
		return "", 0, writeError{err}
	}
	return sha, size, nil
}

// originalName is the name of a picture in the pack: its hash, and as much of its own name as any file system, archive
// and browser can stand.
func originalName(file, sha string) string {
	base := file[strings.LastIndexByte(file, '/')+1:]
	ext := filepath.Ext(base)
	stem := safeWord(strings.TrimSuffix(base, ext), 60)
	if stem != "" {
		stem = "-" + stem
	}
	if ext = safeWord(ext, 6); ext != "" {
		ext = "." + strings.ToLower(ext)
	}
	return sha[:16] + stem + ext
}

func safeWord(text string, longest int) string {
	word := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
			return r
		case r == '.':
			return -1
		}
		return '_'
	}, text)
	return word[:min(len(word), longest)]
}

// plainly takes the path from an error that is going to be quoted with a path anyway.
func plainly(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err
	}
	return err
}

// diskFull tells whether there was no room left.
func diskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
