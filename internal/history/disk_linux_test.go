package history

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// smallDisk is a folder on a disk of its own. Mounting needs rights that not everyone has.
func smallDisk(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		t.Skipf("no small disk can be mounted here: %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(dir, syscall.MNT_DETACH)) })
	return dir
}

// fill settles pictures until that fails.
func fill(t *testing.T, h *History, id int64) (settled int, err error) {
	t.Helper()
	for n := range 5000 {
		if err := h.Settle(context.Background(), id, outcomeOf(n)); err != nil {
			return n, err
		}
	}
	require.Fail(t, "the disk never got full")
	return 0, nil
}

func assertDiskFull(t *testing.T, err error) {
	t.Helper()
	var fault *Fault
	require.ErrorAs(t, err, &fault)
	assert.Contains(t, err.Error(), "its disk is full: free some space and call again; what was kept so far is whole")
}

// wholeAfter reopens the history, looks whether it is whole, and goes on.
func wholeAfter(t *testing.T, path string, id int64, settled int) {
	t.Helper()
	ctx := context.Background()
	h := open(t, path)
	var verdict string
	require.NoError(t, h.write.QueryRow(`PRAGMA integrity_check`).Scan(&verdict))
	assert.Equal(t, "ok", verdict)
	pending, err := h.Pending(ctx, id)
	require.NoError(t, err)
	require.NotEmpty(t, pending)
	assert.Equal(t, settled, pending[0], "what was settled is there, what was not is pending")
	require.NoError(t, h.Settle(ctx, id, outcomeOf(pending[0])))
	require.NoError(t, h.Close())
}

func TestFullDisk(t *testing.T) {
	dir := smallDisk(t, "3m")
	ballast := filepath.Join(dir, "ballast")
	require.NoError(t, os.WriteFile(ballast, make([]byte, 1<<20), 0o600))
	path := filepath.Join(dir, "site-history.db")
	h, err := Open(context.Background(), path, Options{})
	require.NoError(t, err)
	id := begin(t, h, someEntries(2000))
	settled, err := fill(t, h, id)
	assertDiskFull(t, err)
	assert.Greater(t, settled, 10)
	_ = h.Close()
	require.NoError(t, os.Remove(ballast))
	wholeAfter(t, path, id, settled)
}

// The same where nothing can be mounted: SQLite is told to use so many pages at most.
func TestFullBySQLite(t *testing.T) {
	h := fresh(t)
	id := begin(t, h, someEntries(2000))
	_, err := h.write.Exec(`PRAGMA max_page_count = 400`)
	require.NoError(t, err)
	settled, err := fill(t, h, id)
	assertDiskFull(t, err)
	require.NoError(t, h.Close())
	wholeAfter(t, h.Path(), id, settled)
}

// A queue that cannot write any more says so, even if the work has nothing to say.
func TestQueueOnFullDisk(t *testing.T) {
	t.Parallel()
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(1000))
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2}, func(ctx context.Context, job Job, last bool) error {
		return settleAll(h)(ctx, job, last)
	})
	require.NoError(t, err)
	require.NoError(t, q.Add(ctx, positions(1000)))
	_, err = h.write.Exec(`PRAGMA max_page_count = 450`)
	require.NoError(t, err)
	require.NoError(t, q.Start(ctx))
	select {
	case fault := <-q.Faults():
		assertDiskFull(t, fault)
	case <-time.After(time.Minute):
		assert.Fail(t, "nothing was said")
	}
	begun := time.Now()
	_ = q.Stop(ctx) // in time or not
	assert.Less(t, time.Since(begun), 10*time.Second)
}

// A read-only disk: the history can be read, though SQLite can make no files beside it; it cannot be written.
func TestReadOnlyDisk(t *testing.T) {
	dir := smallDisk(t, "4m")
	path := filepath.Join(dir, "site-history.db")
	ctx := context.Background()
	h, err := Open(ctx, path, Options{})
	require.NoError(t, err)
	id := begin(t, h, someEntries(1))
	require.NoError(t, h.Settle(ctx, id, outcomeOf(0)))
	require.NoError(t, h.Close())
	require.NoError(t, syscall.Mount("tmpfs", dir, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))

	r, err := Open(ctx, path, Options{ReadOnly: true})
	require.NoError(t, err)
	p, err := r.Picture(ctx, id, 0)
	require.NoError(t, err)
	assert.Equal(t, hash(0), p.SHA256)
	require.NoError(t, r.Close())
	got := openError(t, path, Options{})
	assert.Contains(t, got, "allow writing to the file and its folder, or name another file")
	assert.Contains(t, openError(t, filepath.Join(dir, "new.db"), Options{}), "allow writing to the file and its folder, or name another file")
}

// The same by permissions, which do not bind the superuser.
func TestReadOnlyByPermission(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("permissions do not bind the superuser; see TestReadOnlyDisk")
	}
	ctx := context.Background()
	h := fresh(t)
	id := begin(t, h, someEntries(1))
	require.NoError(t, h.Settle(ctx, id, outcomeOf(0)))
	require.NoError(t, h.Close())
	require.NoError(t, os.Chmod(h.Path(), 0o400))
	assert.Contains(t, openError(t, h.Path(), Options{}), "it cannot be written to: allow writing")
	dir := filepath.Dir(h.Path())
	require.NoError(t, os.Chmod(dir, 0o500))
	defer func() { _ = os.Chmod(dir, 0o700) }()
	r, err := Open(ctx, h.Path(), Options{ReadOnly: true})
	require.NoError(t, err)
	_, err = r.Picture(ctx, id, 0)
	require.NoError(t, errors.Join(err, r.Close()))
}
