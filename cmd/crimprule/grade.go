package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/evidence"
	"crimprule/internal/grade"
	"crimprule/internal/history"
	"crimprule/internal/scan"
	"crimprule/internal/terminal"
	"crimprule/vision/record"
)

// gradeOptions is the command line of `grade`, as the user wrote it.
type gradeOptions struct {
	scanOptions
	row   int
	least float64
}

func (o *gradeOptions) addFlags(f *pflag.FlagSet) {
	f.IntVar(&o.row, "row", grade.UsualMark.Row, "the mark: `N` crimps in a row that conform")
	f.Float64Var(&o.least, "least-score", grade.UsualMark.Score, "the mark: each of them has at least `SCORE` points, 0 to 100; one that conforms has 70 or more")
	o.addPictures(f)
	o.addPlaces(f)
	o.addWork(f)
	f.BoolVar(&o.json, "json", false, "print the report as JSON, and nothing else")
	f.SortFlags = false
}

// byFolder is how pictures are taken to be named where nobody says otherwise.
const byFolder = "{trainee}/{crimp}"

func newGradeCommand(stdout, stderr io.Writer) *cobra.Command {
	var opts gradeOptions
	cmd := &cobra.Command{
		Use:   "grade FOLDER|PICTURE|ZIP...",
		Short: "Measure the crimps of trainees, and say how each did",
		Long: `Measure and judge all pictures, as crimprule scan does, and say of each trainee how many crimps conform
and how many in a row, what was done well and what not, the most frequent cause, what to practise, how it
went over the days that the history remembers, and how far the trainee's own judgement agrees with the
program's (column own_verdict of the manifest: good or bad; Cohen's kappa). A page and a PDF a trainee lie
in the evidence, in trainees/.

Stripped wires are no crimps: they count in no yield, score or row, and have a table of their own.

Who made a crimp is said by the column trainee of the manifest, by the pattern of the names, or by
the folder that the picture lies in: ` + byFolder + ` is the pattern where none is given, and then the
tag on a card goes before it. Crimps of which nobody says who made them have no mark.

The mark is a row of crimps that conform. What is not proven or not measured is in no row, since a bad
crimp could be hidden behind a bad picture, but it leaves the mark open; so does a crimp in doubt, such as
one that is shown by a copy of another one's picture, and so does one that an earlier call for the same
folder found bad or open and that no picture shows any more.

The row is counted in the order in which the crimps were made: by their dates (column date of the
manifest, the pattern, else the day that the camera wrote into the picture), within a day by the crimps'
names as people count, crimp-2 before crimp-10. Where no crimp of the trainee has a date, it is counted in
the order of the manifest's lines, and without a manifest in that of the names. The names of the files do
not count, but for a crimp that nobody named. Where some crimps have no date, or do not stand in the
manifest, nobody knows their place: then the row is the longest one that is sure wherever they stand, and
the sheet says so.

Only the pictures of this call are in a row. To count on, name the folders of all days in one call. The
progress by days counts all crimps of the trainee that the history knows, and names those that are not
among the pictures; there, a crimp without a date counts on the day on which it was measured.

Nobody is ranked: few crimps say little, and the interval beside each yield says how little. It does not
qualify a person.

Exit status:
  0  every picture has a record, and every trainee has reached the mark
  1  a picture could not be read, or something could not be written (this outranks 3)
  2  the call, the manifest or a tolerances file is wrong, or there are no limits or no scale at all;
     nothing was measured
  3  a trainee has not reached the mark, or it is open, or crimps have no trainee
  130  interrupted; call again to go on`,
		Example: `  crimprule grade workshop --scale chessboard=5mm --tolerances limits.yaml
  crimprule grade workshop --scale chessboard=5mm --tolerances limits.yaml --row 5 --least-score 80
  crimprule grade workshop --manifest crimps.csv --scale rule=1mm --tolerances limits.yaml --history workshop.db
  crimprule grade workshop --pattern '{trainee}/{crimp}_{view}' --scale chessboard=5mm --tolerances limits.yaml --json
  crimprule grade 2026-03-02 2026-03-09 --pattern '{date}/{trainee}/{crimp}' --scale chessboard=5mm --tolerances limits.yaml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return wrongCall{cmd.CommandPath(), errors.New("nothing to grade: name a folder, a ZIP file or pictures")}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runGrade(cmd.Context(), opts, args, stdout, stderr)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

// runGrade scans, writes the evidence with the sheets, and prints how trainees did. The error is as that of runScan.
func runGrade(ctx context.Context, opts gradeOptions, sources []string, stdout, stderr io.Writer) error {
	mark, err := opts.mark()
	if err != nil {
		return wrongCall{"crimprule grade", err}
	}
	assumed := opts.pattern == ""
	if assumed {
		opts.pattern = byFolder
	}
	o, err := opts.order(sources)
	if err != nil {
		return wrongCall{"crimprule grade", err}
	}
	o.Judging, o.Practice, o.Assumed = true, true, assumed
	var report grade.Report
	term := terminal.New(stdout, stderr)
	s := &scanning{quiet: true, stdout: stdout, term: term}
	o.Also = []evidence.Link{{Title: "trainees", Path: grade.Folder + "/index.html"}}
	o.More = func(ctx context.Context, dir string, info evidence.Info, crimps evidence.Source, past *history.History) error {
		var err error
		o := grade.Options{Mark: mark, Past: remembered(past), Missing: info.Missing, Tolerances: info.Tolerances, Line: manifestLine(s.listing)}
		if report, err = grade.Of(ctx, crimps, o); err != nil {
			return err
		}
		return grade.Write(dir, info, report)
	}
	err = runScanOf(ctx, "crimprule grade", o, s)
	if err != nil && !errors.Is(err, errUnreadable) && !errors.Is(err, errNotConforming) {
		return err
	}
	var printed error
	if opts.json {
		printed = report.WriteJSON(stdout)
	} else {
		printed = term.Grade(report, filepath.Join(o.Out, grade.Folder, "index.html"))
	}
	if printed != nil {
		return toStdout(printed)
	}
	return gradeStatus(err, report)
}

// gradeStatus makes the status that of trainees instead of crimps: a good trainee may have made bad crimps on the way.
func gradeStatus(err error, report grade.Report) error {
	if err != nil && !errors.Is(err, errNotConforming) {
		return err
	}
	for _, t := range report.Trainees {
		if t.Row.Standing != grade.Reached {
			return errNotConforming
		}
	}
	return nil
}

func (o gradeOptions) mark() (grade.Mark, error) {
	switch {
	case o.row < 1 || o.row > 10000:
		return grade.Mark{}, fmt.Errorf("--row %d: name how many crimps in a row the mark asks for, 1 to 10000", o.row)
	case math.IsNaN(o.least) || o.least < 0 || o.least > 100:
		return grade.Mark{}, fmt.Errorf("--least-score %g: a crimp has 0 to 100 points, and 70 or more where it conforms", o.least)
	}
	return grade.Mark{Row: o.row, Score: o.least}, nil
}

// manifestLine tells in which line of the manifests a picture stands; nil where there is no manifest.
func manifestLine(listing *scan.Listing) func(file string) int {
	if listing == nil || len(listing.Manifests) == 0 {
		return nil
	}
	return func(file string) int { return listing.Lines[file] }
}

// remembered looks into the history for a trainee's crimps.
func remembered(h *history.History) grade.Past {
	names := map[string]history.Tolerances{}
	return func(ctx context.Context, trainee string) ([]grade.PastResult, error) {
		past, err := h.Trainee(ctx, trainee)
		if err != nil {
			return nil, err
		}
		var results []grade.PastResult
		for _, p := range past {
			if p.Stripped {
				continue
			}
			r := grade.PastResult{Date: p.When(), Result: p.Result, Score: p.Score, Crimp: p.Label.Name(), SHA256: p.SHA256}
			for _, j := range p.Judged {
				file, known := names[j.Hash]
				if !known {
					if file, err = h.Tolerances(ctx, j.Hash); err != nil {
						return nil, err
					}
					names[j.Hash] = file
				}
				r.Limits = append(r.Limits, grade.Limits{Name: file.Name, File: file.File, SHA256: j.Hash, Views: []record.View{j.View}})
			}
			results = append(results, r)
		}
		return results, nil
	}
}
