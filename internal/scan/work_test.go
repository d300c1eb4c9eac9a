package scan

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/evidence"
	"crimprule/internal/history"
	"crimprule/internal/site"
)

// photosOf makes a folder of files of these names.
func photosOf(t *testing.T, names ...string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "photos"), 0o755))
	addPhotos(t, dir, names...)
	return dir
}

func addPhotos(t *testing.T, dir string, names ...string) {
	t.Helper()
	for _, name := range names {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "photos", name), []byte(name), 0o644))
	}
}

// soon lets a test fail that would wait for ever.
func soon(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 40*time.Second)
	t.Cleanup(cancel)
	return ctx
}

// An update or a tidy hand takes the program's file away while a scan runs, and then a worker process dies.
func TestAProgramThatIsGoneEndsTheScan(t *testing.T) {
	dir := photosOf(t, "a.jpg", "abort.jpg", "b.jpg", "c.jpg")
	o := benchOptions(dir, 1)
	present, started := o.Worker, atomic.Int32{}
	o.Worker = func() *exec.Cmd {
		if started.Add(1) > 1 {
			return exec.Command(filepath.Join(dir, "nowhere"))
		}
		return present()
	}
	var seen noting
	err := Run(soon(t), o, &seen)
	var none *NoWorker
	require.ErrorAs(t, err, &none)
	assert.ErrorContains(t, err, "see that the program still lies where it was called")
	o.Worker = present
	require.NoError(t, Run(soon(t), o, &seen))
	failed := 0
	for _, p := range seen.seen {
		if p.Failure != "" {
			failed++
		}
	}
	assert.Equal(t, 1, failed, "no picture is blamed but the one that workers die over")
}

// What a worker process says and nobody understands is that picture's failure, and nobody waits for it.
func TestAnErrorOfTheLastAttemptIsThePicturesFailure(t *testing.T) {
	dir := photosOf(t, "a.jpg", "garbage.jpg")
	var seen noting
	require.NoError(t, Run(soon(t), benchOptions(dir, 1), &seen))
	require.Len(t, seen.seen, 2)
	assert.Empty(t, seen.seen[0].Failure)
	assert.Contains(t, seen.seen[1].Failure, "cannot unmarshal")
}

// slowly reads as from a slow card.
type slowly struct {
	io.Reader
	wait time.Duration
}

func (s slowly) Read(p []byte) (int, error) {
	time.Sleep(s.wait)
	return s.Reader.Read(p)
}

func TestCopyingIsNotBoundedByTheTimeout(t *testing.T) {
	o := benchOptions(photosOf(t, "a.jpg"), 1)
	o.Timeout = 1500 * time.Millisecond
	ctx, stop := context.WithCancelCause(soon(t))
	r := run{Options: o, settled: make(chan int), gone: make(chan struct{}), stop: stop}
	require.NoError(t, r.open(ctx))
	defer r.close()
	r.items[0].open = func() (io.ReadCloser, error) {
		return io.NopCloser(slowly{bytes.NewReader([]byte("a picture")), time.Second}), nil
	}
	var seen noting
	require.NoError(t, r.all(ctx, &seen))
	require.Len(t, seen.seen, 1)
	assert.Empty(t, seen.seen[0].Failure)
	assert.NotNil(t, seen.seen[0].Record)
}

// doing does something when pictures are handed on.
type doing struct {
	silent
	settled func(known int)
	written func()
}

func (d *doing) Settled(known int) { d.settled(known) }
func (d *doing) Written(Result) error {
	if d.written != nil {
		d.written()
	}
	return nil
}

func TestAHistoryThatIsDeletedEndsTheScan(t *testing.T) {
	for _, after := range []int{1, 3} { // in the middle, and when all is measured
		dir := photosOf(t, "slow.jpg", "a.jpg", "b.jpg")
		o := benchOptions(dir, 1)
		err := Run(soon(t), o, &doing{settled: func(known int) {
			if known == after {
				assert.NoError(t, os.Remove(o.History))
			}
		}})
		var fault *history.Fault
		require.ErrorAs(t, err, &fault)
		assert.ErrorContains(t, err, "deleted or replaced while it was in use")
		assert.NoDirExists(t, o.Out, "no evidence of what is kept nowhere")
	}
}

// Ctrl-C while pictures that were copied in are being measured: those that were not are called nothing at all.
func TestWatchingIsInterruptedInTheMiddle(t *testing.T) {
	dir := photosOf(t, "first.jpg")
	o := benchOptions(dir, 1)
	o.Watch = true
	ctx, cancel := context.WithCancel(soon(t))
	const more = 20
	err := Run(ctx, o, &doing{
		written: func() {
			for i := range more {
				addPhotos(t, dir, fmt.Sprintf("more-%02d.jpg", i))
			}
		},
		settled: func(known int) {
			if known == 5 {
				cancel()
			}
		}})
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, 1, recordsIn(t, o.Out), "the last whole evidence stays")
	o.Watch = false
	var seen noting
	require.NoError(t, Run(soon(t), o, &seen))
	assert.Equal(t, more+1, recordsIn(t, o.Out))
	assert.False(t, anyFailed(seen.seen))
}

func anyFailed(pictures []site.Picture) bool {
	for _, p := range pictures {
		if p.Failure != "" {
			return true
		}
	}
	return false
}

func recordsIn(t *testing.T, out string) int {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(out, evidence.RecordsName))
	if !errors.Is(err, os.ErrNotExist) {
		require.NoError(t, err)
	}
	return bytes.Count(data, []byte("\n"))
}
