package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/terminal"
	"crimprule/internal/tolerance"
	"crimprule/internal/wording"
)

// historyAddOptions is the command line of `history add`, as the user wrote it.
type historyAddOptions struct {
	crimpName
	history            string
	u, who, when, note string
	made               string
	fresh, again       bool
}

func (o *historyAddOptions) addFlags(f *pflag.FlagSet) {
	addHistoryFlag(f, &o.history)
	o.crimpName.addFlags(f, "the `CRIMP` that was measured: its name, tag or file, as history list shows it")
	f.StringVar(&o.u, "u", "", "the expanded uncertainty (k = 2) of the value with its unit, as `5N`; the certificate or the\ndata sheet of the instrument tells it")
	f.StringVar(&o.who, "who", "", "`WHO` measured it")
	f.StringVar(&o.when, "when", "", "the `DAY` on which it was measured, YYYY-MM-DD")
	f.StringVar(&o.made, "made", "", "the `DAY` on which the crimp was made, where crimps of several days have its name")
	f.StringVar(&o.note, "note", "", "what else is to be known, such as the instrument's number")
	f.BoolVar(&o.fresh, "new", false, "the crimp may be one of which there is no picture yet")
	f.BoolVar(&o.again, "again", false, "the same value was measured a second time, by the same person on the same day")
	f.SortFlags = false
}

func newHistoryAddCommand(stdout io.Writer) *cobra.Command {
	var opts historyAddOptions
	cmd := &cobra.Command{
		Use:   "add KEY=VALUE...",
		Short: "Add what was measured of a crimp with another instrument",
		Long: `Add a value that was measured of a crimp with another instrument than a camera. KEY is one of
crimp_height and crimp_width (mm), pull_out_force (N), contact_resistance (mohm), torque (N m). VALUE
has its unit behind it. Each value needs its uncertainty, either by --u or as "320±5N": a value of
which nobody knows how far it may be off proves nothing. A value that no crimp has, or one that is not
larger than its uncertainty, is refused: its unit or decimal point is wrong.

It is judged with the crimp's pictures, by the group 'elsewhere:' of their tolerances file (see
crimprule tolerances example), and stands beside their values in the next evidence. What was added stays:
a value that was entered wrongly is withdrawn by crimprule history withdraw, and the right one added.

The very same value of the same crimp, day and person is refused a second time unless --again says that it
was measured again. A value without a limit is shown with a remark, and its crimp is not judged: write
the limit, or withdraw the value. Crimp heights and widths of a crimp, from sections and micrometers, are
held against each other: where they differ by more than their uncertainties allow, the crimp is in doubt.

A crimp without a picture (--new), such as a test piece of a pull-out series, stands in the next scan that
has pictures of the same string and trainee, and is judged by their limits.

Where crimps of several days have one name (their dates stand in the manifest or the files' names), a value
is that of the last one that had been made on the day of measuring, unless --made says otherwise. With the
others it is shown and not judged, and likewise one that was measured before the crimp was made: it is
that of a contact that was cut off. Where the date is not known, all values count: withdraw what belongs
to a contact that was cut off.

Where crimps of one name were scanned in several folders (two roofs in one history), --source says of
which one the value is; with the others it does not count.
` + historyExitHelp,
		Example: `  crimprule history add --string S07 --crimp 04 pull_out_force=320N --u 5N --who "crew A" --when 2026-11-20
  crimprule history add --crimp "S07 / 04" crimp_height=2.11±0.01mm crimp_width=2.9±0.02mm --who "crew A" --when 2026-11-20
  crimprule history add --crimp 7 --trainee "trainee 3" torque="3.1 N m" --u "0.1 N m" --who trainer --when 2026-11-20 --new`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return wrongCall{cmd.CommandPath(), errors.New("no value given: write it as pull_out_force=320N")}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runHistoryAdd(cmd.Context(), opts, args, stdout)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

func runHistoryAdd(ctx context.Context, opts historyAddOptions, texts []string, stdout io.Writer) error {
	const command = "crimprule history add"
	values, err := opts.values(texts)
	if err != nil {
		return wrongCall{command, err}
	}
	return withHistory(ctx, command, opts.history, history.Options{Existing: true}, func(h *history.History) error {
		s, err := latestNamed(ctx, h, opts.crimpName, opts.made, opts.when)
		var unknown unknownCrimp
		switch {
		case errors.As(err, &unknown) && opts.fresh:
			s = history.Standing{Crimp: site.Crimp{Label: site.Label{String: opts.str, Trainee: opts.trainee, Crimp: opts.crimp, Date: opts.made}}}
			if s.Source, err = opts.place(ctx, h); err != nil {
				return wrongName(command, err)
			}
		case errors.As(err, &unknown):
			return wrongCall{command, fmt.Errorf("%w; a crimp without a picture is added with --new", err)}
		case err != nil:
			return wrongName(command, err)
		case s.Crimp.Label.Crimp == "":
			return wrongCall{command, fmt.Errorf("the picture %q stands for itself, it is not known which crimp it shows: name its crimp in the manifest (column crimp), "+
				"or scan again with --pattern '{crimp}', by which each file's name is its crimp, and add the value then", opts.crimp)}
		}
		if err := opts.twice(ctx, h, s, values); err != nil {
			return wrongName(command, err)
		}
		for _, v := range values {
			v.Source = s.Source
			if err := h.AddElsewhere(ctx, s.Crimp.Label, v); err != nil {
				return err
			}
		}
		if s.Crimp, err = judgedAnew(ctx, h, s); err != nil {
			return err
		}
		return terminal.New(stdout, io.Discard).HistoryAdded(s.Crimp, len(values))
	})
}

// twice refuses values that were added before: a slip that would count as two measurements.
func (o historyAddOptions) twice(ctx context.Context, h *history.History, s history.Standing, values []site.Elsewhere) error {
	if o.again {
		return nil
	}
	there, err := h.Elsewhere(ctx, s.Crimp.Label, s.Source)
	if err != nil {
		return err
	}
	for _, v := range values {
		for _, e := range there {
			if e.Withdrawn == "" && e.Key == v.Key && e.Value.Value == v.Value.Value && e.Value.U == v.Value.U && e.Who == v.Who && e.When == v.When && e.Made == v.Made {
				return fmt.Errorf("%q has this very value already: number %d, %s %s, by %s on %s; nothing was added. If it was measured a second time with this result, "+
					"say --again; if that one is wrong, withdraw it (crimprule history withdraw %d)",
					s.Crimp.Label.Name(), e.ID, wording.Name("", e.Key), wording.Quantity(e.Value), e.Who, e.When, e.ID)
			}
		}
	}
	return nil
}

// judgedAnew judges a crimp to which values were added.
func judgedAnew(ctx context.Context, h *history.History, s history.Standing) (site.Crimp, error) {
	if len(s.Crimp.Pictures) == 0 { // its limits are those of its like, which the history finds
		s, err := standingOf(ctx, h, history.Value{Label: s.Crimp.Label, Elsewhere: site.Elsewhere{Source: s.Source}})
		return s.Crimp, err
	}
	var err error
	if s.Crimp.Elsewhere, err = h.Elsewhere(ctx, s.Crimp.Label, s.Source); err != nil {
		return s.Crimp, err
	}
	err = h.NewJudge().Settle(ctx, &s)
	return s.Crimp, err
}

// values checks the options and reads the values.
func (o historyAddOptions) values(texts []string) ([]site.Elsewhere, error) {
	day, err := readDay("--when", o.when)
	if err == nil {
		_, err = readDay("--made", o.made)
	}
	now, clockErr := clock()
	if err == nil {
		err = clockErr
	}
	switch {
	case err != nil:
		return nil, err
	case o.crimp == "":
		return nil, errors.New("no crimp given: say which, as --crimp 04; all are in crimprule history list")
	case strings.TrimSpace(o.who) == "":
		return nil, errors.New("it is not said who measured it: add --who, as --who \"crew A\"")
	case o.when == "":
		return nil, errors.New("it is not said when it was measured: add --when, as --when 2026-11-20")
	case day.After(now().Add(24 * time.Hour)): // it may be tomorrow elsewhere
		return nil, fmt.Errorf("--when %s is still to come: say on which day it was measured", o.when)
	case o.made > o.when:
		return nil, fmt.Errorf("--made %s is after --when %s: a crimp is made before it is measured", o.made, o.when)
	case o.u != "" && len(texts) > 1:
		return nil, fmt.Errorf("--u %s cannot be that of %d values: write each as KEY=VALUE±U, such as crimp_height=2.11±0.01mm", o.u, len(texts))
	}
	var all []site.Elsewhere
	for _, text := range texts {
		e := site.Elsewhere{Who: o.who, When: o.when, Made: o.made, Note: o.note}
		key, value, found := strings.Cut(text, "=")
		if !found {
			return nil, fmt.Errorf("%q is no KEY=VALUE: write it as pull_out_force=320N", text)
		}
		value, u, err := splitU(value, o.u)
		if err != nil {
			return nil, err
		}
		if e.Key, e.Value, err = tolerance.ParseElsewhere(key, value, u); err != nil {
			return nil, err
		}
		all = append(all, e)
	}
	return all, nil
}

// number is what a quantity begins with, as it may be written; what follows is its unit.
var number = regexp.MustCompile(`^[+-]?[0-9.,]+(?:[eE][+-]?[0-9]+)?`)

// splitU takes "320±5N" apart into "320N" and "5N", and "320N±5N" likewise; where there is no ±, u is what --u says.
func splitU(value, u string) (plain, uncertainty string, err error) {
	before, after, found := strings.Cut(value, "±")
	switch {
	case !found:
		return value, u, nil
	case u != "":
		return "", "", fmt.Errorf("%q has its uncertainty already: leave out --u %s", value, u)
	}
	before, after = strings.TrimSpace(before), strings.TrimSpace(after)
	if number.ReplaceAllString(before, "") != "" {
		return before, after, nil // it has a unit of its own
	}
	return before + number.ReplaceAllString(after, ""), after, nil
}
