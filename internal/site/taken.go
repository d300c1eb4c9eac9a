package site

import "time"

// Taken is when the picture was taken, as its metadata say it (record.Record.Taken); empty where they do not, or say what
// cannot be: see ImpossibleTaken.
func (p Picture) Taken() string {
	if p.Record == nil || p.ImpossibleTaken() {
		return ""
	}
	return p.Record.Taken
}

// firstYear is before any camera wrote the metadata that dates come from. Clocks that were never set begin at 1970 or 1980
// (common practice, no source).
const firstYear = "1990"

// ImpossibleTaken tells whether the picture says that it was taken after it was measured, or before there were cameras that
// say so. A day is let pass, since the zone of the camera's clock is often not known.
func (p Picture) ImpossibleTaken() bool {
	const day = len(time.DateOnly)
	if p.Record == nil || len(p.Record.Taken) < day {
		return false
	}
	taken := p.Record.Taken[:day]
	return taken < firstYear || !p.Measured.IsZero() && taken > p.Measured.UTC().AddDate(0, 0, 1).Format(time.DateOnly)
}

// WarnOfClock notes once that pictures of the crimp say an impossible day.
func (c *Crimp) WarnOfClock() {
	for _, p := range c.Pictures {
		if p.ImpossibleTaken() {
			c.Warn("%s says that it was taken on %s, which cannot be: the camera's clock was wrong, and this date counts for no order; set the clock, and give the "+
				"crimp's date in the manifest (column date)", Quoted(p.File), Quoted(p.Record.Taken))
			return
		}
	}
}
