package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

const inventedLimits = `name: "canopy, example"
view: seam
limits:
  insulation_gap_max:
    max: 1 mm
  stray_count:
    max: 0
elsewhere:
  pull_out_force:
    min: 310 N
`

// invented is a picture of the invented site: gap and strays as measured, both with their u; a failure where there is none.
type invented struct {
	file      string
	label     site.Label
	origin    site.Origin
	content   string
	gap, u    float64
	strays    float64
	refuse    string
	failure   string
	tag       string
	unsettled bool
}

// siteHistory is a command of the scripts, sitehistory FILE: it makes the history of an invented site, always the same.
func siteHistory(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: sitehistory FILE")
	}
	ts.Check(makeSiteHistory(ts.MkAbs(args[0])))
}

func makeSiteHistory(path string) (err error) {
	ctx := context.Background()
	now := time.Date(2026, 11, 18, 9, 0, 0, 0, time.UTC)
	h, err := history.Open(ctx, path, history.Options{Now: func() time.Time { return now }})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, h.Close()) }()
	sum := sha256.Sum256([]byte(inventedLimits))
	limits := history.Tolerances{Hash: hex.EncodeToString(sum[:]), Name: "canopy, example", File: "limits.yaml", Text: inventedLimits}
	if err := h.KeepTolerances(ctx, limits); err != nil {
		return err
	}
	crimp := func(str, name, crew string) site.Label {
		return site.Label{String: str, Crimp: name, Crew: crew, Tool: "tool 2", Date: "2026-11-17"}
	}
	apprentice := site.Label{Trainee: "trainee 3", Crimp: "1", Tool: "tool 1", Own: record.Conforms, Note: "first try"}
	for _, scan := range [][]invented{{
		{file: "S07_04.jpg", label: crimp("S07", "04", "crew A"), origin: site.FromName, content: "a", gap: 1.62, u: 0.09, strays: 1},
		{file: "S07_05.jpg", label: crimp("S07", "05", "crew A"), origin: site.FromName, content: "b", gap: 0.41, u: 0.08},
		{file: "S08_04.jpg", label: crimp("S08", "04", "crew B"), origin: site.FromName, content: "c", gap: 0.97, u: 0.08},
		{file: "S08_06.jpg", label: crimp("S08", "06", "crew B"), origin: site.FromName, content: "d", refuse: "the picture is blurred: hold still"},
		{file: "trainee 3/1.jpg", label: apprentice, origin: site.FromName, content: "e", gap: 0.55, u: 0.08},
		{file: "=1+1.jpg", origin: site.Alone, content: "f", failure: "it is cut off: copy it from the camera again"},
	}, {
		{file: "S07_04_anew.jpg", label: crimp("S07", "04", "crew B"), origin: site.FromManifest, content: "g", gap: 0.62, u: 0.07, tag: "S07 / 04"},
		{file: "IMG_2.jpg", origin: site.Alone, content: "h", unsettled: true},
	}} {
		if err := inventedScan(ctx, h, limits, scan); err != nil {
			return err
		}
		now = now.Add(49 * time.Hour)
	}
	return nil
}

func inventedScan(ctx context.Context, h *history.History, limits history.Tolerances, pictures []invented) error {
	file, err := tolerance.Parse(limits.File, []byte(limits.Text))
	if err != nil {
		return err
	}
	var entries []history.Entry
	for i, p := range pictures {
		entries = append(entries, history.Entry{Position: i, File: p.file, Label: p.label, Origin: p.origin, Request: `{"view":"seam"}`, Tolerances: []string{limits.Hash}})
	}
	id, _, err := h.Begin(ctx, history.Scan{Source: "/canopy/photos", Program: "crimprule 9", Order: `{"view":"seam"}`, Out: fmt.Sprintf("pack-%d", len(pictures))}, entries)
	if err != nil {
		return err
	}
	open := false
	for i, p := range pictures {
		if p.unsettled {
			open = true
			continue
		}
		sum := sha256.Sum256([]byte(p.content))
		o := history.Outcome{Position: i, SHA256: hex.EncodeToString(sum[:]), Bytes: 1000, Failure: p.failure, Tag: p.tag, Tolerances: limits.Hash}
		o.Key = history.Key{SHA256: o.SHA256, Program: "crimprule 9", Request: `{"view":"seam"}`}
		if p.failure == "" {
			rec := record.New(record.Seam)
			rec.Image, rec.SHA256, rec.Tag = p.file, o.SHA256, p.tag
			rec.Set(record.InsulationGapMax, p.gap, p.u)
			rec.Set(record.StrayCount, p.strays, 0)
			rec.Miss(record.Bend, "the contact's body is outside the picture")
			if p.refuse != "" {
				rec.Refuse(p.refuse)
			}
			v := verdict.Judge(rec, file)
			rec.Verdict, o.Record = &v, &rec
		}
		if err := h.Settle(ctx, id, o); err != nil {
			return err
		}
	}
	if open {
		return nil
	}
	return h.Finish(ctx, id)
}

func TestLetters(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"04", "04", 0}, {"04", "05", 1}, {"S07 / 04", "s07 / 04", 0}, {"S07 / 4", "S07 / 04", 1}, {"40", "04", 2}, {"crimp", "shrimp", 2}, {"a", "abcd", 3}, {"", "abcdefg", 3}, {"ab", "xyz", 3}} {
		assert.Equal(t, c.want, letters(c.a, c.b), "%s %s", c.a, c.b)
		assert.Equal(t, c.want, letters(c.b, c.a), "%s %s", c.b, c.a)
	}
}

func TestSplitU(t *testing.T) {
	for value, want := range map[string][2]string{"320±5N": {"320N", "5N"}, "320 ± 5 N": {"320 N", "5 N"}, "3.1±0.1 N m": {"3.1 N m", "0.1 N m"}, "2.11±0.01mm": {"2.11mm", "0.01mm"},
		"300N±5N": {"300N", "5N"}, "300µohm ± 20µohm": {"300µohm", "20µohm"}, "0.32 kN±5 N": {"0.32 kN", "5 N"}, "3e2±5e-1N": {"3e2N", "5e-1N"}, "300N±5": {"300N", "5"}} {
		plain, u, err := splitU(value, "")
		assert.NoError(t, err)
		assert.Equal(t, want, [2]string{plain, u}, value)
	}
	_, _, err := splitU("320±5N", "5N")
	assert.ErrorContains(t, err, "leave out --u 5N")
}

// Calls that are wrong in other ways than those in the script; none of them adds anything.
func TestHistoryAddWrongly(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "site-history.db")
	require.NoError(t, makeSiteHistory(path))
	right := historyAddOptions{history: path, crimpName: crimpName{crimp: "05"}, u: "5N", who: "crew A", when: "2026-11-20"}
	t.Setenv("SOURCE_DATE_EPOCH", "1795300000") // 21 November 2026
	for _, c := range []struct {
		with func(*historyAddOptions)
		args []string
		want string
	}{
		{func(o *historyAddOptions) { o.u = "0N" }, []string{"pull_out_force=320N"}, "an uncertainty of 0 is none"},
		{func(o *historyAddOptions) { o.u = "-5N" }, []string{"pull_out_force=320N"}, "-5N"},
		{nil, []string{"pull_out_force=320mm"}, "is no unit of a force"},
		{nil, []string{"pull_out_force=many"}, "many"},
		{func(o *historyAddOptions) { o.u = "" }, []string{"pull_out_force=300N±5"}, `"uncertainty of pull_out_force = 5": "5" lacks its unit`},
		{func(o *historyAddOptions) { o.u = "" }, []string{"pull_out_force=300N±5NN"}, `"NN" is no unit of a force`},
		{func(o *historyAddOptions) { o.u = "" }, []string{"pull_out_force=5±320N"}, `its uncertainty "320N" is not smaller than the value itself`},
		{func(o *historyAddOptions) { o.u = "0.01mm" }, []string{"crimp_height=211mm"}, `"211mm" is`},
		{nil, []string{"pull_force=320N"}, `unknown name "pull_force"; allowed here: crimp_height, crimp_width, pull_out_force`},
		{nil, []string{"320N"}, `"320N" is no KEY=VALUE: write it as pull_out_force=320N`},
		{nil, []string{"pull_out_force=320N", "torque=3Nm"}, "--u 5N cannot be that of 2 values"},
		{nil, []string{"pull_out_force=320±5N"}, "leave out --u 5N"},
		{func(o *historyAddOptions) { o.who = " " }, []string{"pull_out_force=320N"}, "add --who"},
		{func(o *historyAddOptions) { o.when = "" }, []string{"pull_out_force=320N"}, "add --when"},
		{func(o *historyAddOptions) { o.when = "20.11.2026" }, []string{"pull_out_force=320N"}, `--when "20.11.2026" is no day: write it as 2026-11-20`},
		{func(o *historyAddOptions) { o.when = "2026-12-24" }, []string{"pull_out_force=320N"}, "--when 2026-12-24 is still to come"},
		{func(o *historyAddOptions) { o.crimp = "" }, []string{"pull_out_force=320N"}, "no crimp given: say which, as --crimp 04"},
		{func(o *historyAddOptions) { o.crimp = "04" }, []string{"pull_out_force=320N"}, `there are 2 crimps "04"`},
		{func(o *historyAddOptions) { o.crimp = "04"; o.fresh = true }, []string{"pull_out_force=320N"}, `there are 2 crimps "04"`},
		{func(o *historyAddOptions) { o.crimp = "=1+1.jpg" }, []string{"pull_out_force=320N"}, "stands for itself, it is not known which crimp it shows"},
	} {
		opts := right
		if c.with != nil {
			c.with(&opts)
		}
		err := runHistoryAdd(ctx, opts, c.args, io.Discard)
		assert.ErrorContains(t, err, c.want, "%v", c.args)
		assert.Equal(t, exitWrongCall, exitStatus(err), "%v", c.args)
	}
	require.NoError(t, withHistory(ctx, "", path, history.Options{ReadOnly: true}, func(h *history.History) error {
		return h.Dump(ctx, func(row any) error {
			_, added := row.(history.DumpedElsewhere)
			assert.False(t, added, "%v", row)
			return nil
		})
	}))
}

func TestHistoryListWrongly(t *testing.T) {
	ctx := context.Background()
	assert.ErrorContains(t, runHistoryList(ctx, historyListOptions{since: "yesterday"}, io.Discard), `--since "yesterday" is no day: write it as 2026-11-20`)
	for _, path := range []string{"postgres://db.example/canopy", ".", "history_test.go"} {
		err := runHistoryList(ctx, historyListOptions{history: path}, io.Discard)
		assert.ErrorContains(t, err, path)
		assert.Equal(t, exitWrongCall, exitStatus(err), path)
	}
}

// A trainee numbers the crimps anew each day: these are different crimps, in the list and by name, and a value belongs to the
// last one that was made on its day or before.
func TestCrimpsOfSeveralDays(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "site-history.db")
	require.NoError(t, makeSiteHistory(path))
	sum := sha256.Sum256([]byte(inventedLimits))
	limits := history.Tolerances{Hash: hex.EncodeToString(sum[:]), File: "limits.yaml", Text: inventedLimits}
	h, err := history.Open(ctx, path, history.Options{})
	require.NoError(t, err)
	for i, date := range []string{"2026-11-02", "2026-11-09"} {
		require.NoError(t, inventedScan(ctx, h, limits, []invented{{file: "1.jpg", origin: site.FromManifest, content: date, gap: 1.8 - float64(i), u: 0.08,
			label: site.Label{Trainee: "trainee 5", Crimp: "1", Date: date}}}))
	}
	require.NoError(t, h.Close())
	t.Setenv("SOURCE_DATE_EPOCH", "1795300000") // 21 November 2026

	var out bytes.Buffer
	require.NoError(t, runHistoryList(ctx, historyListOptions{history: path, filter: history.Filter{Trainee: "trainee 5"}}, &out))
	assert.Regexp(t, `(?s)crimp +made +result.*trainee 5 / 1 +2026-11-02 +DOES NOT CONFORM.*trainee 5 / 1 +2026-11-09 +conforms`, out.String())
	err = runHistoryShow(ctx, historyShowOptions{history: path, crimpName: crimpName{crimp: "trainee 5 / 1"}}, io.Discard)
	assert.ErrorContains(t, err, `there are 2 crimps "trainee 5 / 1": "trainee 5 / 1" (trainee "trainee 5", made on "2026-11-02"), "trainee 5 / 1" (trainee "trainee 5", `+
		`made on "2026-11-09"); say which with --date`)
	assert.Equal(t, exitWrongCall, exitStatus(err))

	add := historyAddOptions{history: path, crimpName: crimpName{crimp: "1", trainee: "trainee 5"}, u: "5N", who: "trainer", when: "2026-11-05"}
	require.NoError(t, runHistoryAdd(ctx, add, []string{"pull_out_force=330N"}, io.Discard))
	for date, want := range map[string]string{"2026-11-02": "at least 310  conforms", "2026-11-09": "not judged: measured before this crimp was made (2026-11-09)"} {
		out.Reset()
		require.NoError(t, runHistoryShow(ctx, historyShowOptions{history: path, crimpName: crimpName{crimp: "1", trainee: "trainee 5"}, date: date}, &out))
		assert.Contains(t, out.String(), want)
		assert.Contains(t, out.String(), "counts now")
		assert.Equal(t, 1, strings.Count(out.String(), "SHA-256 ")-strings.Count(out.String(), "(SHA-256 "), "the picture of that day only")
	}
}

// The history of the scripts can be made, and is whole.
func TestSiteHistory(t *testing.T) {
	assert.NoError(t, makeSiteHistory(filepath.Join(t.TempDir(), "site-history.db")))
}
