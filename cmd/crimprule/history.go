package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/terminal"
	"crimprule/vision/record"
)

func newHistoryCommand(stdout, stderr io.Writer) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "history",
		Short: "Read what was measured over time, and add what was measured elsewhere",
		Long: `The history is a SQLite file that crimprule scan keeps: every record of every picture, how it was judged
by which tolerances file, who made the crimp with which tool, and when. What was measured stays as it
was; a new measurement is a new row.

Values of other instruments (crimp height by micrometer, pull-out force, contact resistance, torque)
are added here, and are judged with the pictures by the group 'elsewhere:' of the tolerances file. One
that was entered wrongly is withdrawn: it stays, and no longer counts.

--history names the file. Without it the one file in this folder is taken whose name ends in
-history.db, as crimprule scan names it.`,
		Example: `  crimprule history list --result does_not_conform
  crimprule history show "S07 / 04"
  crimprule history add --string S07 --crimp 04 pull_out_force=320N --u 5N --who "crew A" --when 2026-11-20
  crimprule history withdraw 7 --who "crew A" --note "typing error, it was 320 N"
  crimprule history export --format csv > site.csv`,
	}
	onlyWithSubcommand(cmd)
	cmd.AddCommand(newHistoryListCommand(stdout), newHistoryShowCommand(stdout), newHistoryAddCommand(stdout), newHistoryWithdrawCommand(stdout),
		newHistoryExportCommand(stdout, stderr))
	return cmd
}

// addHistoryFlag adds the option that every command of the group has.
func addHistoryFlag(f *pflag.FlagSet, path *string) {
	f.StringVar(path, "history", "", "the history `FILE`; default: the one file in this folder that is named *-history.db")
}

// crimpName says which crimp is meant.
type crimpName struct{ crimp, str, trainee, source string }

func (n *crimpName) addFlags(f *pflag.FlagSet, crimp string) {
	f.StringVar(&n.crimp, "crimp", "", crimp)
	f.StringVar(&n.str, "string", "", "the `STRING` of the crimp, where several have one of that name")
	f.StringVar(&n.trainee, "trainee", "", "the `TRAINEE` who made it, where several made one of that name")
	f.StringVar(&n.source, "source", "", "where the crimp was scanned, as `FOLDER`, where crimps of one name were scanned in several")
}

const historyExitHelp = `
Exit status:
  0  done
  1  something could not be read or written
  2  the call is wrong, or there is no such history or crimp`

// openHistory opens the history that the option names, or the one in this folder.
func openHistory(ctx context.Context, path string, o history.Options) (*history.History, error) {
	if path == "" {
		found, err := filepath.Glob("*-history.db")
		switch {
		case err != nil:
			return nil, err
		case len(found) == 0:
			return nil, errors.New("no history given, and no file named *-history.db is in this folder: name it, as --history site-history.db")
		case len(found) > 1:
			return nil, fmt.Errorf("no history given, and there are several in this folder: name one of them, as --history %q", found[0])
		}
		path = found[0]
	}
	return history.Open(ctx, path, o)
}

// withHistory calls do with an open history. The error is a wrongCall where it cannot be opened.
func withHistory(ctx context.Context, command, path string, o history.Options, do func(*history.History) error) error {
	var err error
	if o.Now, err = clock(); err != nil {
		return wrongCall{command, err}
	}
	h, err := openHistory(ctx, path, o)
	switch {
	case errors.Is(err, context.Canceled):
		return err
	case err != nil:
		return wrongCall{command, err}
	}
	return errors.Join(do(h), h.Close())
}

// historyListOptions is the command line of `history list`, as the user wrote it.
type historyListOptions struct {
	history, result, since string
	filter                 history.Filter
	scans, json            bool
}

func (o *historyListOptions) addFlags(f *pflag.FlagSet) {
	addHistoryFlag(f, &o.history)
	f.StringVar(&o.filter.String, "string", "", "only crimps of this `STRING`")
	f.StringVar(&o.filter.Crew, "crew", "", "only crimps of this `CREW`")
	f.StringVar(&o.filter.Tool, "tool", "", "only crimps made with this `TOOL`")
	f.StringVar(&o.filter.Trainee, "trainee", "", "only crimps of this `TRAINEE`")
	f.StringVar(&o.result, "result", "", "only crimps with this `RESULT`: conforms, does_not_conform, not_proven, not_measured, \nnot_judged (there were no limits), or replaced (made anew since)")
	f.StringVar(&o.since, "since", "", "only crimps measured on this `DATE` (YYYY-MM-DD, UTC) or later")
	f.BoolVar(&o.scans, "scans", false, "list the scans instead")
	f.BoolVar(&o.json, "json", false, "print one JSON object a line, and nothing else")
	f.SortFlags = false
}

func newHistoryListCommand(stdout io.Writer) *cobra.Command {
	var opts historyListOptions
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the crimps with their latest result, or the scans",
		Long: `List the crimps of the history with their latest result: that of the latest scan that has them, with what
was measured elsewhere. One whose picture stands for another crimp too, or has another one's tag, is
not proven. One that was made anew on a later day is listed as replaced, and under no other result;
trainees number their crimps anew each day, so that theirs replace none. Crimps of one name that were
scanned in different folders are different ones, but for those of which a picture was scanned in both.
Filters can be combined. Times are UTC.

Of a scan, 'with a record' are the pictures of which it has a measurement, be it that of an earlier scan;
'new' is how many measurements it added.
` + historyExitHelp,
		Example: `  crimprule history list
  crimprule history list --history roof-history.db --string S07 --result does_not_conform
  crimprule history list --crew "crew A" --since 2026-11-01 --json
  crimprule history list --scans`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runHistoryList(cmd.Context(), opts, stdout) },
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

func runHistoryList(ctx context.Context, opts historyListOptions, stdout io.Writer) error {
	const command = "crimprule history list"
	wanted, err := readResult(opts.result)
	if err == nil {
		opts.filter.Since, err = readDay("--since", opts.since)
	}
	if err != nil {
		return wrongCall{command, err}
	}
	return withHistory(ctx, command, opts.history, history.Options{ReadOnly: true}, func(h *history.History) error {
		if opts.scans {
			return listScans(ctx, h, opts.json, stdout)
		}
		judge, lines := h.NewJudge(), json.NewEncoder(stdout)
		var all []history.Standing
		err := h.List(ctx, opts.filter, func(s history.Standing) error {
			if err := judge.Settle(ctx, &s); err != nil || !wanted(s.Crimp) {
				return err
			}
			if opts.json {
				return lines.Encode(standingAsJSON(s))
			}
			all = append(all, s)
			return nil
		})
		if err != nil || opts.json {
			return err
		}
		return terminal.New(stdout, io.Discard).HistoryList(all)
	})
}

// readResult gives which crimps are wanted.
func readResult(text string) (func(site.Crimp) bool, error) {
	result := record.Result(text)
	switch result {
	case "":
		return func(site.Crimp) bool { return true }, nil
	case "replaced":
		return func(c site.Crimp) bool { return c.ReplacedBy() != "" }, nil
	case "not_judged":
		result = ""
	case record.Conforms, record.DoesNotConform, record.NotProven, record.NotMeasured:
	default:
		return nil, fmt.Errorf("--result %q: say conforms, does_not_conform, not_proven, not_measured, not_judged or replaced", text)
	}
	return func(c site.Crimp) bool { return c.Result == result && c.ReplacedBy() == "" }, nil
}

// readDay gives the beginning of a day, and the zero time for none.
func readDay(option, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return day, fmt.Errorf("%s %q is no day: write it as 2026-11-20", option, text)
	}
	return day, nil
}

// crimpJSON is a line of `history list --json`. The score is null where nothing was judged.
type crimpJSON struct {
	Name      string        `json:"name"`
	Label     site.Label    `json:"label"`
	Result    record.Result `json:"result"`
	Replaced  string        `json:"replaced_by_crimp_of,omitempty"` // day
	Score     *float64      `json:"score"`
	Scan      int64         `json:"scan"`
	Source    string        `json:"source"`
	Measured  time.Time     `json:"measured"`
	Pictures  []string      `json:"pictures"`
	Elsewhere int           `json:"elsewhere"`
	Doubts    []string      `json:"doubts,omitempty"`
	Warnings  []string      `json:"warnings,omitempty"`
}

func standingAsJSON(s history.Standing) crimpJSON {
	c := crimpJSON{Name: s.Crimp.Name(), Label: s.Crimp.Label, Result: s.Crimp.Result, Replaced: s.Crimp.ReplacedBy(), Scan: s.Scan, Source: s.Source, Measured: s.At, Pictures: []string{},
		Elsewhere: s.Crimp.Counting(), Doubts: s.Crimp.Doubts, Warnings: s.Crimp.Warnings}
	if c.Result != "" {
		c.Score = &s.Crimp.Score
	}
	for _, p := range s.Crimp.Pictures {
		c.Pictures = append(c.Pictures, p.File)
	}
	return c
}

// scanJSON is a line of `history list --scans --json`.
type scanJSON struct {
	ID       int64           `json:"id"`
	Source   string          `json:"source"`
	Program  string          `json:"program"`
	Order    json.RawMessage `json:"order,omitempty"`
	Out      string          `json:"out"`
	Started  time.Time       `json:"started"`
	Finished *time.Time      `json:"finished"`
	Pictures int             `json:"pictures"`
	Recorded int             `json:"with_record"`
	New      int             `json:"new"`
	Failed   int             `json:"failed"`
	Open     int             `json:"open"`
}

func listScans(ctx context.Context, h *history.History, asJSON bool, stdout io.Writer) error {
	all, err := h.Scans(ctx)
	if err != nil {
		return err
	}
	if !asJSON {
		return terminal.New(stdout, io.Discard).HistoryScans(all)
	}
	lines := json.NewEncoder(stdout)
	for _, s := range all {
		line := scanJSON{ID: s.ID, Source: s.Source, Program: s.Program, Out: s.Out, Started: s.Started, Pictures: s.Pictures, Recorded: s.Recorded,
			New: s.New, Failed: s.Failed, Open: s.Pending}
		if json.Valid([]byte(s.Order)) {
			line.Order = json.RawMessage(s.Order)
		}
		if !s.Finished.IsZero() {
			line.Finished = &s.Finished
		}
		if err := lines.Encode(line); err != nil {
			return err
		}
	}
	return nil
}
