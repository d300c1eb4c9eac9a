package history

import (
	"context"
	"database/sql"
	"slices"

	"crimprule/internal/site"
)

// Samples gives the crimps that no picture ever showed and that have values measured elsewhere which count, as far as they
// belong to a scan: test pieces of a pull-out series, for instance. One belongs to it where its string and trainee are
// those of a picture of the scan; a picture without a trainee is taken for one of its first folder's too, as sheets of
// trainees do. A crimp of no string and no trainee also belongs to every scan with sections. They are judged and come
// in the order of string, trainee and crimp.
func (h *History) Samples(ctx context.Context, scan int64) ([]Standing, error) {
	places, err := h.unpictured(ctx)
	if err != nil || len(places) == 0 {
		return nil, err
	}
	if places, err = h.near(ctx, scan, places); err != nil {
		return nil, err
	}
	in, err := h.scopes(ctx, ` WHERE p.scan = ?`, scan)
	if err != nil {
		return nil, err
	}
	judge := h.NewJudge()
	var all []Standing
	for _, at := range places {
		scope, has := in.newest(place{str: at.str, trainee: at.trainee, crimp: at.crimp}) // it is near, whatever its source was called
		if !has {
			continue
		}
		s, err := h.sample(ctx, at, scope)
		if err != nil {
			return nil, err
		}
		if err := judge.Settle(ctx, &s); err != nil {
			return nil, err
		}
		if s.Crimp.Counting() > 0 {
			all = append(all, s)
		}
	}
	return all, nil
}

// near leaves out the crimps that are said to be in another place than a scan. Two sources are one place here where they have
// any picture in common, by its bytes.
func (h *History) near(ctx context.Context, scan int64, places []place) ([]place, error) {
	var near []place
	for _, at := range places {
		if at.source == "" {
			near = append(near, at)
			continue
		}
		var here bool
		err := h.read.QueryRowContext(ctx, `SELECT source = ?2 OR EXISTS (SELECT 1 FROM scan_pictures p CROSS JOIN scan_pictures q ON q.sha256 = p.sha256 AND q.sha256 <> ''
			CROSS JOIN scans t ON t.id = q.scan WHERE p.scan = ?1 AND p.sha256 <> '' AND t.source = ?2) FROM scans WHERE id = ?1`, scan, at.source).Scan(&here)
		if err != nil {
			return nil, h.explain(err)
		}
		if here {
			near = append(near, at)
		}
	}
	return near, nil
}

// sample is a crimp of which there are no pictures; scope may be nil.
func (h *History) sample(ctx context.Context, at place, in *scope) (Standing, error) {
	s := Standing{Crimp: site.Crimp{Label: site.Label{String: at.str, Trainee: at.trainee, Crimp: at.crimp}}, Source: at.source, place: at.source}
	if in != nil {
		s.Wanted, s.further = in.pairs[pair{at.str, at.trainee}], in.wanted
	}
	var err error
	if s.Crimp.Elsewhere, err = h.Elsewhere(ctx, s.Crimp.Label, at.source); err != nil {
		return s, err
	}
	if n := len(s.Crimp.Elsewhere); n > 0 {
		s.At = s.Crimp.Elsewhere[n-1].Added
	}
	return s, nil
}

// unpictured gives the crimps that have values measured elsewhere and were never in a picture.
func (h *History) unpictured(ctx context.Context) ([]place, error) {
	return h.places(ctx, `SELECT DISTINCT string, trainee, crimp, source FROM elsewhere e
		WHERE NOT EXISTS (SELECT 1 FROM scan_pictures p CROSS JOIN scans s ON s.id = p.scan
			WHERE p.crimp = e.crimp AND p.string = e.string AND p.trainee = e.trainee AND e.source IN ('', s.source))
		AND NOT EXISTS (SELECT 1 FROM scan_pictures p CROSS JOIN scans s ON s.id = p.scan WHERE p.tag = e.crimp AND p.tag <> '' AND e.source IN ('', s.source))`, nil)
}

// pair is what a crimp without a picture has in common with a scan.
type pair struct{ str, trainee string }

// scope is what a scan tells of crimps that it has no picture of: the hashes of the tolerances files of its pictures, all
// of them and by pair.
type scope struct {
	scan     int64
	source   string
	pairs    map[pair][]string
	wanted   []string
	sections bool
}

// scopes are those of several scans, the newest first.
type scopes []*scope

// newest gives the newest scan that a crimp belongs to.
func (all scopes) newest(at place) (*scope, bool) {
	for _, s := range all {
		if at.source != "" && at.source != s.source {
			continue
		}
		_, has := s.pairs[pair{at.str, at.trainee}]
		if has || s.sections && at.str == "" && at.trainee == "" {
			return s, true
		}
	}
	return nil, false
}

func (h *History) scopes(ctx context.Context, condition string, args ...any) (scopes, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT DISTINCT p.scan, s.source, p.string, p.trainee,
			CASE WHEN p.trainee = '' AND instr(p.file, '/') > 1 THEN substr(p.file, 1, instr(p.file, '/') - 1) ELSE '' END, p.wanted, m.view
		FROM scan_pictures p CROSS JOIN scans s ON s.id = p.scan LEFT JOIN measurements m ON m.id = p.measurement`+condition+` ORDER BY p.scan DESC`, args...)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var all scopes
	for rows.Next() {
		var scan int64
		var source, str, trainee, folder, wanted string
		var view sql.NullString
		if err := rows.Scan(&scan, &source, &str, &trainee, &folder, &wanted, &view); err != nil {
			return nil, h.explain(err)
		}
		if len(all) == 0 || all[len(all)-1].scan != scan {
			all = append(all, &scope{scan: scan, source: source, pairs: map[pair][]string{}})
		}
		hashes, err := unquoteList(wanted)
		if err != nil {
			return nil, h.explain(err)
		}
		s := all[len(all)-1]
		s.sections = s.sections || view.String == "section"
		s.wanted = union(s.wanted, hashes)
		for _, who := range []string{trainee, folder} {
			at := pair{str, who}
			s.pairs[at] = union(s.pairs[at], hashes)
		}
	}
	return all, h.explain(rows.Err())
}

// union adds to a list what is not in it yet.
func union(list, more []string) []string {
	for _, one := range more {
		if !slices.Contains(list, one) {
			list = append(list, one)
		}
	}
	return list
}
