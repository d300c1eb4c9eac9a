package scan

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"crimprule/internal/evidence"
	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Options say what to scan and how.
type Options struct {
	Sources    []string // folders, pictures, ZIP files
	Manifest   string   // CSV file; empty: manifest.csv of the folder or ZIP, if it has one
	Pattern    string   // how files are named; empty: nothing follows from names
	Assumed    bool     // nobody gave Pattern: a tag that says something else is no doubt
	View       record.View
	Scales     []string // KIND=VALUE, as for measuring
	Declare    []string // KEY=VALUE
	Tolerances []string // files

	Workers int           // worker processes
	Timeout time.Duration // for measuring one picture
	Worker  func() *exec.Cmd
	Check   func(Request) error // whether a request can be served; an error is the caller's to mend
	// Judging says that the scan is in vain without limits, or without any scale: then it is a mistake to name none, in the
	// call or for any picture in the manifest.
	Judging bool

	Out     string // folder of the evidence
	History string // file
	Program string // program and version, as the evidence names it; measuring is done anew for another one
	Title   string
	// Practice says that it is about practice pieces of trainees, whoever made them.
	Practice bool
	Lot      *evidence.Lot
	Now      func() time.Time
	// More is written into the evidence before its manifest.
	More func(ctx context.Context, dir string, info evidence.Info, crimps evidence.Source, past *history.History) error
	Also []evidence.Link // pages that More writes, for the evidence to lead to
	// Watch goes on with pictures that are copied in, until the context ends.
	Watch bool
}

// Observer is told how a scan goes on; all calls come from one goroutine.
type Observer interface {
	// Begun: of so many pictures so many are known from an earlier, interrupted call.
	Begun(pictures, known int, listing *Listing)
	// Settled: what became of one more picture is known.
	Settled(known int)
	// Picture comes once for each picture, in the order of the input, whatever the order of measuring. An error ends the
	// scan.
	Picture(site.Picture) error
	// Changed: of a watched scan these files are measured again, since they were changed, and those are no pictures of it any
	// more.
	Changed(again, gone []string)
	// Waiting: a watched scan cannot be looked through for now.
	Waiting(why error)
	// Written: the evidence of all pictures so far lies in its folder.
	Written(Result) error
}

// Result is what a scan comes to.
type Result struct {
	Out, History string
	Summary      evidence.Summary
	Pictures     int
	Unreadable   int // pictures without a record
	Crimps       []Brief
	Missing      []string // crimps that an earlier scan of the same place found bad or open and of which no picture is left
	Replaced     []string // sentences: those of them that were made anew since, which are not among Missing
	Judged       bool     // there were limits for any picture
	// Refused are the pictures that ask for a better one though their crimp has a result without them: sentences.
	Refused []string
	Views   []record.View
}

// Brief says of a crimp what a list of crimps says.
type Brief struct {
	Number int
	Name   string // with the day on which it was made where others have the same one
	Result record.Result
	Score  float64
	Why    string
	Doubt  string // why its pictures do not prove it; empty where they do
	// Stripped says that it is a stripped wire and no crimp yet.
	Stripped bool
	// PutRight says that it was not measured for its file or a declaration, and needs no new photo.
	PutRight bool
	Cut      bool // a section, Tested: without a picture, known by values measured elsewhere; nobody can make either anew
	Tested   bool
	Remarks  int
	Replaced string // the day on which the crimp was made that took its place; empty where it stands
}

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
const memoryLimit = 64 << 20

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
	if r.items, err = r.plan(r.listing, r.listing.Files); err == nil && r.Judging {
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

// reporter hands on pictures in the order of the input.
type reporter struct {
	*run
	observer Observer
	open     map[int]bool // positions that are being worked on
	next     int          // the first position that was not handed on
}

// through queues the positions and comes back when all of them are settled, or with the context's error. Those in again are
// handed on then, though others that come after them were before.
func (p *reporter) through(ctx context.Context, open, again []int) error {
	p.opened(open)
	if err := p.queue.Add(ctx, open); err != nil {
		return err
	}
	for {
		if err := p.report(ctx); err != nil {
			return err
		}
		if len(p.open) == 0 {
			for _, position := range again {
				if err := p.hand(ctx, position); err != nil {
					return err
				}
			}
			return nil
		}
		select {
		case position := <-p.settled:
			delete(p.open, position)
			p.observer.Settled(len(p.items) - len(p.open))
		case fault := <-p.queue.Faults():
			return fault
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
}

// deliver writes the evidence and puts it into its place. What was taken over from an earlier pack and was changed there is
// made anew first. writing is the context of the writing itself.
func (p *reporter) deliver(ctx, writing context.Context) error {
	for {
		err := p.write(writing, p.observer)
		if !errors.Is(err, errTakenChanged) {
			return err
		}
		lost, err := p.lost(ctx)
		if err != nil {
			return err
		}
		p.opened(lost)
		if err := p.queue.AddAgain(ctx, lost); err != nil {
			return err
		}
		if err := p.through(ctx, nil, nil); err != nil {
			return err
		}
	}
}

func (p *reporter) opened(positions []int) {
	for _, position := range positions {
		p.open[position] = true
	}
}

// report hands on what is settled up to the first picture that is not.
func (p *reporter) report(ctx context.Context) error {
	for p.next < len(p.items) && !p.open[p.next] {
		if err := p.hand(ctx, p.next); err != nil {
			return err
		}
		p.next++
	}
	return nil
}

func (p *reporter) hand(ctx context.Context, position int) error {
	picture, err := p.history.Picture(ctx, p.scan, position)
	if err != nil {
		return err
	}
	if err := p.observer.Picture(picture); err != nil {
		return observerError{err}
	}
	return nil
}
