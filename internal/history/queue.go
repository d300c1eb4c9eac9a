package history

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivertype"
)

// Job is a picture of a scan that waits to be measured.
type Job struct {
	Scan     int64 `json:"scan"`
	Position int   `json:"position"`
	// Again asks for work on a picture that is settled, such as drawing what was lost.
	Again bool `json:"again,omitempty"`
}

// Kind names the kind of job to River.
func (Job) Kind() string { return "picture" }

// QueueOptions say how a queue works. Zero values stand for one worker a core and three attempts. There is no timeout:
// what may hang is bounded by who calls it, which knows what else an attempt does.
type QueueOptions struct {
	Workers  int
	Attempts int
}

// Work measures one picture and settles it. After an error the job is tried again until its attempts run out; last says
// that this is the last one. An error or a panic of the last attempt becomes the picture's failure, unless it was settled.
// A job may come twice (after a crash), but never once its picture is settled, unless it was asked for Again.
type Work func(ctx context.Context, job Job, last bool) error

// Queue works a scan's pictures, several at a time. It is River's, in the history's own database: order, attempts and
// pausing are its business. Each run of a scan has a queue of its own name there, so that what an earlier run left behind
// is in nobody's way.
type Queue struct {
	h      *History
	scan   int64
	run    int64
	o      QueueOptions
	work   Work
	client *river.Client[*sql.Tx]
	faults chan error
	faulty atomic.Bool
	once   sync.Once
	beat   context.CancelFunc
}

const (
	fetchEvery  = 5 * time.Millisecond // how long a free worker may wait for its next job
	keepJobs    = time.Minute          // done jobs are of no use: what came of them is in scan_pictures
	addAtOnce   = 500                  // jobs that go in with one transaction
	giveUpAfter = 5 * time.Second      // how long Stop waits where the history can no longer be written
)

// NewQueue makes a queue for a scan, and takes away what runs of killed processes left in theirs.
func (h *History) NewQueue(ctx context.Context, scan int64, o QueueOptions, work Work) (*Queue, error) {
	if h.write == nil {
		return nil, h.explain(ErrReadOnly)
	}
	if o.Workers <= 0 {
		o.Workers = runtime.NumCPU()
	}
	if o.Attempts <= 0 {
		o.Attempts = 3
	}
	run, err := h.beginRun(ctx, scan)
	if err != nil {
		return nil, err
	}
	q := &Queue{h: h, scan: scan, run: run, o: o, work: work, faults: make(chan error, 1), beat: func() {}}
	if q.client, err = river.NewClient(riversqlite.New(h.write), q.config()); err == nil {
		err = h.clearLeftOver(ctx)
	}
	if err != nil {
		h.endRun(ctx, run)
		return nil, h.explain(err)
	}
	return q, nil
}

func queueName(scan, run int64) string { return fmt.Sprintf("scan-%d-run-%d", scan, run) }

func (q *Queue) config() *river.Config {
	workers := river.NewWorkers()
	river.AddWorker(workers, &worker{q: q})
	return &river.Config{
		Queues:                      map[string]river.QueueConfig{queueName(q.scan, q.run): {MaxWorkers: q.o.Workers}},
		Workers:                     workers,
		MaxAttempts:                 q.o.Attempts,
		JobTimeout:                  -1, // none; then River's rescuer takes no job for stuck, which might be one of another scan's
		RetryPolicy:                 atOnce{},
		FetchCooldown:               fetchEvery,
		FetchPollInterval:           fetchEvery,
		PollOnly:                    true, // SQLite cannot tell of new jobs
		CompletedJobRetentionPeriod: keepJobs,
		CancelledJobRetentionPeriod: keepJobs,
		DiscardedJobRetentionPeriod: keepJobs,
		ReindexerSchedule:           never{},
		Logger:                      slog.New(faultHandler{q}),
	}
}

// atOnce lets a job be tried again without waiting: a worker that died says nothing about the next one. The moment must
// not have passed when River looks at it.
type atOnce struct{}

// NextRetry is part of River's interface.
func (atOnce) NextRetry(*rivertype.JobRow) time.Time { return time.Now().Add(50 * time.Millisecond) }

// never is a schedule for what shall not be done: indexes of SQLite need no rebuilding.
type never struct{}

// Next is part of River's interface.
func (never) Next(now time.Time) time.Time { return now.AddDate(100, 0, 0) }

// Add puts pictures into the queue, before or after Start.
func (q *Queue) Add(ctx context.Context, positions []int) error { return q.add(ctx, positions, false) }

// AddAgain puts settled pictures into the queue.
func (q *Queue) AddAgain(ctx context.Context, positions []int) error {
	return q.add(ctx, positions, true)
}

func (q *Queue) add(ctx context.Context, positions []int, again bool) error {
	name := queueName(q.scan, q.run)
	for len(positions) > 0 {
		n := min(len(positions), addAtOnce)
		batch := make([]river.InsertManyParams, n)
		for i, p := range positions[:n] {
			batch[i] = river.InsertManyParams{Args: Job{q.scan, p, again}, InsertOpts: &river.InsertOpts{Queue: name}}
		}
		if _, err := q.client.InsertManyFast(ctx, batch); err != nil {
			return q.h.explain(err)
		}
		positions = positions[n:]
	}
	return nil
}

// Start begins to work. When ctx ends, no more jobs begin and the contexts of the running ones end; call Stop all the
// same, it waits for them.
func (q *Queue) Start(ctx context.Context) error {
	if err := q.client.Start(ctx); err != nil {
		return q.h.explain(err)
	}
	beating, stop := context.WithCancel(context.WithoutCancel(ctx))
	q.beat = stop
	go q.keepAlive(beating)
	return nil
}

// Stop lets running jobs end and begins no more. It waits for them until ctx ends. What was not worked is pending. After
// a fault it ends the jobs' contexts and does not wait long: nothing can be noted any more.
func (q *Queue) Stop(ctx context.Context) error {
	if q.faulty.Load() {
		q.beat()
		giveUp, cancel := context.WithTimeout(ctx, giveUpAfter)
		defer cancel()
		err := q.client.StopAndCancel(giveUp)
		q.h.endRun(ctx, q.run)
		return q.h.explain(err)
	}
	if err := q.client.Stop(ctx); err != nil {
		return q.h.explain(err)
	}
	q.beat()
	var err error
	q.once.Do(func() {
		q.h.endRun(ctx, q.run)
		err = q.h.clearLeftOver(ctx)
	})
	return q.h.explain(err)
}

// Pause begins no more jobs until Resume. Both may take up to two seconds to be heeded.
func (q *Queue) Pause(ctx context.Context) error {
	return q.h.explain(q.client.QueuePause(ctx, queueName(q.scan, q.run), nil))
}

// Resume undoes Pause.
func (q *Queue) Resume(ctx context.Context) error {
	return q.h.explain(q.client.QueueResume(ctx, queueName(q.scan, q.run), nil))
}

// Faults tells at most once that the queue itself cannot go on, for instance since the disk is full: stop then.
func (q *Queue) Faults() <-chan error { return q.faults }

func (q *Queue) tell(fault error) {
	q.faulty.Store(true)
	select {
	case q.faults <- fault:
	default: // told already
	}
}

// worker hands a job to the queue's Work.
type worker struct {
	river.WorkerDefaults[Job]
	q *Queue
}

// Work is part of River's interface.
func (w *worker) Work(ctx context.Context, job *river.Job[Job]) error {
	settled, err := w.q.h.settled(ctx, job.Args)
	switch {
	case err != nil && ctx.Err() == nil:
		w.q.tell(err) // it would meet the next picture as well, and nobody would hear of this one any more
		return err
	case err != nil || settled && !job.Args.Again:
		return err
	}
	last := job.Attempt >= job.MaxAttempts
	err = w.guarded(ctx, job.Args, last)
	var fault *Fault
	if errors.As(err, &fault) {
		w.q.tell(fault)
	}
	if err == nil || !last {
		return err
	}
	return errors.Join(err, w.q.giveUp(ctx, job.Args, err))
}

// panicError is a panic of Work.
type panicError struct{ value any }

func (p panicError) Error() string {
	return fmt.Sprintf("a fault of this program while the picture was measured: %v; please report it with the picture", p.value)
}

func (w *worker) guarded(ctx context.Context, job Job, last bool) (err error) {
	defer func() {
		if value := recover(); value != nil {
			err = panicError{value}
		}
	}()
	return w.q.work(ctx, job, last)
}

// giveUp settles a picture whose attempts have run out without an outcome, so that no scan waits for it for ever. It
// does not where the history or the whole call came to its end.
func (q *Queue) giveUp(ctx context.Context, job Job, reason error) error {
	var fault *Fault
	if errors.As(reason, &fault) || errors.Is(context.Cause(ctx), context.Canceled) || errors.Is(reason, context.Canceled) {
		return nil
	}
	ctx = context.WithoutCancel(ctx)
	if settled, err := q.h.settled(ctx, job); err != nil || settled {
		return err
	}
	return q.h.Settle(ctx, job.Scan, Outcome{Position: job.Position, Failure: reason.Error()})
}

// settled tells whether something has come of a picture.
func (h *History) settled(ctx context.Context, job Job) (bool, error) {
	var when string
	err := h.read.QueryRowContext(ctx, `SELECT settled FROM scan_pictures WHERE scan = ? AND position = ?`, job.Scan, job.Position).Scan(&when)
	if errors.Is(err, sql.ErrNoRows) {
		return true, nil // the scan was taken up again without it
	}
	return when != "", h.explain(err)
}

// faultHandler keeps the queue silent, and listens for what makes it unable to go on.
type faultHandler struct{ q *Queue }

// Enabled is part of slog's interface.
func (faultHandler) Enabled(_ context.Context, level slog.Level) bool {
	return level >= slog.LevelError
}

// WithAttrs is part of slog's interface.
func (f faultHandler) WithAttrs([]slog.Attr) slog.Handler { return f }

// WithGroup is part of slog's interface.
func (f faultHandler) WithGroup(string) slog.Handler { return f }

// Handle is part of slog's interface.
func (f faultHandler) Handle(_ context.Context, r slog.Record) error {
	r.Attrs(func(a slog.Attr) bool {
		fault := f.q.h.explainText(a.Value.String())
		if fault == nil {
			return true
		}
		f.q.tell(fault)
		return false
	})
	return nil
}
