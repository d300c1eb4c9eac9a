package scan

import (
	"context"
	"os/exec"
	"time"

	"crimprule/internal/evidence"
	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Options say what to scan and how.
type Options struct {
	Sources    []string // folders, pictures, ZIP files
	Manifest   string   // CSV file; empty: manifest.csv of the folder or ZIP, if it has one
	Pattern    string   // how files are named; empty: nothing follows from names
	Assumed    bool     // nobody gave Pattern: a tag that says something else is no doubt
	View       record.View
	Scales     []string // KIND=VALUE, as for measuring
	Declare    []string // KEY=VALUE
	Tolerances []string // files

	Workers int           // worker processes
	Timeout time.Duration // for measuring one picture
	Worker  func() *exec.Cmd
	Check   func(Request) error // whether a request can be served; an error is the caller's to mend
	// Judging says that the scan is in vain without limits, or without any scale: then it is a mistake to name none, in the
	// call or for any picture in the manifest.
	Judging bool

	Out     string // folder of the evidence
	History string // file
	Program string // program and version, as the evidence names it; measuring is done anew for another one
	Title   string
	// Practice says that it is about practice pieces of trainees, whoever made them.
	Practice bool
	Lot      *evidence.Lot
	Now      func() time.Time
	// More is written into the evidence before its manifest.
	More func(ctx context.Context, dir string, info evidence.Info, crimps evidence.Source, past *history.History) error
	Also []evidence.Link // pages that More writes, for the evidence to lead to
	// Watch goes on with pictures that are copied in, until the context ends.
	Watch bool
}

// Observer is told how a scan goes on; all calls come from one goroutine.
type Observer interface {
	// Begun: of so many pictures so many are known from an earlier, interrupted call.
	Begun(pictures, known int, listing *Listing)
	// Settled: what became of one more picture is known.
	Settled(known int)
	// Picture comes once for each picture, in the order of the input, whatever the order of measuring. An error ends the
	// scan.
	Picture(site.Picture) error
	// Changed: of a watched scan these files are measured again, since they were changed, and those are no pictures of it any
	// more.
	Changed(again, gone []string)
	// Waiting: a watched scan cannot be looked through for now.
	Waiting(why error)
	// Written: the evidence of all pictures so far lies in its folder.
	Written(Result) error
}

// Result is what a scan comes to.
type Result struct {
	Out, History string
	Summary      evidence.Summary
	Pictures     int
	Unreadable   int // pictures without a record
	Crimps       []Brief
	Missing      []string // crimps that an earlier scan of the same place found bad or open and of which no picture is left
	Replaced     []string // sentences: those of them that were made anew since, which are not among Missing
	Judged       bool     // there were limits for any picture
	// Refused are the pictures that ask for a better one though their crimp has a result without them: sentences.
	Refused []string
	Views   []record.View
}

// Brief says of a crimp what a list of crimps says.
type Brief struct {
	Number int
	Name   string // with the day on which it was made where others have the same one
	Result record.Result
	Score  float64
	Why    string
	Doubt  string // why its pictures do not prove it; empty where they do
	// Stripped says that it is a stripped wire and no crimp yet.
	Stripped bool
	// PutRight says that it was not measured for its file or a declaration, and needs no new photo.
	PutRight bool
	Cut      bool // a section, Tested: without a picture, known by values measured elsewhere; nobody can make either anew
	Tested   bool
	Remarks  int
	Replaced string // the day on which the crimp was made that took its place; empty where it stands
}
