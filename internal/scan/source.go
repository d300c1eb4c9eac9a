package scan

import (
	"context"
	"errors"
	"slices"
	"syscall"
	"time"

	"crimprule/internal/evidence"
	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

var errDiskFull error = syscall.ENOSPC

var errTakenChanged = errors.New("what was taken over from an earlier pack was changed there")

// crimps streams the crimps of a scan from the history, so that ten thousand pictures need no memory for their records.
type crimps struct {
	*run
	groups [][]site.Entry
	days   [][]string             // of each group: when crimps of its name were made, where these are several days
	copies map[int]history.Copied // by position: pictures that were handed in for several crimps
	// samples are the crimps that no picture shows: values measured elsewhere are all that is known of them.
	samples []site.Crimp
	// judging says that any picture has limits: one that came to nothing is then missed, whether it has some itself or not.
	judging bool
	missing []evidence.Missing
	// stricter is, by position, what other limits said of pictures that is worse.
	stricter map[int]history.Stricter
	gone     map[site.Label][]string // by name: when those of missing were made
}

func (r *run) crimps(ctx context.Context) (*crimps, error) {
	entries, err := r.history.Entries(ctx, r.scan)
	if err != nil {
		return nil, err
	}
	c := &crimps{run: r, groups: site.Group(entries)}
	c.days = site.Days(c.groups)
	if err := r.history.FindCopies(ctx, r.scan); err != nil {
		return nil, err
	}
	if c.copies, err = r.history.Copies(ctx, r.scan); err != nil {
		return nil, err
	}
	for _, it := range r.items {
		c.judging = c.judging || len(it.limits) > 0
	}
	if c.missing, err = r.missing(ctx); err != nil {
		return nil, err
	}
	c.gone = map[site.Label][]string{}
	for _, m := range c.missing {
		name := nameOf(m.Crimp.Label)
		c.gone[name] = append(c.gone[name], m.Crimp.Label.Date)
	}
	if c.stricter, err = r.history.Stricter(ctx, r.scan); err != nil {
		return nil, err
	}
	return c, c.findSamples(ctx)
}

// Crimps hands out one crimp after the other, in the order of their first pictures; those without a picture come last.
func (c *crimps) Crimps(ctx context.Context, each func(site.Crimp) error) error {
	for i, group := range c.groups {
		crimp, err := c.crimp(ctx, i+1, group)
		if err != nil {
			return err
		}
		if err := each(crimp); err != nil {
			return err
		}
	}
	for i, sample := range c.samples {
		sample.Number = len(c.groups) + 1 + i
		if err := each(sample); err != nil {
			return err
		}
	}
	return nil
}

// findSamples finds the crimps of the scan that no picture shows, by name.
func (c *crimps) findSamples(ctx context.Context) error {
	standings, err := c.history.Samples(ctx, c.scan)
	if err != nil || len(standings) == 0 {
		return err
	}
	pictured := map[string]bool{}
	for _, group := range c.groups {
		label, _ := site.Merge(group)
		pictured[label.Name()] = true
	}
	for _, s := range standings {
		if !pictured[s.Crimp.Name()] {
			c.samples = append(c.samples, s.Crimp)
		}
	}
	slices.SortStableFunc(c.samples, func(a, b site.Crimp) int { return evidence.ByName(a.Name(), b.Name()) })
	return nil
}

func (c *crimps) crimp(ctx context.Context, number int, group []site.Entry) (site.Crimp, error) {
	crimp := site.Crimp{Number: number}
	var conflicts []string
	crimp.Label, conflicts = site.Merge(group)
	for _, conflict := range conflicts {
		crimp.Warn("its pictures disagree: %s; put the manifest or the file names right", conflict)
	}
	c.setDays(&crimp, c.days[number-1])
	judged := false
	for _, e := range group {
		picture, err := c.history.Picture(ctx, c.scan, e.Position)
		if err != nil {
			return site.Crimp{}, err
		}
		picture.Label, picture.Origin, picture.Asked = e.Label, e.Origin, c.item(e.Position).request.View
		c.locate(&picture)
		judged = judged || len(c.item(e.Position).limits) > 0 || c.judging && !picture.Usable()
		c.warn(&crimp, picture, e)
		crimp.Pictures = append(crimp.Pictures, picture)
	}
	crimp.WarnRivals()
	crimp.WarnOfClock()
	if err := c.elsewhere(ctx, &crimp, group); err != nil {
		return site.Crimp{}, err
	}
	crimp.DoubtContradictions()
	crimp.Settle(judged)
	return crimp, nil
}

// nameOf is the part of a label that names a crimp.
func nameOf(l site.Label) site.Label {
	return site.Label{String: l.String, Trainee: l.Trainee, Crimp: l.Crimp}
}

// setDays notes when crimps of this name were made: those of the scan, and those whose pictures are gone.
func (c *crimps) setDays(crimp *site.Crimp, days []string) {
	crimp.Days = days
	if crimp.Label.Crimp != "" {
		crimp.AddDays(c.gone[nameOf(crimp.Label)]...)
	}
}

// locate says where the pack has the picture and its drawings.
func (c *crimps) locate(p *site.Picture) {
	if p.SHA256 == "" || p.Failure != "" {
		return
	}
	it := c.item(p.Position)
	p.Original = it.original(p.SHA256)
	p.Overlay, p.Thumb = it.drawings(p.SHA256, c.Program)
	if !c.place.has(p.Overlay) {
		p.Overlay = "" // there was nothing to draw
	}
}

// warn notes what makes a picture no proof of its crimp, and what else a person must look into.
func (c *crimps) warn(crimp *site.Crimp, p site.Picture, e site.Entry) {
	crimp.WarnUndated(e, p.File)
	crimp.DoubtTag(e, p.File)
	if copied, is := c.copies[p.Position]; is {
		crimp.DoubtCopies(copied.Own, copied.Others)
	}
	if p.Usable() && p.Record.Verdict == nil && len(c.item(e.Position).limits) > 0 {
		crimp.Warn("%s shows the %s view, for which there are no limits: it was measured but not judged; add a tolerances file for that view",
			site.Quoted(p.File), p.Record.View)
	}
	if s, has := c.stricter[p.Position]; has {
		crimp.Warn("%s %s by other limits (%s, scan of %s) than those of this scan: find out which limits are right; other limits make no crimp better",
			site.Quoted(p.File), evidence.Was(s.Result), site.Quoted(s.Name), s.When.Format(time.DateOnly))
	}
	if e.Origin != site.FromManifest && len(c.listing.Manifests) > 0 {
		crimp.Warn("%s does not stand in the manifest: add it there, or say why it was photographed", site.Quoted(p.File))
	}
	if e.Origin == site.Alone && c.Pattern != "" {
		crimp.Warn("the name of %s does not fit the pattern %s: it is taken for a crimp of its own", site.Quoted(p.File), c.Pattern)
	}
}

// elsewhere adds what was measured elsewhere, judged by the tolerances files of the crimp's pictures.
func (c *crimps) elsewhere(ctx context.Context, crimp *site.Crimp, group []site.Entry) error {
	if crimp.Label.Crimp == "" {
		return nil
	}
	var err error
	if crimp.Elsewhere, err = c.history.Elsewhere(ctx, crimp.Label, c.listing.Source); err != nil || len(crimp.Elsewhere) == 0 {
		return err
	}
	crimp.SetAside()
	var files []tolerance.File
	var names []string
	known := map[string]bool{}
	for _, e := range group {
		for _, l := range c.item(e.Position).limits {
			if !known[l.Hash] {
				known[l.Hash] = true
				files, names = append(files, l.Limits), append(names, l.File)
			}
		}
	}
	crimp.ElsewhereVerdict = verdict.JudgeElsewhere(crimp.Elsewhere, files...)
	crimp.WarnOfElsewhere(names)
	return nil
}

// write writes the evidence of all pictures so far and puts it into its place.
func (r *run) write(ctx context.Context, observer Observer) error {
	if err := r.history.Present(); err != nil {
		return err
	}
	source, err := r.crimps(ctx)
	if err != nil {
		return err
	}
	result := Result{Out: r.Out, History: r.History, Pictures: len(r.items), Judged: source.judging}
	wanted := map[string]bool{}
	err = source.Crimps(ctx, func(c site.Crimp) error {
		result.Crimps = append(result.Crimps, brief(c))
		result.Refused = append(result.Refused, evidence.RefusedBeside(c)...)
		for _, p := range c.Pictures {
			wanted[p.Original], wanted[p.Overlay], wanted[p.Thumb] = true, true, true
			switch {
			case p.Record == nil:
				result.Unreadable++
			case !slices.Contains(result.Views, p.Record.View):
				result.Views = append(result.Views, p.Record.View)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := r.place.prune(wanted); err != nil {
		return writeError{err}
	}
	info := r.info(result.Views)
	info.Missing = source.missing
	for _, m := range info.Missing {
		if m.Crimp.ReplacedBy() != "" {
			result.Replaced = append(result.Replaced, m.ReplacedText())
		} else {
			result.Missing = append(result.Missing, m.Name)
		}
	}
	more := func(dir string) error {
		if r.More == nil {
			return nil
		}
		return r.More(ctx, dir, info, source, r.history)
	}
	if result.Summary, err = evidence.Write(ctx, r.place.part, info, source, more); err != nil {
		return err
	}
	if changed, err := r.place.changed(); err != nil {
		return err
	} else if changed {
		return errTakenChanged
	}
	if err := r.place.publish(); err != nil {
		return err
	}
	if err := observer.Written(result); err != nil {
		return observerError{err}
	}
	return nil
}

// missing are the crimps that an earlier scan of the same place found bad or open and of which no picture is left.
func (r *run) missing(ctx context.Context) ([]evidence.Missing, error) {
	standings, err := r.history.Missing(ctx, r.scan)
	var missing []evidence.Missing
	for _, s := range standings {
		if s.Crimp.Result != "" {
			missing = append(missing, evidence.Missing{Name: s.Crimp.Called(), Result: s.Crimp.Result, When: s.At, Crimp: s.Crimp})
		}
	}
	return missing, err
}

func (r *run) info(views []record.View) evidence.Info {
	info := evidence.Info{Title: r.Title, Source: r.listing.Source, Program: r.Program, When: r.began, LeftAlone: r.listing.LeftAlone, Notes: r.listing.Notes, Lot: r.Lot,
		Practice: r.Practice, Also: r.Also}
	info.Views = views
	kept := map[string]bool{}
	for _, it := range r.items {
		for _, l := range it.limits {
			if !kept[l.Hash] {
				kept[l.Hash] = true
				info.Tolerances = append(info.Tolerances, evidence.Tolerances{Hash: l.Hash, Name: l.Limits.Name, File: l.File, Text: l.Text, Limits: l.Limits})
			}
		}
	}
	return info
}

// brief is what the list of crimps says of one.
func brief(c site.Crimp) Brief {
	b := Brief{Number: c.Number, Name: c.Called(), Result: c.Result, Score: c.Score, Why: evidence.Why(c), Stripped: c.Stripped(), PutRight: c.PutRight(), Cut: evidence.Cut(c), Tested: evidence.Tested(c), Remarks: len(c.Warnings),
		Replaced: c.ReplacedBy()}
	if len(c.Doubts) > 0 {
		b.Doubt = c.Doubts[0]
	}
	return b
}
