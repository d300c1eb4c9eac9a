package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/terminal"
	"crimprule/vision/record"
)

// historyShowOptions is the command line of `history show`, as the user wrote it.
type historyShowOptions struct {
	crimpName
	history, date string
	json          bool
}

func (o *historyShowOptions) addFlags(f *pflag.FlagSet) {
	addHistoryFlag(f, &o.history)
	o.crimpName.addFlags(f, "the `CRIMP`, as crimprule history add has it; instead of its name alone")
	f.StringVar(&o.date, "date", "", "the `DAY` on which it was made (YYYY-MM-DD), where several of that name were made")
	f.BoolVar(&o.json, "json", false, "print one JSON object, and nothing else")
	f.SortFlags = false
}

func newHistoryShowCommand(stdout io.Writer) *cobra.Command {
	var opts historyShowOptions
	cmd := &cobra.Command{
		Use:   "show [CRIMP]",
		Short: "Show all that was ever measured of a crimp",
		Long: `Show all that was ever measured of a crimp, the oldest first: each measurement with its values and their
u, by which program and how it was asked, in which scans it stood, who made the crimp with which tool,
each verdict with the tolerances file and its hash; pictures that failed; and what was measured
elsewhere. Each says whether it counts now or which scan replaced it.

CRIMP is the crimp's name ("04"), with its string and trainee before it ("S07 / 04"), its tag, or the
file of a picture that stands for itself. The first line says where the crimp stands now.
` + historyExitHelp,
		Example: `  crimprule history show "S07 / 04"
  crimprule history show 04 --string S07
  crimprule history show --string S07 --crimp 04
  crimprule history show 1 --trainee "trainee 3" --date 2026-11-20
  crimprule history show "N / 01" --source roof-a
  crimprule history show IMG_0231.jpg --json`,
		Args: noMoreThanOneCrimp,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := opts.name(args); err != nil {
				return wrongCall{cmd.CommandPath(), err}
			}
			return runHistoryShow(cmd.Context(), opts, stdout)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

func noMoreThanOneCrimp(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return wrongCall{cmd.CommandPath(), fmt.Errorf("%q is one word too many: put the name of a crimp in quotes, such as \"S07 / 04\"", args[1])}
	}
	return nil
}

// name takes the crimp from the arguments, where it stands there, and looks whether the options are right.
func (o *historyShowOptions) name(args []string) error {
	if len(args) > 0 && args[0] != "" {
		if o.crimp != "" && o.crimp != args[0] {
			return fmt.Errorf("two crimps are given, %q and --crimp %q: name one", args[0], o.crimp)
		}
		o.crimp = args[0]
	}
	if o.crimp == "" {
		return errors.New("no crimp given: name one, such as \"S07 / 04\", or as --string S07 --crimp 04; all are in crimprule history list")
	}
	_, err := readDay("--date", o.date)
	return err
}

func runHistoryShow(ctx context.Context, opts historyShowOptions, stdout io.Writer) error {
	const command = "crimprule history show"
	return withHistory(ctx, command, opts.history, history.Options{ReadOnly: true}, func(h *history.History) error {
		s, err := one(ctx, h, opts.crimpName, opts.date)
		if err != nil {
			return wrongName(command, err)
		}
		story, err := h.Story(ctx, s)
		if err != nil {
			return err
		}
		if err := h.NewJudge().Settle(ctx, &s); err != nil {
			return err
		}
		if opts.json {
			return json.NewEncoder(stdout).Encode(storyAsJSON(s, story))
		}
		return terminal.New(stdout, io.Discard).HistoryShow(s, story)
	})
}

// wrongName makes an error about a crimp's name the caller's; what went wrong with the history itself is not.
func wrongName(command string, err error) error {
	var fault *history.Fault
	if errors.As(err, &fault) || errors.Is(err, context.Canceled) {
		return err
	}
	return wrongCall{command, err}
}

// storyJSON is what `history show --json` prints.
type storyJSON struct {
	crimpJSON
	Measurements []measurementJSON `json:"measurements"`
	Failures     []failureJSON     `json:"failures,omitempty"`
	Values       []site.Elsewhere  `json:"measured_elsewhere"`
	Verdict      *record.Verdict   `json:"elsewhere_verdict,omitempty"`
}

type measurementJSON struct {
	Measured time.Time       `json:"measured"`
	Program  string          `json:"program"`
	Request  json.RawMessage `json:"request,omitempty"`
	File     string          `json:"file"`
	Scans    []int64         `json:"scans"` // those in which it stood
	Counts   bool            `json:"counts_now"`
	Label    site.Label      `json:"label"`
	Record   record.Record   `json:"record"`
	Verdicts []judgementJSON `json:"verdicts"`
}

type judgementJSON struct {
	Judged     time.Time      `json:"judged"`
	Tolerances string         `json:"tolerances"`
	File       string         `json:"file"`
	SHA256     string         `json:"sha256"`
	Verdict    record.Verdict `json:"verdict"`
}

type failureJSON struct {
	Scan  int64     `json:"scan"`
	Tried time.Time `json:"tried"`
	File  string    `json:"file"`
	Why   string    `json:"why"`
}

func storyAsJSON(s history.Standing, story history.Story) storyJSON {
	out := storyJSON{crimpJSON: standingAsJSON(s), Measurements: []measurementJSON{}, Values: s.Crimp.Elsewhere, Verdict: s.Crimp.ElsewhereVerdict}
	for _, m := range story.Measurements {
		line := measurementJSON{Measured: m.Measured, Program: m.Program, File: m.File, Scans: m.Scans, Counts: m.Counts(s), Label: m.Label, Record: m.Record, Verdicts: []judgementJSON{}}
		if json.Valid([]byte(m.Request)) {
			line.Request = json.RawMessage(m.Request)
		}
		for _, j := range m.Verdicts {
			line.Verdicts = append(line.Verdicts, judgementJSON{j.Judged, j.Tolerances.Name, j.Tolerances.File, j.Tolerances.Hash, j.Verdict})
		}
		out.Measurements = append(out.Measurements, line)
	}
	for _, f := range story.Failures {
		out.Failures = append(out.Failures, failureJSON{f.Scan, f.Tried, f.File, f.Why})
	}
	return out
}
