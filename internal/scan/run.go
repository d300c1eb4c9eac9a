package scan

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"crimprule/internal/history"
)

// CallError is a mistake in the call, the manifest or a tolerances file: nothing was measured.
type CallError struct{ Err error }

func (e CallError) Error() string { return e.Err.Error() }
func (e CallError) Unwrap() error { return e.Err }

// observerError marks an error of the observer's: it is no fault of the evidence's place.
type observerError struct{ error }

func (e observerError) Unwrap() error { return e.error }

// attempts is how often a picture is tried over which a worker process died: once more, since the process may have been
// ended for another picture's hunger for memory.
const attempts = 2

// memoryLimit, bytes, is where the garbage collector begins to work harder; ten thousand pictures need some 40 MB.
const memoryLimit = 56 << 20

// run is a scan under way.
type run struct {
	Options
	listing *Listing
	items   []item
	limits  Limits
	history *history.History
	scan    int64
	place   *place
	pool    *Pool
	queue   *history.Queue
	began   time.Time

	mu      sync.Mutex              // of items, which grow while a folder is watched
	settled chan int                // positions whose outcome was noted
	gone    chan struct{}           // closed when nobody waits for settled any more
	stop    context.CancelCauseFunc // ends the scan for a fault that the next picture would meet as well
}

// Run scans. What was measured when it ends, however it ends, is in the history; called again with the same options, it
// goes on from there. The error is a CallError, the context's, or says what went wrong and what to do.
func Run(ctx context.Context, o Options, observer Observer) error {
	// What this process holds is small; what it throws away shall not grow for it, since the worker processes need the room.
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(memoryLimit))
	r := run{Options: o, settled: make(chan int), gone: make(chan struct{})}
	if err := r.open(ctx); err != nil {
		return err
	}
	defer r.close()
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	r.stop = stop
	err := r.all(ctx, observer)
	if cause := context.Cause(ctx); err != nil && cause != nil {
		err = cause
	}
	if diskFull(err) && !errors.As(err, new(observerError)) {
		r.place.discard() // what fills the disk must not be ours; the history has what was measured
		err = fmt.Errorf("the disk is full that %q is to lie on (%w); nothing half written was left there, and what was measured is kept in %q: "+
			"make room, or name another folder with --out, and call again", o.Out, errDiskFull, o.History)
	}
	return err
}

// open checks the call, finds the pictures and opens history and evidence.
func (r *run) open(ctx context.Context) error {
	var err error
	if r.limits, err = LoadLimits(r.Tolerances); err != nil {
		return CallError{err}
	}
	if r.place, err = placeAt(r.Out); err != nil {
		return CallError{err}
	}
	if err := r.place.keepsApart(append(slices.Clone(r.Sources), filepath.Dir(r.History))...); err != nil {
		return CallError{err}
	}
	if err := r.find(); err != nil {
		return CallError{err}
	}
	if err := r.start(ctx); err != nil {
		r.place.undo()
		_ = r.listing.Close()
		return err
	}
	r.pool = NewPool(r.Workers, r.Worker)
	return nil
}

// find finds the pictures and what is asked of each.
func (r *run) find() error {
	var err error
	r.listing, err = Find(r.Sources, r.findOptions())
	if r.Watch && errors.Is(err, ErrNothing) {
		r.listing, err = &Listing{Source: absolute(r.Sources[0])}, nil // they are yet to come
	}
	if err != nil {
		return err
	}
	r.items, err = r.plan(r.listing, r.listing.Files)
	r.listing.Files = nil // the items have them
	if err == nil && r.Judging {
		err = judgeable(r.items)
	}
	if err != nil {
		_ = r.listing.Close()
	}
	return err
}

// start makes the folder that gathers the evidence, opens the history and notes the scan there.
func (r *run) start(ctx context.Context) error {
	if err := r.place.open(); err != nil {
		return CallError{err}
	}
	var err error
	if r.history, err = history.Open(ctx, r.History, history.Options{Now: r.Now}); err != nil {
		return err
	}
	if err = r.mayReplace(ctx); err == nil {
		err = r.begin(ctx)
	}
	if err != nil {
		return errors.Join(err, r.history.Close())
	}
	return nil
}

// mayReplace refuses to put evidence in the place of that of other pictures, whose bad crimps would be forgotten.
func (r *run) mayReplace(ctx context.Context) error {
	if _, err := os.Stat(r.Out); err != nil {
		return nil // there is none
	}
	old, err := r.history.SourceOf(ctx, r.place.path)
	if err != nil {
		return err
	}
	ours := strings.Split(r.listing.Source, "\n")
	for _, source := range strings.Split(old, "\n") {
		if old != "" && !slices.Contains(ours, source) {
			return CallError{fmt.Errorf("the evidence in %q is that of %q, and this scan is of %q: name another folder with --out, or move that evidence away first",
				r.Out, source, ours[0])}
		}
	}
	return nil
}

func (r *run) findOptions() FindOptions {
	return FindOptions{Manifest: r.Manifest, Pattern: r.Pattern, Assumed: r.Assumed, Watched: r.Watch, Skip: []string{r.place.path, r.place.part, r.place.lockPath()}}
}

func (r *run) plan(listing *Listing, files []Found) ([]item, error) {
	return plan(listing, files, order{view: r.View, scales: r.Scales, declare: r.Declare, limits: r.limits}, r.Check)
}

// begin notes the scan and its pictures in the history.
func (r *run) begin(ctx context.Context) error {
	if err := r.keepLimits(ctx, r.items); err != nil {
		return err
	}
	r.began = r.Now()
	var err error
	r.scan, _, err = r.history.Begin(ctx, history.Scan{Source: r.listing.Source, Program: r.Program, Order: r.canonical(r.limits), Started: r.began,
		Out: r.place.path}, entries(r.items, 0))
	return err
}

func entries(items []item, first int) []history.Entry {
	list := make([]history.Entry, len(items))
	for i, it := range items {
		list[i] = it.entry(first + i)
	}
	return list
}

func (r *run) keepLimits(ctx context.Context, items []item) error {
	kept := map[string]bool{}
	for _, it := range items {
		for _, l := range it.limits {
			if kept[l.Hash] {
				continue
			}
			kept[l.Hash] = true
			if err := r.history.KeepTolerances(ctx, history.Tolerances{Hash: l.Hash, Name: l.Limits.Name, File: l.File, Text: l.Text}); err != nil {
				return err
			}
		}
	}
	return nil
}

func absolute(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return path
}

func (r *run) close() {
	r.pool.Close()
	_ = r.listing.Close()
	_ = r.history.Close()
	r.place.close()
}

// all measures what is open and writes the evidence; with Watch it goes on so with what is copied in.
func (r *run) all(ctx context.Context, observer Observer) (err error) {
	if err := r.newQueue(ctx); err != nil {
		return err
	}
	open, lost, err := r.toDo(ctx)
	if err != nil {
		return err
	}
	observer.Begun(len(r.items), len(r.items)-len(open), r.listing)
	if err := r.queue.Start(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	defer func() {
		close(r.gone)
		if stopped := r.queue.Stop(context.WithoutCancel(ctx)); err == nil {
			err = stopped
		}
	}()
	reporter := reporter{run: r, observer: observer, open: map[int]bool{}}
	if err := r.queue.AddAgain(ctx, lost); err != nil {
		return err
	}
	reporter.opened(lost)
	if err := reporter.through(ctx, open, nil); err != nil {
		return err
	}
	if r.Watch {
		return r.watch(ctx, &reporter)
	}
	if err := reporter.deliver(ctx, ctx); err != nil {
		return err
	}
	return r.history.Finish(ctx, r.scan)
}

func (r *run) newQueue(ctx context.Context) error {
	queue, err := r.history.NewQueue(ctx, r.scan, history.QueueOptions{Workers: r.Workers, Attempts: attempts}, r.work)
	if err == nil {
		r.queue = queue
	}
	return err
}

func (r *run) item(position int) item {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.items[position]
}

func (r *run) count() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.items)
}
