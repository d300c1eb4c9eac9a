package history

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Standing is where a crimp stands: what the latest scan that has it found. Crimps of one name that were scanned in different
// places are different ones (see kinship), and so are those that were made on different days, of which the later one may
// have replaced the earlier one (site.Crimp.ReplacedBy). Its pictures are light: of a Record there are
// only View, Result and Score of the Verdict, and a word in Retake where the picture was refused; List leaves out their
// hashes and sizes too. A crimp of which
// only values measured elsewhere are known has no pictures, and Scan is 0.
type Standing struct {
	Crimp  site.Crimp // settled by its pictures alone; Elsewhere is filled in and not yet judged
	Scan   int64
	Source string       // what that scan read, by its path; of a crimp without pictures what was said, if anything was
	At     time.Time    // when its latest picture was measured or, where that failed, tried
	Wanted []string     // hashes of the tolerances files to judge it by
	id     string       // its crimp_id
	place  string       // the same for all sources that are one place for it, see kinship
	judged []Tolerances // by which each feature of ElsewhereVerdict was judged, hash and name, once Judge has settled it

	missed  bool     // one of its pictures came to nothing in a scan that judges: it is not measured, whatever limits it has itself
	further []string // of a crimp without a picture: hashes of the tolerances files that count where Wanted have no limit
}

// Filter leaves out crimps; empty parts leave out none.
type Filter struct {
	String, Crew, Tool, Trainee string
	Since                       time.Time // measured then or later
}

func (f Filter) takes(s Standing) bool {
	fits := func(want, have string) bool { return want == "" || want == have }
	l := s.Crimp.Label
	return fits(f.String, l.String) && fits(f.Crew, l.Crew) && fits(f.Tool, l.Tool) && fits(f.Trainee, l.Trainee) && !s.At.Before(f.Since)
}

// latest is true of the rows of a crimp's latest scan of each source, and of all rows of a name that crimps of several days
// have.
const latest = `(p.scan = (SELECT q.scan FROM scan_pictures q CROSS JOIN scans t ON t.id = q.scan WHERE q.crimp_id = p.crimp_id AND q.settled <> ''
		AND t.source = s.source ORDER BY q.scan DESC LIMIT 1)
	OR p.crimp_id IN (SELECT crimp_id FROM scan_pictures WHERE settled <> '' AND made <> '' GROUP BY crimp_id HAVING min(made) < max(made)))`

// askedView is the view that was asked for, of pictures that do not show it themselves.
const askedView = `CASE WHEN (m.id IS NULL OR m.refused) AND json_valid(p.request) THEN json_extract(p.request, '$.view') END`

// standingQuery reads the light rows of which condition is true, those of a crimp in a scan one after the other. In the
// order of inCrimps no sorting is needed, the index has them so. What only few callers need costs as much as all the rest,
// so that they have to ask for it.
func standingQuery(condition, order string, whole bool) string {
	more := `'', 0, '', '', ''`
	if whole {
		more = `p.sha256, p.bytes, p.tolerances, m.taken, s.source`
	}
	return `SELECT p.crimp_id, p.scan, p.position, p.file, p.origin, p.tag, p.settled, p.failure, p.wanted, ` + labelColumns + `,
			m.view, m.refused, m.measured, v.result, v.score, ` + askedView + `, ` + more + `
		FROM scan_pictures p CROSS JOIN scans s ON s.id = p.scan
		LEFT JOIN measurements m ON m.id = p.measurement LEFT JOIN verdicts v ON v.id = p.verdict
		WHERE p.settled <> '' AND ` + condition + ` ORDER BY ` + order
}

const inCrimps = `p.crimp_id, p.scan, p.position`

// light is a row of standingQuery.
type light struct {
	id, source, tag string
	scan            int64
	at              time.Time
	wanted          string // by which limits it is to be judged
	picture         site.Picture
}

// lightScanner reads rows of standingQuery one after the other into the same places.
type lightScanner struct {
	l                             light
	own, origin, settled          string
	view, taken, measured, result sql.NullString
	asked                         sql.NullString
	refused                       sql.NullBool
	score                         sql.NullFloat64
	to                            []any
}

func newLightScanner() *lightScanner {
	s := &lightScanner{}
	p := &s.l.picture
	s.to = append(s.to, &s.l.id, &s.l.scan, &p.Position, &p.File, &s.origin, &s.l.tag, &s.settled, &p.Failure, &s.l.wanted)
	s.to = append(s.to, labelInto(&p.Label, &s.own)...)
	s.to = append(s.to, &s.view, &s.refused, &s.measured, &s.result, &s.score, &s.asked, &p.SHA256, &p.Bytes, &p.Tolerances, &s.taken, &s.l.source)
	return s
}

func (s *lightScanner) scan(rows *sql.Rows) (light, error) {
	if err := rows.Scan(s.to...); err != nil {
		return light{}, err
	}
	l := s.l
	p := &l.picture
	p.Label.Own, p.Origin = record.Result(s.own), site.Origin(s.origin)
	p.Asked = record.View(s.asked.String)
	if !s.measured.Valid {
		l.at = unstamp(s.settled)
		return l, nil
	}
	p.Measured = unstamp(s.measured.String)
	l.at = p.Measured
	p.Record = &record.Record{Image: p.File, SHA256: p.SHA256, View: record.View(s.view.String), Taken: s.taken.String}
	if s.refused.Bool {
		p.Record.Retake = []string{"refused"}
	}
	if s.result.Valid {
		p.Record.Verdict = &record.Verdict{Result: record.Result(s.result.String), Score: s.score.Float64}
	}
	return l, nil
}

// walk calls each with the rows of each crimp in each scan that the query gives.
func (h *History) walk(ctx context.Context, query string, args []any, each func([]light) error) error {
	rows, err := h.read.QueryContext(ctx, query, args...)
	if err != nil {
		return h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var group []light
	scanner := newLightScanner()
	for rows.Next() {
		l, err := scanner.scan(rows)
		if err != nil {
			return h.explain(err)
		}
		if len(group) > 0 && (group[0].id != l.id || group[0].scan != l.scan) {
			if err := each(group); err != nil {
				return err
			}
			group = group[:0]
		}
		group = append(group, l)
	}
	if err := rows.Err(); err != nil {
		return h.explain(err)
	}
	if len(group) > 0 {
		return each(group)
	}
	return nil
}

// standings makes crimps of the rows of one crimp_id: one, but for a file that stands twice in a scan.
func (d *doubter) standings(ctx context.Context, rows []light) ([]Standing, error) {
	copies, err := d.copies(ctx, rows[0].scan)
	if err != nil {
		return nil, err
	}
	judging, err := d.judging(ctx, rows[0].scan)
	if err != nil {
		return nil, err
	}
	entries := make([]site.Entry, len(rows))
	for i, l := range rows {
		entries[i] = site.Entry{Position: i, Label: l.picture.Label, Origin: l.picture.Origin, Tag: l.tag}
	}
	var all []Standing
	groups := site.Group(entries)
	days := site.Days(groups)
	for i, group := range groups {
		s := Standing{Scan: rows[0].scan, id: rows[0].id}
		label, conflicts := site.Merge(group)
		s.Crimp.Label, s.Crimp.Days = label, days[i]
		for _, c := range conflicts {
			s.Crimp.Warn("%s", c)
		}
		for _, e := range group {
			picture := rows[e.Position].picture
			s.Crimp.WarnUndated(e, picture.File)
			s.Crimp.DoubtTag(e, picture.File)
			if c, copied := copies[picture.Position]; copied {
				s.Crimp.DoubtCopies(c.Own, c.Others)
			}
			s.want(rows[e.Position].wanted)
			s.missed = s.missed || judging && !picture.Usable()
			s.Crimp.Pictures = append(s.Crimp.Pictures, picture)
			if at := rows[e.Position].at; at.After(s.At) {
				s.At = at
			}
		}
		s.Crimp.WarnRivals()
		s.Crimp.Settle(s.limited())
		all = append(all, s)
	}
	return all, nil
}

// limited tells whether the crimp was to be judged.
func (s *Standing) limited() bool { return len(s.Wanted)+len(s.further) > 0 || s.missed }

// want adds tolerances files that are not among those of the crimp yet.
func (s *Standing) want(list string) {
	hashes, err := unquoteList(list)
	if err != nil {
		s.Crimp.Warn("it is not known by which limits it was to be judged: %s", err)
	}
	for _, hash := range hashes {
		if !slices.Contains(s.Wanted, hash) {
			s.Wanted = append(s.Wanted, hash)
		}
	}
}

// List calls each with where every crimp stands, in the order of string, trainee, crimp and day; those of which only values
// measured elsewhere are known come last.
func (h *History) List(ctx context.Context, f Filter, each func(Standing) error) error {
	return h.list(ctx, standingQuery(latest, inCrimps, false), nil, `SELECT DISTINCT string, trainee, crimp, source FROM elsewhere`, nil, func(s Standing) error {
		if !f.takes(s) {
			return nil
		}
		return each(s)
	})
}

// place names a crimp in the table of values measured elsewhere, and where it was scanned; empty where nobody said.
type place struct{ str, trainee, crimp, source string }

func placeOf(l site.Label, source string) place { return place{l.String, l.Trainee, l.Crimp, source} }

func (h *History) list(ctx context.Context, query string, args []any, places string, placeArgs []any, each func(Standing) error) error {
	left, err := h.places(ctx, places, placeArgs)
	if err != nil {
		return err
	}
	named := map[place]bool{}
	for _, at := range left {
		at.source = ""
		named[at] = true
	}
	kin, err := h.newKinship(ctx)
	if err != nil {
		return err
	}
	shown := map[place]bool{}
	hand := func(s Standing) error {
		if named[placeOf(s.Crimp.Label, "")] {
			if s.Crimp.Elsewhere, err = h.elsewhere(ctx, s.Crimp.Label, s.Source, kin); err != nil {
				return err
			}
			for _, e := range s.Crimp.Elsewhere {
				shown[placeOf(s.Crimp.Label, e.Source)] = true
			}
		}
		return each(s)
	}
	var found days
	doubts := h.newDoubter()
	err = h.walk(ctx, query, args, func(rows []light) error {
		if len(found) > 0 && found[0].id != rows[0].id {
			if err := found.hand(ctx, kin, hand); err != nil {
				return err
			}
			found = found[:0]
		}
		here, err := doubts.standings(ctx, rows)
		found = append(found, here...)
		return err
	})
	if err == nil {
		err = found.hand(ctx, kin, hand)
	}
	if err != nil {
		return err
	}
	return h.samples(ctx, slices.DeleteFunc(left, func(at place) bool { return shown[at] }), each)
}

// samples calls each with crimps of which there is no picture, with the limits of the newest scan that they belong to.
func (h *History) samples(ctx context.Context, places []place, each func(Standing) error) error {
	if len(places) == 0 {
		return nil
	}
	all, err := h.scopes(ctx, "")
	if err != nil {
		return err
	}
	for _, at := range places {
		in, _ := all.newest(at)
		s, err := h.sample(ctx, at, in)
		if err != nil {
			return err
		}
		if err := each(s); err != nil {
			return err
		}
	}
	return nil
}

// places gives the crimps that have values measured elsewhere.
func (h *History) places(ctx context.Context, query string, args []any) ([]place, error) {
	rows, err := h.read.QueryContext(ctx, query+` ORDER BY string, trainee, crimp, source`, args...)
	if err != nil {
		return nil, h.explain(err)
	}
	defer func() { _ = rows.Close() }()
	var all []place
	for rows.Next() {
		var at place
		if err := rows.Scan(&at.str, &at.trainee, &at.crimp, &at.source); err != nil {
			return nil, h.explain(err)
		}
		all = append(all, at)
	}
	return all, h.explain(rows.Err())
}

// Named gives the crimps of a name: that of the crimp alone, that with string and trainee before it ("S07 / 04"), its tag,
// or, of a picture that stands for itself, its file. String and trainee, where given, must fit too. Crimps
// of one name that were made on different days come by day.
func (h *History) Named(ctx context.Context, name, str, trainee string) ([]Standing, error) {
	if name == "" {
		return nil, nil
	}
	parts := strings.Split(name, " / ")
	crimp := parts[len(parts)-1]
	named := `p.crimp_id IN (SELECT crimp_id FROM scan_pictures WHERE crimp = ?1 UNION SELECT crimp_id FROM scan_pictures WHERE crimp = ?2
		UNION SELECT crimp_id FROM scan_pictures WHERE tag IN (?1, ?2) AND tag <> '' UNION SELECT 'file' || char(31) || ?1)`
	var found []Standing
	err := h.list(ctx, standingQuery(named, inCrimps, true), []any{name, crimp},
		`SELECT DISTINCT string, trainee, crimp, source FROM elsewhere WHERE crimp IN (?, ?)`, []any{name, crimp}, func(s Standing) error {
			l := s.Crimp.Label
			if (l.Crimp == name || s.Crimp.Name() == name) && (str == "" || str == l.String) && (trainee == "" || trainee == l.Trainee) {
				found = append(found, s)
			}
			return nil
		})
	return found, err
}
