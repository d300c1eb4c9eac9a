package scan

import (
	"context"
	"errors"
	"io/fs"
	"maps"
	"os"
	"slices"
	"time"
)

// watchEvery is how often a watched folder is looked through. Looking, not being notified, since memory cards, phones and
// network shares send no notices.
const watchEvery = 2 * time.Second

// trace tells whether a file is still being copied: it is whole when size and time have stayed the same from one look to
// the next.
type trace struct {
	size    int64
	changed time.Time
}

// watcher goes on with what is copied into the scanned folders.
type watcher struct {
	*reporter
	taken map[string]trace // files that were measured, as they were then
	seen  map[string]trace // files as they were at the last look
}

// watch measures new pictures until the context ends, which is the usual way to end it, and writes the evidence anew
// whenever all pictures so far are measured.
func (r *run) watch(ctx context.Context, p *reporter) error {
	w := watcher{reporter: p, taken: traces(r.listing.Files), seen: map[string]trace{}}
	err := w.writeIfAny(ctx)
	for err == nil {
		select {
		case <-ctx.Done():
			if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) {
				return cause
			}
			return r.history.Finish(context.WithoutCancel(ctx), r.scan)
		case <-time.After(watchEvery):
			err = w.look(ctx)
		}
	}
	if errors.Is(err, context.Canceled) && ctx.Err() != nil {
		return w.writeIfAny(context.WithoutCancel(ctx)) // interrupted in the middle: what is settled is still handed over
	}
	return err
}

func traces(files []Found) map[string]trace {
	all := map[string]trace{}
	for _, f := range files {
		if info, err := os.Stat(f.Path); err == nil {
			all[f.File] = trace{f.Size, info.ModTime()}
		}
	}
	return all
}

func (w *watcher) writeIfAny(ctx context.Context) error {
	if w.next == 0 {
		return nil
	}
	return w.write(ctx, w.observer)
}

// look finds what is new and whole since the last look, and measures it.
func (w *watcher) look(ctx context.Context) error {
	listing, err := Find(w.Sources, w.findOptions())
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, ErrNothing) {
		return nil // the card is out, or nothing is there yet
	}
	if err != nil {
		return err
	}
	now := traces(listing.Files)
	var fresh []Found
	for _, f := range listing.Files {
		_, taken := w.taken[f.File]
		if !taken && w.seen[f.File] == now[f.File] {
			fresh = append(fresh, f)
		}
	}
	w.seen = now
	if len(fresh) == 0 {
		return nil
	}
	maps.Copy(w.taken, traces(fresh))
	items, err := w.plan(listing, fresh)
	if err != nil {
		return err
	}
	return w.add(ctx, items)
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
	if err := w.place.reopen(); err != nil {
		return err
	}
	if err := w.through(ctx, open); err != nil {
		return err
	}
	return w.writeIfAny(ctx)
}
