package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/advice"
	"crimprule/internal/evidence"
	"crimprule/internal/scan"
	"crimprule/internal/site"
	"crimprule/internal/statistics"
	"crimprule/internal/terminal"
	"crimprule/vision/record"
)

// scanOptions is the command line of `scan`, as the user wrote it.
type scanOptions struct {
	json       bool
	manifest   string
	pattern    string
	view       string
	scales     []string
	declare    []string
	tolerances []string
	out        string
	history    string
	title      string
	workers    int
	timeout    time.Duration
	watch      bool
	lotSize    int
	aql        float64
	level      string
}

func (o *scanOptions) addFlags(f *pflag.FlagSet) {
	o.addPictures(f)
	o.addPlaces(f)
	o.addWork(f)
	f.BoolVar(&o.watch, "watch", false, "go on with pictures that are copied into the folder, changed there or taken away, until\ninterrupted (Ctrl-C)")
	f.IntVar(&o.lotSize, "lot-size", 0, "judge the scan as a sample of a lot of `N` crimps (see crimprule lot)")
	f.Float64Var(&o.aql, "aql", 1.0, "the acceptance quality limit of the lot, in `PERCENT` nonconforming")
	f.StringVar(&o.level, "level", "II", "the inspection `LEVEL` of the lot: I, II or III")
	f.BoolVar(&o.json, "json", false, "print the record of each picture as JSON, one a line, in the order of the pictures")
	f.SortFlags = false
}

// addPictures adds the options that say what the pictures show and how they are measured and judged.
func (o *scanOptions) addPictures(f *pflag.FlagSet) {
	f.StringVar(&o.manifest, "manifest", "", "read from this CSV `FILE` which crimp each picture shows; columns: file, and any of\n"+
		"crimp, view, scale, declare, tolerances, string, crew, tool, trainee, date, own_verdict,\n"+
		"note. Without it manifest.csv in the folder or ZIP, and in folders below, is read")
	f.StringVar(&o.pattern, "pattern", "", "how files are named, as `PATTERN`: {string}_{crimp}_{view} reads N03_04_side.jpg; fields:\n"+
		"string, crimp, view, crew, tool, trainee, date, and {} for what does not matter. It counts\n"+
		"where neither the manifest nor a tag on the card says which crimp it is")
	f.StringVar(&o.view, "view", string(record.Auto), "how the parts are looked at, where the manifest or the name does not say: `VIEW` is auto\n"+
		"(told by each picture), seam, side, strip or section")
	f.StringArrayVar(&o.scales, "scale", nil, "the scale reference, as `KIND=VALUE`, where the manifest does not say: chessboard=5mm,\n"+
		"rule=1mm, disc=20mm, bar=500um or known=2.05um/px; repeat it where pictures have several")
	f.StringArrayVar(&o.declare, "declare", nil, "what is known of the parts, as `KEY=VALUE`; see crimprule measure --help")
	f.StringArrayVar(&o.tolerances, "tolerances", nil, "judge by the limits in this `FILE`; repeat it for each view")
}

// addWork adds the options that say how hard to work.
func (o *scanOptions) addWork(f *pflag.FlagSet) {
	f.IntVar(&o.workers, "workers", runtime.NumCPU(), "measure in `N` processes at once")
	f.DurationVar(&o.timeout, "timeout", time.Minute, "give up measuring a picture after this `TIME`")
}

// addPlaces adds the options that say where results go.
func (o *scanOptions) addPlaces(f *pflag.FlagSet) {
	f.StringVar(&o.out, "out", "", "write the evidence to the folder `DIR`; default: the name of the scanned folder or ZIP with\n-evidence, beside it")
	f.StringVar(&o.history, "history", "", "keep what was measured in this SQLite `FILE`; default: the name of the scanned folder or ZIP\nwith -history.db, beside it")
	f.StringVar(&o.title, "title", "", "what the evidence is about, as `TEXT`; default: the folder's name")
}

const scanExitHelp = `
Exit status:
  0  every picture has a record, every crimp conforms (or nothing was to be judged), and the
     evidence is written
  1  a picture could not be read, or something could not be written (this outranks 3)
  2  the call, the manifest or a tolerances file is wrong; nothing was measured
  3  with limits: a crimp does not conform, is not proven, not measured or not judged, or one
     that was so in an earlier scan of the same place is not among the pictures any more
  130  interrupted; call again to go on. With --watch an interrupt is the usual end, and the status
     is that of what was measured, unless pictures are still waiting to be`

func newScanCommand(stdout, stderr io.Writer) *cobra.Command {
	var opts scanOptions
	cmd := &cobra.Command{
		Use:   "scan FOLDER|PICTURE|ZIP...",
		Short: "Measure all pictures of a site, and write the evidence",
		Long: `Measure and judge all pictures in folders and ZIP files, several at once, and write the evidence: a
page (index.html), a PDF, a table (crimps.csv), records (records.jsonl) and a manifest of checksums.

Pictures of one crimp are put together: as the manifest says, else by the tag on the card in the
picture (crimprule card --tag), else by the file's name (--pattern); else each is a crimp of its own. A
tag that names another crimp than the manifest or the name is a doubt: the crimp is then not proven.
A crimp is as good as its worst feature in any of its pictures; a picture that was refused does not
count where the same view was taken again. A crimp of a later date (manifest or file name) replaces the
one of its string and name before, which is shown and no longer asked for; with a trainee it is one more.

A scan that was interrupted, or killed, goes on where it was when it is called again. What was measured
once, by the same version with the same options, is not measured again: it lies in the history, a
SQLite file that keeps every record for good (crimprule history). Every file is accounted for: one that
cannot be read is named with the reason.
` + scanExitHelp,
		Example: `  crimprule scan photos --scale chessboard=5mm --tolerances limits.yaml
  crimprule scan photos --scale rule=1mm --tolerances seam.yaml --tolerances side.yaml --pattern '{string}_{crimp}_{view}'
  crimprule scan site.zip --manifest site.csv --tolerances limits.yaml --out handover --history site-history.db
  crimprule scan photos --scale chessboard=5mm --tolerances limits.yaml --lot-size 500 --aql 1.0
  crimprule scan card/DCIM --scale chessboard=5mm --tolerances limits.yaml --watch`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return wrongCall{cmd.CommandPath(), errors.New("nothing to scan: name a folder, a ZIP file or pictures")}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runScan(cmd.Context(), opts, args, stdout, stderr)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

// runScan scans and prints how it ended. The error is a wrongCall before anything was measured; else errUnreadable,
// errNotConforming, the context's, or says what could not be written.
func runScan(ctx context.Context, opts scanOptions, sources []string, stdout, stderr io.Writer) error {
	o, err := opts.order(sources)
	if err != nil {
		return wrongCall{"crimprule scan", err}
	}
	return runScanOf(ctx, "crimprule scan", o, &scanning{json: opts.json, stdout: stdout, term: terminal.New(stdout, stderr)})
}

func runScanOf(ctx context.Context, command string, o scan.Options, s *scanning) error {
	err := scan.Run(ctx, o, s)
	var wrong scan.CallError
	switch {
	case errors.As(err, &wrong):
		return wrongCall{command, wrong.Err}
	case err != nil:
		return err
	case s.unreadable > 0:
		return errUnreadable
	case s.notConforming:
		return errNotConforming
	}
	return nil
}

// order turns the command line into what the scan is told.
func (o scanOptions) order(sources []string) (scan.Options, error) {
	view, err := readView(o.view)
	if err != nil {
		return scan.Options{}, err
	}
	if o.workers < 1 || o.workers > maxWorkers {
		return scan.Options{}, fmt.Errorf("--workers %d: name a number from 1 to %d; %d fit this machine", o.workers, maxWorkers, runtime.NumCPU())
	}
	if o.timeout < time.Second {
		return scan.Options{}, fmt.Errorf("--timeout %s: a picture needs a second or more; usual is 1m", o.timeout)
	}
	program, err := programName()
	if err != nil {
		return scan.Options{}, err
	}
	now, err := clock()
	if err != nil {
		return scan.Options{}, err
	}
	so := scan.Options{Sources: sources, Manifest: o.manifest, Pattern: o.pattern, View: view, Scales: o.scales, Declare: o.declare, Tolerances: o.tolerances,
		Workers: o.workers, Timeout: o.timeout, Worker: workerCommand(o.workers), Check: checkRequest,
		Out: o.out, History: o.history, Program: program, Title: o.title, Now: now, Watch: o.watch}
	site := siteName(sources)
	if so.Out == "" {
		so.Out = site + "-evidence"
	}
	if so.History == "" {
		so.History = site + "-history.db"
	}
	if so.Title == "" {
		so.Title = strings.TrimSuffix(filepath.Base(site), filepath.Ext(site))
		if info, err := os.Stat(site); err == nil && info.IsDir() {
			so.Title = filepath.Base(site)
		}
	}
	if o.lotSize != 0 {
		if _, err := statistics.LotPlan(o.lotSize, o.level, o.aql); err != nil {
			return scan.Options{}, err
		}
		so.Lot = &evidence.Lot{Size: o.lotSize, AQL: o.aql, Level: o.level}
	}
	return so, nil
}

const maxWorkers = 256

// siteName is the path that results are named after: the scanned folder or ZIP, or, where pictures are named one by one,
// the folder that holds the first.
func siteName(sources []string) string {
	path := filepath.Clean(sources[0])
	if abs, err := filepath.Abs(path); err == nil && (path == "." || path == ".." || strings.HasSuffix(path, "/..")) {
		path = abs
	}
	info, err := os.Stat(path)
	switch {
	case err == nil && info.IsDir():
		return path
	case strings.EqualFold(filepath.Ext(path), ".zip"):
		return path // with its ending, since the folder that it was packed from may lie beside it
	}
	return filepath.Join(filepath.Dir(path), "pictures")
}

// checkRequest says whether pictures can be measured as asked, before any is.
func checkRequest(r scan.Request) error {
	_, err := readScales(r.View, r.Scales)
	return err
}

// ownImage is this very program on Linux, even where its file was removed or replaced meanwhile, as by an update: no scan
// mixes what two versions measure.
const ownImage = "/proc/self/exe"

// workerCommand gives worker processes of this program. The machine's cores are shared out among them.
func workerCommand(workers int) func() *exec.Cmd {
	return func() *exec.Cmd {
		path := ownImage
		if _, err := os.Stat(path); err != nil {
			if path, err = os.Executable(); err != nil {
				path = os.Args[0]
			}
		}
		cmd := exec.Command(path, "worker") //nolint:gosec // this program itself
		cmd.Args[0] = os.Args[0]
		cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // Ctrl-C is for the scan, which lets them end their pictures
		cmd.Env = append(os.Environ(), fmt.Sprintf("GOMAXPROCS=%d", max(1, runtime.NumCPU()/workers)))
		return cmd
	}
}

// lastSecond is the end of the year 9999, beyond which dates have no form that all readers know.
const lastSecond = 253402300799

// clock is the time for what is written into evidence and history. SOURCE_DATE_EPOCH, seconds since 1970, sets it, so that
// two scans of the same pictures can give the same bytes (https://reproducible-builds.org/specs/source-date-epoch).
func clock() (func() time.Time, error) {
	text := os.Getenv("SOURCE_DATE_EPOCH")
	if text == "" {
		return time.Now, nil
	}
	seconds, err := strconv.ParseUint(text, 10, 63)
	if err != nil || seconds > lastSecond {
		return nil, fmt.Errorf("SOURCE_DATE_EPOCH=%q is no number of seconds since 1970, 0 to %d: set it to one, as `date +%%s` prints it, or unset it", text, lastSecond)
	}
	return func() time.Time { return time.Unix(int64(seconds), 0).UTC() }, nil //nolint:gosec // below lastSecond
}

// scanning tells people, or a program that reads JSON, how a scan goes on.
type scanning struct {
	json          bool
	quiet         bool // nothing on stdout
	stdout        io.Writer
	term          *terminal.Terminal
	progress      *terminal.Progress
	listing       *scan.Listing
	unreadable    int
	notConforming bool
}

// Begun shows the progress.
func (s *scanning) Begun(pictures, known int, listing *scan.Listing) {
	s.listing = listing
	s.term.ScanBegins(pictures, known, listing.LeftAlone, listing.Manifests)
	s.term.Notes(listing.Notes)
	s.progress = s.term.Progress(pictures, known)
}

// Settled moves the progress on.
func (s *scanning) Settled(known int) { s.progress.Set(known) }

// Picture names a picture that has no record, and prints the record of another one where that is wanted.
func (s *scanning) Picture(p site.Picture) error {
	if p.Record == nil {
		s.progress.Hide()
		s.term.ComplainOfPicture(p.File, errors.New(p.Failure))
		return nil
	}
	if !s.json {
		return nil
	}
	line, err := json.Marshal(p.Record)
	if err != nil {
		return err
	}
	s.progress.Hide()
	_, err = s.stdout.Write(append(line, '\n'))
	return toStdout(err)
}

// toStdout says of an error in printing that it is one: the disk that is full may be another one than that of the evidence.
func toStdout(err error) error {
	if err == nil {
		return nil
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return fmt.Errorf("standard output: %w; what was measured is kept, see where the output goes to, and call again", err)
}

// Changed names what a watched folder has otherwise now.
func (s *scanning) Changed(again, gone []string) {
	s.progress.Hide()
	s.term.ScanChanged(again, gone)
}

// Waiting says what keeps a watched folder from being looked through.
func (s *scanning) Waiting(why error) {
	s.progress.Hide()
	s.term.Waiting(why)
}

// Written prints what is to be done.
func (s *scanning) Written(r scan.Result) error {
	s.progress.Hide()
	s.unreadable, s.notConforming = r.Unreadable, len(r.Missing) > 0
	report := terminal.ScanReport{Pictures: r.Pictures, Unreadable: r.Unreadable, Out: r.Out, History: r.History, Missing: r.Missing, Replaced: r.Replaced, Refused: r.Refused, Cautions: advice.Below(r.Views...)}
	for _, c := range r.Crimps {
		s.notConforming = s.notConforming || r.Judged && c.Result != record.Conforms && c.Replaced == ""
		report.Crimps = append(report.Crimps, terminal.ScanLine{Number: c.Number, Name: c.Name, Result: c.Result, Why: c.Why,
			Doubt: c.Doubt, Stripped: c.Stripped, PutRight: c.PutRight, Cut: c.Cut, Tested: c.Tested, Remarks: c.Remarks, Replaced: c.Replaced})
	}
	report.Untested = r.Summary.Untested
	report.Question, report.Answer, report.Practice, report.Manifest = r.Summary.Question, r.Summary.Answer, r.Summary.Practice, r.Summary.Manifest
	if lot := r.Summary.Lot; lot != nil {
		report.Lot = lot.Head
	}
	if r.Summary.Judged > 0 {
		report.Yield = fmt.Sprintf("Yield: %d of %d judged crimps conform, %.1f %%; the true share lies between %.1f and %.1f %% (95 %%, Clopper-Pearson)",
			r.Summary.Conforming, r.Summary.Judged, 100*float64(r.Summary.Conforming)/float64(r.Summary.Judged), 100*r.Summary.Low, 100*r.Summary.High)
		if n := r.Summary.LeftOut; n > 0 {
			report.Yield += "; " + evidence.LeftOut(n)
		}
	}
	if s.json || s.quiet {
		return nil
	}
	return toStdout(s.term.Scan(report))
}
