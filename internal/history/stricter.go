package history

import (
	"context"
	"time"

	"crimprule/vision/record"
)

// Stricter is what other limits said of a picture.
type Stricter struct {
	Result record.Result
	Name   string // of the tolerances file
	When   time.Time
}

// Stricter gives, by position, the pictures of a scan of which other limits said something worse: those of the newest earlier
// scan of the same source that judged the very same bytes by other limits than this one. Who loosens the limits makes no
// crimp better.
func (h *History) Stricter(ctx context.Context, scan int64) (map[int]Stricter, error) {
	rows, err := h.read.QueryContext(ctx, `SELECT p.position, v.result, w.result, t.name, s.started
		FROM scan_pictures p JOIN verdicts v ON v.id = p.verdict
		CROSS JOIN scan_pictures q ON q.sha256 = p.sha256 AND q.sha256 <> '' AND q.scan < p.scan AND q.tolerances <> p.tolerances
		CROSS JOIN scans s ON s.id = q.scan AND s.source = (SELECT source FROM scans WHERE id = ?1)
		JOIN verdicts w ON w.id = q.verdict JOIN tolerances t ON t.hash = q.tolerances
		WHERE p.scan = ?1 ORDER BY p.position, q.scan DESC`, scan)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	all := map[int]Stricter{}
	last := -1
	for rows.Next() {
		var position int
		var now, started string
		var s Stricter
		if err := rows.Scan(&position, &now, &s.Result, &s.Name, &started); err != nil {
			return nil, h.explain(err)
		}
		if position != last && s.Result.Worse(record.Result(now)) {
			s.When = unstamp(started)
			all[position] = s
		}
		last = position
	}
	return all, h.explain(rows.Err())
}
