package history

import (
	"context"

	"crimprule/internal/site"
)

// doubter finds out which pictures of a scan stand for more than one crimp, by the same rule as the scan's page
// (site.Twins). It looks at each scan once.
type doubter struct {
	history *History
	scans   map[int64]map[int][]string
	judges  map[int64]bool // of scans: whether any of its pictures was to be judged
}

func (h *History) newDoubter() *doubter {
	return &doubter{h, map[int64]map[int][]string{}, map[int64]bool{}}
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

// twins gives, of the positions of a scan whose picture stands for several crimps, the names of these.
func (d *doubter) twins(ctx context.Context, scan int64) (map[int][]string, error) {
	known, seen := d.scans[scan]
	if seen {
		return known, nil
	}
	files, err := d.copies(ctx, scan)
	if err != nil {
		return nil, err
	}
	twins := map[int][]string{}
	if len(files) > 0 { // else what follows, which is slower, would find nothing
		entries, err := d.history.Entries(ctx, scan)
		if err != nil {
			return nil, err
		}
		names := site.Twins(site.Group(entries), func(position int) string { return files[position] })
		for _, e := range entries {
			if _, copied := files[e.Position]; copied && len(names[e.SHA256]) > 1 {
				twins[e.Position] = names[e.SHA256]
			}
		}
	}
	d.scans[scan] = twins
	return twins, nil
}

// copies gives the files, by position, whose bytes a scan has more than once.
func (d *doubter) copies(ctx context.Context, scan int64) (map[int]string, error) {
	rows, err := d.history.read.QueryContext(ctx, `SELECT position, file FROM scan_pictures WHERE scan = ?1 AND sha256 IN (
		SELECT sha256 FROM scan_pictures WHERE scan = ?1 AND sha256 <> '' GROUP BY sha256 HAVING count(*) > 1)`, scan)
	if err != nil {
		return nil, d.history.explain(err)
	}
	defer func() { _ = rows.Close() }()
	files := map[int]string{}
	for rows.Next() {
		var position int
		var file string
		if err := rows.Scan(&position, &file); err != nil {
			return nil, d.history.explain(err)
		}
		files[position] = file
	}
	return files, d.history.explain(rows.Err())
}
