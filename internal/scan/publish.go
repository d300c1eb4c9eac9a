package scan

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"syscall"
)

func (p *place) lockPath() string { return p.path + ".lock" }

// What is being replaced lies in the lock's folder: first under the one name, until it is known that nothing was put into
// it while the scan ran, then under the other, until it is deleted. Hidden folders are never taken for pictures.
func (p *place) unseen() string { return filepath.Join(p.lockPath(), ".unseen") }
func (p *place) seen() string   { return filepath.Join(p.lockPath(), ".seen") }

// publish puts the gathered pack in its place. What somebody put there meanwhile is put back, and the pack stays where it
// was gathered.
func (p *place) publish() error {
	// Once for all files, since a picture has three of them and a disk needs some milliseconds to make each of them last. Until
	// here nothing hangs on them: the next call looks whether what it finds is whole.
	if err := flush(p.part); err != nil {
		return p.unwritable(err)
	}
	if err := ignoreAbsent(os.Rename(p.path, p.unseen())); err != nil {
		return p.stuck(err)
	}
	if err := os.Rename(p.part, p.path); err != nil {
		return p.stuck(errors.Join(err, ignoreAbsent(os.Rename(p.unseen(), p.path))))
	}
	if err := p.look(); err != nil {
		return fmt.Errorf("%w; the new evidence waits in %q: call again then", err, p.part)
	}
	return syncFile(filepath.Dir(p.path))
}

func (p *place) stuck(err error) error {
	return fmt.Errorf("the evidence cannot be moved to %q: %w; it lies in %q", p.given, plainly(err), p.part)
}

// look deletes what was replaced, or puts it back where it holds what is no evidence.
func (p *place) look() error {
	if err := p.mayReplace(p.unseen()); err != nil {
		return errors.Join(err, ignoreAbsent(os.Rename(p.path, p.part)), os.Rename(p.unseen(), p.path))
	}
	if err := ignoreAbsent(os.Rename(p.unseen(), p.seen())); err != nil {
		return err
	}
	return os.RemoveAll(p.seen())
}

// recover ends what a call began that was killed while it published.
func (p *place) recover() error {
	if err := os.RemoveAll(p.seen()); err != nil {
		return p.unwritable(err)
	}
	if _, err := os.Lstat(p.unseen()); err != nil {
		return nil // there is none
	}
	if _, err := os.Lstat(p.path); errors.Is(err, fs.ErrNotExist) {
		return os.Rename(p.unseen(), p.path)
	}
	return p.look()
}

func ignoreAbsent(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// lock is a folder that one process at a time may hold. The lock goes with the process, however that ends; the folder may
// stay, and means nothing.
type lock struct {
	path   string
	folder *os.File
}

var errLocked = errors.New("another process holds it")

func lockFolder(path string) (*lock, error) {
	for {
		if err := os.Mkdir(path, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
		folder, err := os.OpenFile(path, os.O_RDONLY|syscall.O_DIRECTORY|syscall.O_NOFOLLOW, 0)
		if errors.Is(err, fs.ErrNotExist) {
			continue // whoever held it was done just now
		}
		if err != nil {
			return nil, fmt.Errorf("%q, which keeps other scans away, cannot be opened: %w", path, plainly(err))
		}
		if err := syscall.Flock(int(folder.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
			_ = folder.Close()
			if errors.Is(err, syscall.EWOULDBLOCK) {
				return nil, errLocked
			}
			return nil, err
		}
		held, err := folder.Stat()
		if there, lstat := os.Lstat(path); err == nil && lstat == nil && os.SameFile(held, there) {
			return &lock{path, folder}, nil
		}
		_ = folder.Close() // it was removed in between: what is held now is nobody's
	}
}

// release removes the folder while it is still held, so that nobody can take it in between.
func (l *lock) release() {
	_ = os.Remove(l.path) // fails where it is not empty
	_ = l.folder.Close()
}

// flush makes all files and folders below a folder last, should the power fail.
func flush(dir string) error {
	var paths []string
	err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		paths = append(paths, path)
		return err
	})
	if err != nil {
		return err
	}
	var once sync.Once
	eachOf(len(paths), 8, func(i int) { // waiting for the disk, not for a core
		if failed := syncFile(paths[i]); failed != nil {
			once.Do(func() { err = failed })
		}
	})
	return err
}

// syncFile makes a file or a folder last. Some network disks know no such thing for folders.
func syncFile(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	err = file.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil
	}
	return errors.Join(err, file.Close())
}

// eachOf does something for 0 ... n-1, several at once; 0: one a core.
func eachOf(n, atOnce int, do func(i int)) {
	if atOnce == 0 {
		atOnce = runtime.NumCPU()
	}
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(n, atOnce) {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	all.Wait()
}
