package history

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"crimprule/internal/site"
)

// kinship tells crimps of one name apart by where they were scanned: two roofs have a crimp 01 of string N each. A source is
// what a scan read, by its path. Two sources are one place for a crimp where any of its pictures was scanned in both, by its
// bytes: the folder was moved, copied or packed. It looks at each crimp once.
type kinship struct {
	history *History
	sources map[int64]string             // of each scan
	several bool                         // there is more than one source
	roots   map[string]map[string]string // by crimp_id, then by source: the place that it belongs to
}

func (h *History) newKinship(ctx context.Context) (*kinship, error) {
	k := &kinship{h, map[int64]string{}, false, map[string]map[string]string{}}
	rows, err := h.read.QueryContext(ctx, `SELECT id, source FROM scans`)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	first := ""
	for rows.Next() {
		var id int64
		var source string
		if err := rows.Scan(&id, &source); err != nil {
			return nil, h.explain(err)
		}
		k.several = k.several || len(k.sources) > 0 && source != first
		k.sources[id], first = source, source
	}
	return k, h.explain(rows.Err())
}

// place is the same text for all sources that are one place for a crimp.
func (k *kinship) place(ctx context.Context, id, source string) (string, error) {
	if !k.several {
		return source, nil
	}
	roots, known := k.roots[id]
	if !known {
		var err error
		if roots, err = k.history.kin(ctx, id); err != nil {
			return "", err
		}
		k.roots[id] = roots
	}
	return rootOf(roots, source), nil
}

// rootOf follows a source to the one that stands for its place.
func rootOf(roots map[string]string, source string) string {
	for roots[source] != "" && roots[source] != source {
		source = roots[source]
	}
	return source
}

// kin joins the sources of a crimp that have a picture in common.
func (h *History) kin(ctx context.Context, id string) (map[string]string, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT DISTINCT p.sha256, s.source FROM scan_pictures p CROSS JOIN scans s ON s.id = p.scan
		WHERE p.crimp_id = ? AND p.settled <> '' AND p.sha256 <> ''`, id)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	roots, first := map[string]string{}, map[string]string{} // first: the first source of a picture
	for rows.Next() {
		var sum, source string
		if err := rows.Scan(&sum, &source); err != nil {
			return nil, h.explain(err)
		}
		if first[sum] == "" {
			first[sum] = source
		}
		a, b := rootOf(roots, first[sum]), rootOf(roots, source)
		roots[max(a, b)] = min(a, b)
	}
	return roots, h.explain(rows.Err())
}

// idsOf are the crimp_ids that a label can have.
func idsOf(l site.Label) []string {
	const sep = "\x1f"
	return []string{strings.Join([]string{"crimp", l.String, l.Trainee, l.Crimp}, sep), strings.Join([]string{"tag", l.Crimp, l.String, l.Trainee}, sep)}
}

// samePlace tells whether two sources are one place for a label.
func (k *kinship) samePlace(ctx context.Context, l site.Label, a, b string) (bool, error) {
	if a == b {
		return true, nil
	}
	for _, id := range idsOf(l) {
		at, err := k.place(ctx, id, a)
		if err != nil {
			return false, err
		}
		other, err := k.place(ctx, id, b)
		if err != nil || at == other {
			return err == nil, err
		}
	}
	return false, nil
}

// OnePlace tells whether crimps of one name are in one place, whatever the folders were called that they were scanned in.
func (s Standing) OnePlace(others ...Standing) bool {
	return !slices.ContainsFunc(others, func(o Standing) bool { return o.place != s.place })
}

// days are the standings of one crimp_id in all scans, the oldest scan first.
type days []Standing

// hand gives of each place and day the standing in its latest scan, by place, then by day.
func (d days) hand(ctx context.Context, k *kinship, each func(Standing) error) error {
	var err error
	for i := range d {
		d[i].Source = k.sources[d[i].Scan]
		if d[i].place, err = k.place(ctx, d[i].id, d[i].Source); err != nil {
			return err
		}
	}
	var kept []Standing
	for _, s := range slices.Backward(d) {
		later := func(k Standing) bool {
			return k.place == s.place && k.Scan > s.Scan && sameDay(k.Crimp.Label.Date, s.Crimp.Label.Date)
		}
		if !slices.ContainsFunc(kept, later) {
			kept = append(kept, s)
		}
	}
	slices.Reverse(kept)
	slices.SortStableFunc(kept, func(a, b Standing) int {
		return cmp.Or(cmp.Compare(a.place, b.place), cmp.Compare(a.Crimp.Label.Date, b.Crimp.Label.Date))
	})
	dates := map[string][]string{}
	for _, s := range kept {
		dates[s.place] = append(dates[s.place], s.Crimp.Label.Date)
	}
	for _, s := range kept {
		s.Crimp.AddDays(dates[s.place]...)
		if err := each(s); err != nil {
			return err
		}
	}
	return nil
}
