package history

import (
	"context"
	"database/sql"
	"slices"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Missing gives the crimps that earlier scans of the same source know and that are not in this scan at all, where their
// latest result there is another one than conforms: who takes the picture of a bad crimp away has not mended the crimp.
// What was measured elsewhere counts. They come in the order of string, trainee and crimp. One of which the scan, or an
// earlier one, has a crimp that was made anew later is among them, and its Days say so (site.Crimp.ReplacedBy).
//
// Crimps are told apart as everywhere (site.Group); a picture that stands for itself counts by its file. A picture whose
// bytes are in this scan under another name is not missing. Nor is one for whose name this scan has another picture, of
// which only one of the two shows a tag: a tag that was too blurred to be read is a reason to take the picture again.
func (h *History) Missing(ctx context.Context, scan int64) ([]Standing, error) {
	now, err := h.presence(ctx, scan)
	if err != nil {
		return nil, err
	}
	partial, err := h.partial(ctx, scan)
	if err != nil {
		return nil, err
	}
	a := absence{h: h, now: now, partial: partial, judge: h.NewJudge()}
	doubts := h.newDoubter()
	err = h.walk(ctx, standingQuery(absent, `p.crimp_id, p.scan DESC, p.position`, true), []any{scan}, func(rows []light) error {
		if len(a.known) > 0 && a.known[0].id != rows[0].id {
			if err := a.settle(ctx); err != nil {
				return err
			}
		}
		found, err := doubts.standings(ctx, rows)
		for _, s := range found {
			a.known = append(a.known, earlier{s, slices.Clone(rows)})
		}
		return err
	})
	if err == nil {
		err = a.settle(ctx)
	}
	return a.missing, err
}

// earlier is where a crimp stood in an earlier scan; rows are those that it was made of.
type earlier struct {
	Standing
	rows []light
}

// absence finds out which crimps are missing, one crimp_id after the other.
type absence struct {
	h       *History
	now     presence
	partial map[inScan]bool
	judge   *Judge
	known   []earlier // of one crimp_id, the latest scan first
	missing []Standing
}

// settle decides on the crimps of one crimp_id.
func (a *absence) settle(ctx context.Context) error {
	var decided []string // the dates of those that a later scan has decided on
	var days []string
	for _, s := range a.known {
		days = append(days, s.Crimp.Label.Date)
		days = append(days, a.now.dates[s.id]...)
	}
	for _, s := range a.known {
		date := s.Crimp.Label.Date
		if slices.ContainsFunc(decided, func(other string) bool { return sameDay(date, other) }) {
			continue
		}
		s.Crimp.AddDays(days...)
		var err error
		if s.Crimp.Elsewhere, err = a.h.Elsewhere(ctx, s.Crimp.Label, s.rows[0].source); err != nil {
			return err
		}
		if err := a.judge.Settle(ctx, &s.Standing); err != nil {
			return err
		}
		fine := s.Crimp.Result == record.Conforms
		if s.Crimp.Result == "" || fine && a.partial[inScan{s.Scan, s.id}] {
			continue // that scan came to no result; an older one may have
		}
		decided = append(decided, date)
		if !fine && !a.now.has(s.Standing, s.rows) {
			a.missing = append(a.missing, s.Standing)
		}
	}
	a.known = a.known[:0]
	return nil
}

// sameDay tells whether two crimps of one name can be one: they are two where both dates are known and differ.
func sameDay(a, b string) bool { return a == "" || b == "" || a == b }

// before is the earlier scans of the source of scan ?1.
const before = `(SELECT id FROM scans WHERE id < ?1 AND source = (SELECT source FROM scans WHERE id = ?1))`

// absent is true of the rows, in earlier scans of the same source, of crimps that scan ?1 has not, or not of all days.
const absent = `p.scan IN ` + before + ` AND p.crimp_id IN (SELECT o.crimp_id FROM scan_pictures o WHERE o.scan IN ` + before + ` AND o.settled <> '' AND (
		o.crimp_id NOT IN (SELECT crimp_id FROM scan_pictures WHERE scan = ?1)
		OR o.made <> '' AND o.crimp_id NOT IN (SELECT crimp_id FROM scan_pictures WHERE scan = ?1 AND made = '')
			AND (o.crimp_id, o.made) NOT IN (SELECT crimp_id, made FROM scan_pictures WHERE scan = ?1)))`

// inScan names a crimp in a scan.
type inScan struct {
	scan int64
	id   string
}

// partial gives the crimps of which an earlier scan was ended before it had all their pictures.
func (h *History) partial(ctx context.Context, scan int64) (map[inScan]bool, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT DISTINCT scan, crimp_id FROM scan_pictures WHERE settled = '' AND scan IN `+before, scan)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	all := map[inScan]bool{}
	for rows.Next() {
		var c inScan
		if err := rows.Scan(&c.scan, &c.id); err != nil {
			return nil, h.explain(err)
		}
		all[c] = true
	}
	return all, h.explain(rows.Err())
}

// named is what a picture shows by the manifest or its name alone: a crimp or, where that is not known, a file.
type named struct{ str, trainee, crimp, file string }

func nameOf(l site.Label, file string) named {
	if l.Crimp == "" {
		return named{file: file}
	}
	return named{str: l.String, trainee: l.Trainee, crimp: l.Crimp}
}

// presence is what a scan has.
type presence struct {
	dates           map[string][]string // of each crimp_id
	bytes           map[string]bool     // SHA-256
	tagged, tagless map[named][]string  // dates of pictures with and without a tag
}

func (h *History) presence(ctx context.Context, scan int64) (presence, error) {
	p := presence{map[string][]string{}, map[string]bool{}, map[named][]string{}, map[named][]string{}}
	rows, err := h.read.QueryContext(ctx, `SELECT crimp_id, made, sha256, string, trainee, crimp, file, tag <> '' FROM scan_pictures WHERE scan = ?`, scan)
	if err != nil {
		return p, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var id, sum string
		var file sql.RawBytes
		var l site.Label
		var tagged bool
		if err := rows.Scan(&id, &l.Date, &sum, &l.String, &l.Trainee, &l.Crimp, &file, &tagged); err != nil {
			return p, h.explain(err)
		}
		p.dates[id] = append(p.dates[id], l.Date)
		p.bytes[sum] = sum != ""
		names := p.tagless
		if tagged {
			names = p.tagged
		}
		name := nameOf(l, string(file))
		names[name] = append(names[name], l.Date)
	}
	return p, h.explain(rows.Err())
}

// has tells whether the scan has the crimp; rows are those that it was made of.
func (p presence) has(s Standing, rows []light) bool {
	day := func(date string) bool { return sameDay(date, s.Crimp.Label.Date) }
	if slices.ContainsFunc(p.dates[s.id], day) {
		return true
	}
	copies := 0
	for _, picture := range s.Crimp.Pictures {
		if p.bytes[picture.SHA256] {
			copies++
		}
		i := slices.IndexFunc(rows, func(l light) bool { return l.picture.Position == picture.Position })
		names := p.tagged
		if rows[i].tag != "" {
			names = p.tagless
		}
		if slices.ContainsFunc(names[nameOf(picture.Label, picture.File)], day) {
			return true
		}
	}
	return copies == len(s.Crimp.Pictures)
}
