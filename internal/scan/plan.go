package scan

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// order is what the call says of all pictures that the manifest does not say otherwise of.
type order struct {
	view    record.View
	scales  []string
	declare []string
	limits  Limits
}

// item is one picture of the scan and what is asked of it.
type item struct {
	Found
	request Request
	limits  Limits
}

// plan works out what is asked of each of the files. check says of a request whether it can be served. An error is one
// that the caller can mend: in the call, in a tolerances file or in the manifest.
func plan(listing *Listing, files []Found, o order, check func(Request) error) ([]item, error) {
	p := planner{order: o, listing: listing, check: check, loaded: map[string]Limits{}, checked: map[string]bool{}}
	items := make([]item, len(files))
	for i, f := range files {
		it, err := p.item(f)
		if err != nil {
			if f.Origin == site.FromManifest {
				return nil, fmt.Errorf("the manifest's row of %q: %w", f.File, err)
			}
			return nil, err
		}
		items[i] = it
	}
	return items, nil
}

type planner struct {
	order
	listing *Listing
	check   func(Request) error
	loaded  map[string]Limits // by the manifest's cell
	checked map[string]bool   // requests that are right
}

func (p *planner) item(f Found) (item, error) {
	it := item{Found: f, limits: p.limits}
	if len(f.Tolerances) > 0 {
		cell := strings.Join(f.Tolerances, "\x00")
		limits, known := p.loaded[cell]
		if !known {
			var err error
			if limits, err = limitsOf(p.listing, f.Tolerances); err != nil {
				return item{}, err
			}
			p.loaded[cell] = limits
		}
		it.limits = limits
	}
	it.request = Request{View: p.view, Scales: p.scales}
	if f.View != "" {
		it.request.View = f.View
	}
	if len(f.Scales) > 0 {
		it.request.Scales = f.Scales
	}
	it.request.Scales = slices.Sorted(slices.Values(it.request.Scales))
	var err error
	if it.request.Declared, err = it.limits.Declared(it.request.View); err != nil {
		return item{}, err
	}
	for _, text := range slices.Concat(p.declare, f.Declare) {
		d, err := tolerance.ParseDeclare(text)
		if err != nil {
			return item{}, fmt.Errorf("--declare %w", err)
		}
		d.Apply(&it.request.Declared)
	}
	if key := it.request.Key(); !p.checked[key] {
		if err := p.check(it.request); err != nil {
			return item{}, err
		}
		p.checked[key] = true
	}
	return it, nil
}

// judgeable says what all pictures lack that are to be judged: limits, or a scale.
func judgeable(items []item) error {
	limits, scales := false, false
	for _, it := range items {
		limits = limits || len(it.limits) > 0
		scales = scales || len(it.request.Scales) > 0
	}
	switch {
	case len(items) == 0:
		return nil
	case !limits:
		return errors.New("there is nothing to judge the pictures by: name your limits, as --tolerances limits.yaml, or in the manifest's column " +
			"tolerances; crimprule tolerances example prints a file to begin with")
	case !scales:
		return errors.New("no scale was declared for any picture, so that nothing could be told in millimetres: name what lies beside the parts, as " +
			"--scale chessboard=5mm, or in the manifest's column scale")
	}
	return nil
}

// entry is what the history notes of the item before it is measured.
func (it item) entry(position int) history.Entry {
	hashes := make([]string, len(it.limits))
	for i, l := range it.limits {
		hashes[i] = l.Hash
	}
	return history.Entry{Position: position, File: it.File, Label: it.Label, Origin: it.Origin, Request: it.request.Key(), Tolerances: hashes}
}

// key is what the history knows the measuring of these bytes by.
func (it item) key(sha, program string) history.Key {
	return history.Key{SHA256: sha, Program: program, Request: it.request.Key()}
}

// original is the name of the item's picture in the pack.
func (it item) original(sha string) string {
	return "originals/" + originalName(it.File+it.ending, sha)
}

// drawings are the names of the item's overlay and thumbnail in the pack. What is drawn hangs on the bytes, the request,
// the program, the limits and, in its heading, the name.
func (it item) drawings(sha, program string) (overlay, thumb string) {
	hash := sha256.New()
	for _, part := range []string{sha, it.request.Key(), program, filepath.Base(it.File)} {
		hash.Write([]byte(part + "\x00"))
	}
	for _, l := range it.limits {
		hash.Write([]byte(l.Hash))
	}
	name := hex.EncodeToString(hash.Sum(nil))[:16]
	return "overlays/" + name + ".png", "thumbs/" + name + ".jpg"
}

// taskLimits is what a worker process needs of the limits.
func (it item) taskLimits() []TaskLimits {
	var limits []TaskLimits
	for _, l := range it.limits {
		limits = append(limits, TaskLimits{File: l.File, Text: l.Text})
	}
	return limits
}

// canonical is the JSON of all that the call says and results hang on, for the history to tell whether a call is the one
// that was interrupted.
func (o Options) canonical(limits Limits) string {
	hashes := []string{}
	for _, l := range limits {
		hashes = append(hashes, l.Hash)
	}
	text, err := json.Marshal(struct {
		View       record.View
		Scales     []string
		Declare    []string
		Tolerances []string
		Pattern    string
	}{o.View, o.Scales, o.Declare, hashes, o.Pattern})
	if err != nil {
		panic("scan: options cannot be written as JSON: " + err.Error())
	}
	return string(text)
}
