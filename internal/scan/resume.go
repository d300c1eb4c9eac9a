package scan

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"

	"crimprule/internal/site"
)

// toDo lists the positions that are open: pictures without an outcome, and those whose file holds other bytes now. lost are
// settled ones whose drawings or copies are not in the evidence.
func (r *run) toDo(ctx context.Context) (open, lost []int, err error) {
	entries, err := r.history.Entries(ctx, r.scan)
	if err != nil {
		return nil, nil, err
	}
	same, whole := make([]bool, len(entries)), make([]bool, len(entries))
	eachOf(len(entries), 0, func(i int) { // pictures are read, so this takes as long as copying them does
		if e := entries[i]; e.Settled && !e.Failed && ctx.Err() == nil {
			same[i] = r.item(e.Position).holds(e.SHA256)
			whole[i] = same[i] && r.gathered(e) && r.copied(e)
		}
	})
	if ctx.Err() != nil {
		return nil, nil, context.Cause(ctx)
	}
	var replaced []int
	for i, e := range entries {
		switch {
		case !e.Settled:
			open = append(open, e.Position)
		case e.Failed:
		case !same[i]:
			replaced, open = append(replaced, e.Position), append(open, e.Position)
		case !whole[i]:
			lost = append(lost, e.Position)
		}
	}
	return open, lost, r.history.Reopen(ctx, r.scan, replaced)
}

// lost lists settled positions whose drawings or copies are not in the evidence.
func (r *run) lost(ctx context.Context) (lost []int, err error) {
	entries, err := r.history.Entries(ctx, r.scan)
	for _, e := range entries {
		if e.Settled && !e.Failed && !r.gathered(e) {
			lost = append(lost, e.Position)
		}
	}
	return lost, err
}

// gathered tells whether the evidence has the picture's copy and its thumbnail.
func (r *run) gathered(e site.Entry) bool {
	it := r.item(e.Position)
	_, thumb := it.drawings(e.SHA256, r.Program)
	return r.place.has(it.original(e.SHA256)) && r.place.has(thumb)
}

// copied tells whether the picture's copy in the evidence has the bytes that were measured: the power may have failed before
// they lay on the disk.
func (r *run) copied(e site.Entry) bool {
	file, err := os.Open(r.place.at(r.item(e.Position).original(e.SHA256)))
	return err == nil && hasSum(file, e.SHA256)
}

// holds tells whether the file's bytes are still the ones with this SHA-256. Neither name and size nor the time of the
// last change tell that: cameras begin to count anew, and copies take over times.
func (it item) holds(sha string) bool {
	from, err := it.Open()
	return err == nil && hasSum(from, sha)
}

// hasSum reads to the end and closes.
func hasSum(from io.ReadCloser, sha string) bool {
	defer func() { _ = from.Close() }()
	hash := sha256.New()
	_, err := io.Copy(hash, from)
	return err == nil && hex.EncodeToString(hash.Sum(nil)) == sha
}
