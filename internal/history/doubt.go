package history

import (
	"context"
	"path"
	"slices"

	"crimprule/internal/site"
)

// Copied is a picture of a scan that was handed in for other crimps too, in this scan or in another one.
type Copied struct {
	Own    site.Claim
	Others []site.Claim
}

// Copies gives, by position, the pictures of a scan that were handed in for several crimps (see site.Claim). Pictures are one
// where their bytes are, and where FindCopies found them to be.
func (h *History) Copies(ctx context.Context, scan int64) (map[int]Copied, error) {
	entries, err := h.Entries(ctx, scan)
	if err != nil {
		return nil, err
	}
	groups := map[int]int{}
	labels := map[int]site.Label{}
	for i, group := range site.Group(entries) {
		label, _ := site.Merge(group)
		for _, e := range group {
			groups[e.Position], labels[e.Position] = i, label
		}
	}
	type claimed struct {
		site.Claim
		position, group int
	}
	looks := map[string][]claimed{}
	err = h.claims(ctx, `p.scan = ?1 AND `+repeated, scan, func(position int, look string, claim site.Claim, _ site.Entry) {
		claim.Label = labels[position]
		looks[look] = append(looks[look], claimed{claim, position, groups[position]})
	})
	if err != nil || len(looks) == 0 {
		return nil, err
	}
	others := map[string][]site.Claim{}
	err = h.claims(ctx, `p.scan <> ?1 AND `+elsewhereToo, scan, func(_ int, look string, claim site.Claim, e site.Entry) {
		if looks[look] == nil {
			return
		}
		claim.Label, _ = site.Merge(site.Group([]site.Entry{e})[0])
		same := func(o site.Claim) bool { return o.Label == claim.Label && o.Path == claim.Path && o.Look == claim.Look }
		if !slices.ContainsFunc(others[look], same) { // the first scan of several that say the same
			others[look] = append(others[look], claim)
		}
	})
	if err != nil {
		return nil, err
	}
	copies := map[int]Copied{}
	for look, all := range looks {
		for _, own := range all {
			c := Copied{Own: own.Claim}
			for _, o := range all {
				if o.group != own.group {
					c.Others = append(c.Others, o.Claim)
				}
			}
			for _, o := range others[look] {
				if own.Contradicts(o) {
					c.Others = append(c.Others, o)
				}
			}
			if len(c.Others) > 0 {
				copies[own.position] = c
			}
		}
	}
	return copies, nil
}

// repeated is true of pictures whose look several pictures of the history have; what is of one crimp is sorted out later.
const repeated = `coalesce(a.first, p.sha256) IN (SELECT coalesce(b.first, q.sha256) FROM scan_pictures q LEFT JOIN alike b ON b.sha256 = q.sha256
	WHERE q.sha256 <> '' AND q.measurement IS NOT NULL GROUP BY 1 HAVING count(DISTINCT q.crimp_id || char(31) || q.made || char(31) || CASE WHEN q.scan = ?1 THEN q.position ELSE '' END) > 1)`

// elsewhereToo is true of pictures whose look the scan ?1 has.
const elsewhereToo = `coalesce(a.first, p.sha256) IN (SELECT coalesce(b.first, q.sha256) FROM scan_pictures q LEFT JOIN alike b ON b.sha256 = q.sha256
	WHERE q.scan = ?1 AND q.sha256 <> '')`

// claims calls each with the measured pictures of which condition is true, by scan and position.
func (h *History) claims(ctx context.Context, condition string, scan int64, each func(position int, look string, claim site.Claim, e site.Entry)) error {
	rows, err := h.read.QueryContext(ctx, `SELECT p.scan, p.position, p.file, s.source, s.started, p.origin, p.tag, coalesce(a.first, p.sha256),
			CASE WHEN a.equal THEN a.first ELSE p.sha256 END, `+labelColumns+`
		FROM scan_pictures p JOIN scans s ON s.id = p.scan LEFT JOIN alike a ON a.sha256 = p.sha256
		WHERE p.sha256 <> '' AND p.measurement IS NOT NULL AND `+condition+` ORDER BY p.scan, p.position`, scan)
	if err != nil {
		return h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var c site.Claim
		var e site.Entry
		var source, started, look, own string
		if err := rows.Scan(append([]any{&c.Scan, &e.Position, &c.File, &source, &started, &e.Origin, &e.Tag, &look, &c.Look}, labelInto(&e.Label, &own)...)...); err != nil {
			return h.explain(err)
		}
		c.Path, c.On, c.Sure = path.Join(source, c.File), unstamp(started), e.Origin != site.Assumed && e.Origin != site.Alone
		each(e.Position, look, c, e)
	}
	return h.explain(rows.Err())
}

// doubter finds out which pictures of a scan stand for more than one crimp, by the same rule as the scan's page. It looks at
// each scan once.
type doubter struct {
	history *History
	scans   map[int64]map[int]Copied
	judges  map[int64]bool // of scans: whether any of its pictures was to be judged
}

func (h *History) newDoubter() *doubter {
	return &doubter{h, map[int64]map[int]Copied{}, map[int64]bool{}}
}

// judging tells whether any picture of a scan has limits: one that came to nothing is missed then, as on the scan's page.
func (d *doubter) judging(ctx context.Context, scan int64) (bool, error) {
	known, seen := d.judges[scan]
	if seen {
		return known, nil
	}
	err := d.history.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM scan_pictures WHERE scan = ? AND wanted <> '')`, scan).Scan(&known)
	d.judges[scan] = known
	return known, d.history.explain(err)
}

func (d *doubter) copies(ctx context.Context, scan int64) (map[int]Copied, error) {
	known, seen := d.scans[scan]
	if seen {
		return known, nil
	}
	copies, err := d.history.Copies(ctx, scan)
	if err == nil {
		d.scans[scan] = copies
	}
	return copies, err
}
