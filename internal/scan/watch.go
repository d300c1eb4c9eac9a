package scan

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"
)

// watchEvery is how often a watched folder is looked through. Looking, not being notified, since memory cards, phones and
// network shares send no notices.
const watchEvery = 2 * time.Second

// trace tells whether a file is still being copied, and whether another one took its place: it is whole when size and time
// have stayed the same from one look to the next. A manifest's line without a picture has none.
type trace struct {
	size    int64
	changed time.Time
}

func (f Found) trace() trace { return trace{f.Size, f.changed} }

// watcher goes on with what is copied into the scanned folders, changed in them and taken away from them.
type watcher struct {
	*reporter
	seen map[string]trace // files as they were at the last look
	told string           // the trouble that was told last
}

// watch measures new and changed pictures until the context ends, which is the usual way to end it, and writes the evidence
// anew whenever all pictures so far are measured. Where it ends with pictures still to be measured, the last evidence stays
// as it is and the error is the context's: the next call goes on with them.
func (r *run) watch(ctx context.Context, p *reporter) error {
	w := watcher{reporter: p, seen: map[string]trace{}}
	err := w.writeIfAny(ctx)
	for err == nil {
		select {
		case fault := <-w.queue.Faults():
			return fault
		case <-ctx.Done():
			if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) {
				return cause
			}
			return r.history.Finish(context.WithoutCancel(ctx), r.scan)
		case <-time.After(watchEvery):
			err = w.look(ctx)
		}
	}
	return err
}

// writeIfAny writes the evidence where all pictures so far are settled. It is not interrupted: the call ends after it.
func (w *watcher) writeIfAny(ctx context.Context) error {
	if w.next == 0 {
		return nil
	}
	return w.deliver(ctx, context.WithoutCancel(ctx))
}

// look finds what is new, changed or gone since the last look, and measures what there is to measure. What keeps it from
// looking, such as a card that was taken out or a manifest that is being written, is told once and waited for.
func (w *watcher) look(ctx context.Context) error {
	listing, err := Find(w.Sources, w.findOptions())
	if err != nil {
		w.trouble(err)
		return nil
	}
	c := w.compare(listing)
	w.seen = map[string]trace{}
	for _, f := range listing.Files {
		w.seen[f.File] = f.trace()
	}
	if len(c.fresh) == 0 && !c.anew() {
		_ = listing.Close()
		w.told = ""
		return nil
	}
	files := c.fresh
	if c.anew() {
		files = c.all
	}
	items, err := w.plan(listing, files)
	if err != nil {
		_ = listing.Close()
		w.trouble(err)
		return nil
	}
	w.told = ""
	w.adopt(listing, items)
	w.observer.Changed(c.changed, c.gone)
	if c.anew() {
		return w.renew(ctx, items, c.changed)
	}
	return w.add(ctx, items)
}

// trouble tells what keeps the watch from looking, once.
func (w *watcher) trouble(err error) {
	switch {
	case errors.Is(err, ErrNothing) && w.count() == 0:
		return // nothing is there yet
	case errors.Is(err, ErrNothing):
		err = fmt.Errorf("all pictures are gone: those that were measured still count, as when a card was taken out; where they were deleted, end this and scan again (%w)", err)
	}
	if err.Error() != w.told {
		w.told = err.Error()
		w.observer.Waiting(err)
	}
}

// changes are what a look found.
type changes struct {
	all     []Found  // what the scan is to have, in the order of the listing
	fresh   []Found  // those of all that the scan has not
	changed []string // files with other bytes than those that were measured
	gone    []string // files that are no pictures of the scan any more
	other   bool     // the manifest or the names say something else of pictures than they did
}

// anew tells whether the scan's list of pictures must be written anew; else some are added.
func (c changes) anew() bool { return len(c.changed) > 0 || len(c.gone) > 0 || c.other }

// compare holds a listing against the scan. A file that is still being copied is left as it was.
func (w *watcher) compare(listing *Listing) (c changes) {
	at := map[string]int{}
	for i, it := range w.items {
		at[it.File] = i
	}
	for _, f := range listing.Files {
		i, taken := at[f.File]
		delete(at, f.File)
		last, seen := w.seen[f.File]
		steady := seen && last == f.trace()
		switch {
		case !taken && steady:
			c.fresh = append(c.fresh, f)
		case !taken:
			continue
		case f.trace() != w.items[i].trace() && !steady:
			f = w.items[i].Found
		case f.trace() != w.items[i].trace() || f.Problem != w.items[i].Problem:
			c.changed = append(c.changed, f.File)
		case !f.saysTheSame(w.items[i].Found):
			c.other = true
		}
		c.all = append(c.all, f)
	}
	for i, it := range w.items {
		if _, gone := at[it.File]; !gone {
			continue
		}
		if _, justNow := w.seen[it.File]; justNow { // it may be on its way from one name to another
			c.all = append(c.all, w.items[i].Found)
			continue
		}
		c.gone = append(c.gone, it.File)
	}
	return c
}

// saysTheSame tells whether all that is known of a picture before it is read is the same.
func (f Found) saysTheSame(g Found) bool {
	return f.Label == g.Label && f.Origin == g.Origin && f.View == g.View && slices.Equal(f.Scales, g.Scales) &&
		slices.Equal(f.Declare, g.Declare) && slices.Equal(f.Tolerances, g.Tolerances)
}

// adopt makes a listing the scan's. ZIPs that items may still be read from stay open to the end.
func (w *watcher) adopt(listing *Listing, items []item) {
	old := w.listing.archives
	if !slices.ContainsFunc(items, func(it item) bool { return it.Path == "" && it.Problem == "" }) {
		_ = listing.Close()
		listing.archives = nil
	}
	listing.archives = append(listing.archives, old...)
	w.listing = listing
}

// add appends items to the scan, measures them and writes the evidence anew.
func (w *watcher) add(ctx context.Context, items []item) error {
	if err := w.keepLimits(ctx, items); err != nil {
		return err
	}
	first := len(w.items)
	if err := w.history.Append(ctx, w.scan, entries(items, first)); err != nil {
		return err
	}
	w.mu.Lock()
	w.items = slices.Concat(w.items, items)
	w.mu.Unlock()
	open := make([]int, len(items))
	for i := range items {
		open[i] = first + i
	}
	if err := w.place.gather(); err != nil {
		return err
	}
	if err := w.through(ctx, open, nil); err != nil {
		return err
	}
	return w.writeIfAny(ctx)
}

// renew ends the scan as it is and goes on with another one that has these items, so that the history can tell what was
// taken away. What was measured stays known, but for changed files. Pictures that were handed on are not handed on again,
// but for those that are measured again.
func (w *watcher) renew(ctx context.Context, items []item, changed []string) error {
	if err := w.keepLimits(ctx, items); err != nil {
		return err
	}
	if err := w.queue.Stop(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	had := map[string]item{}
	for _, it := range w.items {
		had[it.File] = it
	}
	var again, anew []int
	for i, it := range items {
		old, known := had[it.File]
		if !known || slices.Contains(changed, it.File) {
			again = append(again, i)
		}
		if !known || slices.Contains(changed, it.File) || !it.saysTheSame(old.Found) { // what its tag comes to hangs on what is said of it
			anew = append(anew, i)
		}
	}
	renewed, err := w.history.Renew(ctx, w.scan, entries(items, 0), anew)
	if err != nil {
		return err
	}
	w.scan = renewed
	w.mu.Lock()
	w.items = items
	w.mu.Unlock()
	if err := w.place.gather(); err != nil {
		return err
	}
	if err := w.newQueue(ctx); err != nil {
		return err
	}
	if err := w.queue.Start(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	open, err := w.history.Pending(ctx, w.scan)
	if err != nil {
		return err
	}
	w.next = len(items)
	if err := w.through(ctx, open, again); err != nil {
		return err
	}
	return w.writeIfAny(ctx)
}
