package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"gocv.io/x/gocv"

	"crimprule/internal/advice"
	"crimprule/internal/overlay"
	"crimprule/internal/terminal"
	"crimprule/internal/verdict"
	"crimprule/vision"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// measureOptions is the command line of `measure`, as the user wrote it.
type measureOptions struct {
	json       bool
	view       string
	scales     []string
	declare    []string
	tolerances string
	overlay    string
	debug      string
	details    bool
	budget     bool
}

func (o *measureOptions) addFlags(f *pflag.FlagSet) {
	f.BoolVar(&o.json, "json", false, "print one JSON record a picture and line, and nothing else")
	f.StringVar(&o.view, "view", string(record.Seam), "how the part is looked at: `VIEW` is seam (a photo square onto the seam), side (a photo\n"+
		"along the sheet, at right angles to that), strip (the stripped wire before crimping),\n"+
		"section (the micrograph of a cut square to the axis), or auto (told by each picture;\n"+
		"the record names the view that was measured)")
	f.StringArrayVar(&o.scales, "scale", nil, "the scale reference of the picture, as `KIND=VALUE`; without one nothing can be told\n"+
		"in millimetres. Photo: chessboard=5mm is a printed board with squares of 5 mm, the\n"+
		"best of the three; rule=1mm is a steel rule with graduations 1 mm apart: lay it beside\n"+
		"the part and parallel to it, at least 15 mm of graduations uncovered; disc=20mm is a\n"+
		"flat disc of 20 mm diameter, which tells the camera's tilt less surely than the others.\n"+
		"Section: bar=500um is the length of the bar drawn into the picture, end to end;\n"+
		"known=2.05um/px is the length of a pixel. Repeat it where the picture has several:\n"+
		"they must agree, and the surest one is used")
	f.StringArrayVar(&o.declare, "declare", nil, "what is known of the part, as `KEY=VALUE`; repeat it for more, and it goes before\n"+
		"the tolerances file: conductor_area=4mm2, strand_count=56, strand_diameter=0.3mm,\n"+
		"insulation_diameter=5.9mm, sheet_thickness=0.6mm")
	f.StringVar(&o.tolerances, "tolerances", "", "judge by the limits in this `FILE`")
	f.StringVar(&o.overlay, "overlay", "", "write each picture with what was measured drawn in to `DIR`")
	f.StringVar(&o.debug, "debug-dir", "", "write each picture after each stage, numbered, to `DIR`")
	f.BoolVar(&o.details, "details", false, "keep the list of a section's strands in the JSON record")
	f.BoolVar(&o.budget, "budget", false, "say of each value what makes it uncertain, where that is known from, and how much\n"+
		"each counts (as \"budget\" beside each value with --json)")
	f.SortFlags = false
}

func newMeasureCommand(stdout, stderr io.Writer) *cobra.Command {
	var opts measureOptions
	cmd := &cobra.Command{
		Use:   "measure PICTURE...",
		Short: "Measure the crimp in each picture, and judge it by your limits",
		Long: `Measure the crimp in each picture: JPEG, PNG, TIFF or WebP, one part a picture. A photo shows the
part square onto its seam, from the side, or the stripped wire before crimping (--view seam, side
or strip), with a printed chessboard, a steel rule or a disc of known diameter beside it; a section
(--view section) is the micrograph of a cut square to the axis, with a scale bar drawn in or the
length of a pixel known. Records come in the order of the pictures. Each value comes with its
expanded uncertainty (k = 2, about 95 %).

A picture that cannot be measured is refused: its record has no values and says what to do better.
A value that cannot be had is left out, with its reason. Nothing is guessed.

With --view auto each photo tells which view it shows; one that cannot is refused. A tolerances file
that names a view judges pictures of that view only: any other one is refused, its values are not
kept. A tag printed on the card (crimprule card --tag) is read from the photo into the record.
` + exitHelp,
		Example: `  crimprule measure --scale chessboard=5mm photo.jpg
  crimprule measure --scale chessboard=5mm --declare strand_diameter=0.3mm --json photos/*.jpg > records.jsonl
  crimprule measure --scale chessboard=5mm --budget photo.jpg
  crimprule measure --scale chessboard=5mm --tolerances limits.yaml --overlay drawn photos/*.jpg
  crimprule measure --view auto --scale rule=1mm photos/*.jpg
  crimprule measure --scale chessboard=5mm --scale rule=1mm photo.jpg
  crimprule measure --view strip --scale disc=20mm --declare strand_diameter=0.3mm photo.jpg
  crimprule measure --view section --scale bar=500um --declare strand_count=56 micrograph.tif
  crimprule measure --view section --scale known=2.05um/px --json --details sections/*.png > sections.jsonl`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return wrongCall{cmd.CommandPath(), errors.New("no picture given: name at least one")}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runMeasure(cmd.Context(), opts, args, stdout, stderr)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

// measuring is one call of `measure` after its options were found to be right.
type measuring struct {
	order   order
	json    bool
	details bool
	budget  bool
	overlay *outputDir // nil where none is wanted
	debug   *outputDir
	stdout  io.Writer
	term    *terminal.Terminal
	summary terminal.Summary
	seen    []record.View // the views of the records so far
}

// views are those that were asked for or, where the pictures told, those that were seen.
func (m *measuring) views() []record.View { return append([]record.View{m.order.view}, m.seen...) }

// runMeasure measures pictures and prints a record of each. The error is a wrongCall before anything was measured;
// else errUnreadable, errNotConforming, the context's, or that of writing to stdout.
func runMeasure(ctx context.Context, opts measureOptions, pictures []string, stdout, stderr io.Writer) error {
	m := measuring{json: opts.json, details: opts.details, budget: opts.budget, stdout: stdout, term: terminal.New(stdout, stderr)}
	m.summary.Pictures = len(pictures)
	var err error
	if m.order, err = readOrder(opts); err != nil {
		return wrongCall{"crimprule measure", err}
	}
	if m.overlay, err = openOutputDir("--overlay", opts.overlay, pictures); err != nil {
		return wrongCall{"crimprule measure", err}
	}
	if m.debug, err = openOutputDir("--debug-dir", opts.debug, pictures); err != nil {
		return wrongCall{"crimprule measure", err}
	}
	return m.all(ctx, pictures)
}

// all measures the pictures one after the other. One that fails is told of, and the next one follows.
func (m *measuring) all(ctx context.Context, pictures []string) error {
	failed, fine := false, true
	for _, path := range pictures {
		if err := ctx.Err(); err != nil {
			return err
		}
		rec, err := m.one(ctx, path)
		var stop stopError
		switch {
		case errors.As(err, &stop):
			return stop.err
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			failed = true
			m.term.ComplainOfPicture(path, err)
		}
		if rec == nil {
			m.summary.Unreadable++
			continue
		}
		m.summary.Add(*rec)
		if !slices.Contains(m.seen, rec.View) {
			m.seen = append(m.seen, rec.View)
		}
		fine = fine && (m.order.file == nil || rec.Verdict != nil && rec.Verdict.Result == record.Conforms)
	}
	if !m.json {
		if err := m.term.Summary(m.summary, advice.Below(m.views()...)); err != nil {
			return err
		}
	}
	switch {
	case failed:
		return errUnreadable
	case !fine:
		return errNotConforming
	}
	return nil
}

// place is where in this project's code a panic began, seen from a deferred function.
func place() string {
	pcs := make([]uintptr, 64)
	frames := runtime.CallersFrames(pcs[:runtime.Callers(3, pcs)])
	for more := true; more; {
		var frame runtime.Frame
		frame, more = frames.Next()
		if strings.HasPrefix(frame.Function, "crimprule/") {
			return fmt.Sprintf("%s:%d", filepath.Base(frame.File), frame.Line)
		}
	}
	return "an unknown place"
}

// stopError ends the whole call, since the next picture would meet the same: standard output is gone.
type stopError struct{ err error }

func (s stopError) Error() string { return s.err.Error() }

// one measures a picture, prints its record and writes what is drawn of it. The record is nil where there is none; an
// error beside a record says that something of it could not be written.
func (m *measuring) one(ctx context.Context, path string) (rec *record.Record, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			rec, err = nil, fmt.Errorf("a fault of this program at %s: %v; please report it with the picture", place(), fault)
		}
	}()
	pic, err := picture.Open(path)
	if err != nil {
		return nil, err
	}
	defer pic.Close()

	stages := m.debug.stages(path)
	result, err := vision.Measure(ctx, pic, m.order.request(stages.debug()))
	if err != nil {
		return nil, err
	}
	if reason := m.order.contradiction(result); reason != "" {
		result.Refuse(reason)
	}
	if m.order.file != nil {
		v := verdict.Judge(result, *m.order.file)
		result.Verdict = &v
	}
	if err := m.print(result); err != nil {
		return nil, err
	}
	return &result, errors.Join(stages.err, m.draw(path, pic.Mat, result))
}

func (m *measuring) print(rec record.Record) error {
	if !m.json {
		err := m.term.Record(rec)
		if m.budget && err == nil {
			err = m.term.Budgets(rec)
		}
		if err != nil {
			return stopError{err}
		}
		return nil
	}
	if m.budget {
		rec = rec.WithBudgets()
	}
	if !m.details {
		rec.Strands = nil
	}
	line, err := json.Marshal(rec)
	if err != nil {
		return fmt.Errorf("its record cannot be written as JSON: %w; this is a fault of the program, please report it", err)
	}
	if _, err := m.stdout.Write(append(line, '\n')); err != nil {
		return stopError{err}
	}
	return nil
}

// draw writes the picture with what was measured in it, where that is wanted.
func (m *measuring) draw(path string, mat gocv.Mat, rec record.Record) error {
	if m.overlay == nil {
		return nil
	}
	img, err := mat.ToImage()
	if err != nil {
		return fmt.Errorf("cannot be drawn: %w", err)
	}
	file := m.overlay.file(path, "overlay.png")
	return writeAtomically(file, func(w io.Writer) error { return overlay.Encode(w, overlay.Draw(img, rec)) })
}
