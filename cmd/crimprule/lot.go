package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/statistics"
	"crimprule/internal/terminal"
)

// lotOptions is the command line of `lot`, as the user wrote it; an empty count was not given.
type lotOptions struct {
	size, aql, level       string
	found, open, inspected string
	json                   bool
}

func (o *lotOptions) addFlags(f *pflag.FlagSet) {
	f.StringVar(&o.size, "size", "", "how many crimps the lot has, as `N`")
	f.StringVar(&o.aql, "aql", "", "acceptance quality limit in per cent not conforming: `AQL` is "+strings.Join(statistics.AQLs(), ", "))
	f.StringVar(&o.level, "level", "II", "general inspection level: `LEVEL` is "+strings.Join(statistics.Levels(), ", "))
	f.StringVar(&o.inspected, "inspected", "", "`N` were drawn at random and inspected: judge the lot by them")
	f.StringVar(&o.found, "found", "", "`N` of these do not conform")
	f.StringVar(&o.open, "open", "0", "`N` of these are not proven or not measured, so that they may be good or bad")
	f.BoolVar(&o.json, "json", false, "print one JSON object, and nothing else")
	f.SortFlags = false
}

func newLotCommand(stdout io.Writer) *cobra.Command {
	var opts lotOptions
	cmd := &cobra.Command{
		Use:   "lot",
		Short: "Say how many of a lot to inspect, and whether it is accepted",
		Long: `Say how many crimps of a lot to inspect, with how many not conforming the lot is accepted or rejected,
and how surely such a plan tells good lots from bad ones: ISO 2859-1, single sampling, normal
inspection. The acceptance quality limit (AQL) is the share not conforming that is just bearable as a
steady average; it is for you or your contract to say, and no plan makes a bad crimp a good one.

With --inspected and --found it says what the sample means for the lot. What is not proven or not
measured (--open) may be good or bad; a lot is accepted or rejected only where that does not matter.

Exit status:
  0  printed; with --inspected: the lot is accepted
  2  the call is wrong
  3  with --inspected: the lot is rejected, or not decided yet`,
		Example: `  crimprule lot --size 500 --aql 1.0
  crimprule lot --size 500 --aql 1.0 --level III
  crimprule lot --size 500 --aql 1.0 --inspected 50 --found 1
  crimprule lot --size 500 --aql 1.0 --inspected 50 --found 1 --open 2 --json`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error { return runLot(opts, stdout) },
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

// runLot prints the plan and what the sample says. The error is a wrongCall, errNotConforming, or that of writing.
func runLot(opts lotOptions, stdout io.Writer) error {
	plan, sample, err := readLot(opts)
	if err != nil {
		return wrongCall{"crimprule lot", err}
	}
	if opts.json {
		err = json.NewEncoder(stdout).Encode(lotAsJSON(plan, sample))
	} else {
		err = terminal.New(stdout, io.Discard).Lot(plan, sample)
	}
	if err == nil && sample != nil && sample.Outcome != statistics.Accepted {
		return errNotConforming
	}
	return err
}

// readLot checks the options; the sample is nil where none was given.
func readLot(opts lotOptions) (statistics.Plan, *statistics.Sample, error) {
	size, err := countOf("--size", opts.size, "how many crimps the lot has, as --size 500")
	if err != nil {
		return statistics.Plan{}, nil, err
	}
	aql, err := strconv.ParseFloat(strings.TrimSpace(opts.aql), 64)
	if err != nil {
		return statistics.Plan{}, nil, fmt.Errorf("--aql %q: say which share not conforming is just bearable, in per cent, one of %s",
			opts.aql, strings.Join(statistics.AQLs(), ", "))
	}
	plan, err := statistics.LotPlan(size, strings.ToUpper(strings.TrimSpace(opts.level)), aql)
	if err != nil || opts.found == "" && opts.inspected == "" && opts.open == "0" {
		return plan, nil, err
	}
	sample, err := readSample(opts, plan)
	return plan, sample, err
}

func readSample(opts lotOptions, plan statistics.Plan) (*statistics.Sample, error) {
	if opts.found == "" || opts.inspected == "" {
		return nil, errors.New("--inspected and --found belong together: say how many were inspected, and how many of them do not conform")
	}
	var s statistics.Sample
	for _, count := range []struct {
		name, text, want string
		to               *int
	}{
		{"--inspected", opts.inspected, "how many were inspected", &s.Inspected},
		{"--found", opts.found, "how many of them do not conform", &s.Bad},
		{"--open", opts.open, "how many of them are not proven or not measured", &s.Open},
	} {
		n, err := countOf(count.name, count.text, count.want)
		if err != nil {
			return nil, err
		}
		*count.to = n
	}
	switch {
	case s.Inspected > plan.Size:
		return nil, fmt.Errorf("--inspected %d is more than the lot of %d: put one of the two right", s.Inspected, plan.Size)
	case s.Bad > s.Inspected || s.Open > s.Inspected-s.Bad:
		return nil, fmt.Errorf("--found %d and --open %d are more than the %d inspected: put right what was miscounted", s.Bad, s.Open, s.Inspected)
	}
	s = plan.Inspect(s.Bad, s.Open, s.Inspected)
	return &s, nil
}

// countOf reads a count that an option gives; want says what it counts.
func countOf(name, text, want string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	switch {
	case text == "":
		return 0, fmt.Errorf("%s is missing: say %s", name, want)
	case err != nil || n < 0:
		return 0, fmt.Errorf("%s %q is no count: say %s, in digits", name, text, want)
	}
	return n, nil
}

type lotJSON struct {
	Size        int                  `json:"size"`
	AQL         float64              `json:"aql_percent"`
	Level       string               `json:"level"`
	SizeLetter  string               `json:"code_letter_of_size"`
	Letter      string               `json:"code_letter"`
	TableSample int                  `json:"sample_of_letter"`
	Sample      int                  `json:"sample"`
	Accept      int                  `json:"accept"`
	Reject      int                  `json:"reject"`
	Chances     []statistics.Passing `json:"chances"`
	Judged      *statistics.Sample   `json:"judged,omitempty"`
}

func lotAsJSON(plan statistics.Plan, s *statistics.Sample) lotJSON {
	return lotJSON{
		Size: plan.Size, AQL: plan.AQL, Level: plan.Level, SizeLetter: plan.Begun, Letter: plan.Letter, TableSample: plan.Table,
		Sample: plan.Sample, Accept: plan.Accept, Reject: plan.Reject, Chances: plan.Passings(), Judged: s,
	}
}
