package scan

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"

	"crimprule/internal/site"
)

// toDo lists the positions that are open: pictures without an outcome, and those whose file holds other bytes now. lost are
// settled ones whose drawings or copies are not in the evidence.
func (r *run) toDo(ctx context.Context) (open, lost []int, err error) {
	entries, err := r.history.Entries(ctx, r.scan)
	var replaced []int
	for _, e := range entries {
		switch {
		case ctx.Err() != nil:
			return nil, nil, context.Cause(ctx)
		case !e.Settled:
			open = append(open, e.Position)
		case e.Failed:
		case !r.item(e.Position).holds(e.SHA256):
			replaced, open = append(replaced, e.Position), append(open, e.Position)
		case !r.gathered(e):
			lost = append(lost, e.Position)
		}
	}
	if err == nil {
		err = r.history.Reopen(ctx, r.scan, replaced)
	}
	return open, lost, err
}

// gathered tells whether the evidence has the picture's copy and its thumbnail.
func (r *run) gathered(e site.Entry) bool {
	it := r.item(e.Position)
	_, thumb := it.drawings(e.SHA256, r.Program)
	return r.place.has(it.original(e.SHA256)) && r.place.has(thumb)
}

// holds tells whether the file's bytes are still the ones with this SHA-256. Neither name and size nor the time of the
// last change tell that: cameras begin to count anew, and copies take over times.
func (it item) holds(sha string) bool {
	from, err := it.Open()
	if err != nil {
		return false
	}
	defer func() { _ = from.Close() }()
	hash := sha256.New()
	_, err = io.Copy(hash, from)
	return err == nil && hex.EncodeToString(hash.Sum(nil)) == sha
}
