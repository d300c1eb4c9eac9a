package scan

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"runtime/debug"
	"strings"

	"crimprule/internal/history"
	"crimprule/vision/record"
)

// work does one job of the queue: the picture is copied into the evidence, measured unless the history knows it, judged,
// drawn, and its outcome noted. It may be called again for the same picture: then only what is missing is done. An error
// asks the queue to try again.
func (r *run) work(ctx context.Context, job history.Job, last bool) (err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = r.settle(ctx, history.Outcome{Position: job.Position, Failure: fmt.Sprintf("a fault of this program: %v (%s); please report it with the picture", fault, firstOwnLine(debug.Stack()))})
		}
	}()
	if job.Scan != r.scan || job.Position >= r.count() {
		return nil // left over from a call with more pictures
	}
	it := r.item(job.Position)
	outcome, err := r.measure(ctx, it, last)
	var fault writeError
	var lost *history.Fault
	var none *NoWorker
	switch {
	case errors.As(err, &lost), errors.As(err, &none):
		r.stop(err)
		return nil
	case errors.As(err, &fault):
		r.stop(fmt.Errorf("the evidence cannot be written to %q: %w", r.Out, fault.error))
		return nil
	case err != nil && (!last || ctx.Err() != nil):
		return err
	case err != nil:
		outcome = history.Outcome{Failure: err.Error()} // nobody tries again, and somebody waits
	}
	outcome.Position = job.Position
	return r.settle(ctx, outcome)
}

// settle notes an outcome and tells whoever waits for it. When the history cannot be written to, the scan ends.
func (r *run) settle(ctx context.Context, outcome history.Outcome) error {
	ctx = context.WithoutCancel(ctx) // what was found out is kept, even when time is up
	if err := r.history.Settle(ctx, r.scan, outcome); err != nil {
		r.stop(err)
		return nil
	}
	select {
	case r.settled <- outcome.Position:
	case <-r.gone:
	}
	return nil
}

// measure gives the outcome of one picture. The error is a writeError, a history.Fault, a NoWorker, or that of a worker
// process that died, to be tried again. Only what a worker process does is bounded by the picture's timeout: copying a large
// picture from a slow card is no fault of it.
func (r *run) measure(ctx context.Context, it item, last bool) (history.Outcome, error) {
	if it.Problem != "" {
		return history.Outcome{Failure: it.Problem}, nil
	}
	outcome, path, err := r.copy(it)
	if err != nil || outcome.Failure != "" {
		return outcome, err
	}
	outcome.Key = it.key(outcome.SHA256, r.Program)
	known, found, err := r.history.Find(ctx, outcome.Key)
	if err != nil {
		return outcome, err
	}
	overlay, thumb := it.drawings(outcome.SHA256, r.Program)
	var rec record.Record
	if found {
		outcome.Measurement, rec = known.ID, known.Record
	}
	looked, err := r.history.HasLook(ctx, outcome.SHA256)
	if err != nil {
		return outcome, err
	}
	if !found || !looked || !r.place.has(thumb) {
		task := Task{Look: !looked, Path: path, Name: it.File, Request: it.request, Limits: it.taskLimits(), Overlay: r.place.at(overlay), Thumb: r.place.at(thumb)}
		if found {
			if task.Known, err = json.Marshal(known.Record); err != nil {
				return outcome, err
			}
			task.Marks = known.Record.Marks
		}
		measuring, cancel := context.WithTimeout(ctx, r.Timeout)
		answer, err := r.pool.Do(measuring, task)
		cancel()
		if reason, gaveUp := givenUp(err, last); gaveUp {
			outcome.Failure = reason
			return outcome, nil
		}
		switch {
		case err != nil:
			return outcome, err
		case answer.Failure != "":
			outcome.Failure = answer.Failure
			return outcome, nil
		case answer.Unwritten != "":
			return outcome, writeError{unwritten(answer)}
		}
		outcome.Look = answer.Look
		if rec, err = Plain(answer.Record, answer.Marks); err != nil {
			return outcome, err
		}
	}
	rec.Image = it.File
	rec, outcome.Tolerances = it.limits.Judge(rec)
	outcome.Record, outcome.Tag = &rec, it.Label.Told(it.Origin, rec.Tag)
	return outcome, nil
}

// copy copies the picture into the evidence; what cannot be read is the picture's failure.
func (r *run) copy(it item) (outcome history.Outcome, path string, err error) {
	from, err := it.Open()
	if err != nil {
		outcome.Failure = notRead(it.File, err)
		return outcome, "", nil
	}
	defer func() { _ = from.Close() }()
	name := func(sha string) string { return filepath.Base(it.original(sha)) }
	outcome.SHA256, outcome.Bytes, err = keep(&bounded{from: from, name: it.File}, r.place.at("originals"), name)
	var reading readError
	if errors.As(err, &reading) {
		outcome.Failure = notRead(it.File, reading.error)
		return outcome, "", nil
	}
	if err != nil {
		return outcome, "", err
	}
	return outcome, r.place.at(it.original(outcome.SHA256)), nil
}

// notRead words why a picture's bytes cannot be read; what says already what to do is left as it is.
func notRead(file string, err error) string {
	var path *fs.PathError
	if errors.As(err, &path) {
		return unreadable(file, err)
	}
	return err.Error()
}

// givenUp tells whether a picture is given up after what a worker process did over it, and how to say so. A picture that
// takes too long would do so again; a process that died may have been ended for no fault of the picture's.
func givenUp(err error, last bool) (string, bool) {
	var died *Died
	var hung *Hung
	switch {
	case errors.As(err, &hung):
		return hung.Error() + ": call with a longer --timeout, or crop the picture to the crimp and its scale reference", true
	case errors.As(err, &died) && last:
		return fmt.Sprintf("%v, %d times over this picture: save it anew with another program, or take it again; if others fail the same way, "+
			"free memory and call with fewer --workers", died, attempts), true
	}
	return "", false
}

func unwritten(a Answer) error {
	if a.DiskFull {
		return fmt.Errorf("%s: %w", a.Unwritten, errDiskFull)
	}
	return errors.New(a.Unwritten)
}

// firstOwnLine is the first place of this program in a stack, below the recovery itself.
func firstOwnLine(stack []byte) string {
	lines := strings.Split(string(stack), "\n")
	past := false
	for _, line := range lines {
		past = past || strings.HasPrefix(line, "panic(")
		if past && strings.Contains(line, ".go:") && strings.Contains(line, "crimprule") {
			line = strings.TrimSpace(line)
			line, _, _ = strings.Cut(line, " ")
			return line[strings.LastIndexByte(line, '/')+1:]
		}
	}
	return "an unknown place"
}
