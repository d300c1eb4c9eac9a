package history

import (
	"context"
	"database/sql"
	"os"
	"time"
)

// A run is a process that works on a scan. Its row tells the next start whether it is still there: on the same machine
// by its process, from another one by when it was last seen.
type run struct {
	id, scan   int64
	host       string
	pid        int
	born, seen string
}

const (
	beatEvery = 2 * time.Second
	goneAfter = time.Minute // a run on another machine that was not seen for so long is no more
)

func (h *History) beginRun(ctx context.Context, scan int64) (id int64, err error) {
	host, err := os.Hostname()
	if err != nil {
		host = ""
	}
	err = h.change(ctx, func(tx *sql.Tx) error {
		if err := refuseRunning(ctx, tx, scan); err != nil {
			return err
		}
		now := stamp(time.Now()) // not the history's clock, which may stand still: this one tells life from death
		result, err := tx.ExecContext(ctx, `INSERT INTO runs (scan, host, pid, born, seen) VALUES (?, ?, ?, ?, ?)`, scan, host, os.Getpid(), bornAt(os.Getpid()), now)
		if err != nil {
			return err
		}
		id, err = result.LastInsertId()
		return err
	})
	if err == nil {
		h.mu.Lock()
		h.runs[id] = true
		h.mu.Unlock()
	}
	return id, err
}

// endRun notes that a run has come to its end. It does what it can: a run that is not noted so is found dead later.
func (h *History) endRun(ctx context.Context, id int64) {
	h.mu.Lock()
	delete(h.runs, id)
	h.mu.Unlock()
	_, _ = h.write.ExecContext(context.WithoutCancel(ctx), `UPDATE runs SET ended = ? WHERE id = ?`, stamp(time.Now()), id)
}

// endRuns ends those that were not stopped.
func (h *History) endRuns(ctx context.Context) {
	h.mu.Lock()
	var open []int64
	for id := range h.runs {
		open = append(open, id)
	}
	h.mu.Unlock()
	for _, id := range open {
		h.endRun(ctx, id)
	}
}

// keepAlive shows other machines that a run is there, looks whether the history's file is, and makes jobs due that a clock
// which was set back has put into the future. A beat that fails is made up for by the next one.
func (q *Queue) keepAlive(ctx context.Context) {
	tick := time.NewTicker(beatEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if err := q.h.Present(); err != nil {
			q.tell(err)
			return
		}
		_, _ = q.h.write.ExecContext(ctx, `UPDATE runs SET seen = ? WHERE id = ?`, stamp(time.Now()), q.run)
		_, _ = q.h.write.ExecContext(ctx, `UPDATE river_job SET state = 'available', scheduled_at = datetime('now', 'subsec')
			WHERE queue = ? AND state IN ('available', 'retryable', 'scheduled') AND scheduled_at > datetime('now', 'subsec', '+1 seconds')`,
			queueName(q.scan, q.run))
	}
}

// querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// openRuns gives the runs that are not noted as ended, of one scan or, for 0, of all.
func openRuns(ctx context.Context, db querier, scan int64) ([]run, error) {
	rows, err := db.QueryContext(ctx, `SELECT id, scan, host, pid, born, seen FROM runs WHERE ended = '' AND (? = 0 OR scan = ?) ORDER BY id`, scan, scan)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	var runs []run
	for rows.Next() {
		var r run
		if err := rows.Scan(&r.id, &r.scan, &r.host, &r.pid, &r.born, &r.seen); err != nil {
			return nil, err
		}
		runs = append(runs, r)
	}
	return runs, rows.Err()
}

func (r run) alive() bool {
	if host, err := os.Hostname(); err == nil && host == r.host {
		return running(r.pid, r.born)
	}
	return time.Since(unstamp(r.seen)) < goneAfter
}

// refuseRunning gives a RunningError where another process works on a scan.
func refuseRunning(ctx context.Context, tx *sql.Tx, scan int64) error {
	runs, err := openRuns(ctx, tx, scan)
	if err != nil {
		return err
	}
	for _, r := range runs {
		if r.alive() {
			return &RunningError{Scan: scan, PID: r.pid, Host: r.host, Since: unstamp(r.seen)}
		}
	}
	return nil
}

// clearLeftOver takes away the jobs of all runs that have ended or whose process is no more. Their pictures are pending and
// go into the queue of a new run; the old jobs are in queues that nobody works, and those that count as running, as a killed
// process leaves them, River would never delete.
func (h *History) clearLeftOver(ctx context.Context) error {
	runs, err := openRuns(ctx, h.write, 0)
	if err != nil {
		return err
	}
	for _, r := range runs {
		if !r.alive() {
			h.endRun(ctx, r.id)
		}
	}
	_, err = h.write.ExecContext(ctx, `DELETE FROM river_job WHERE queue NOT IN (SELECT 'scan-' || scan || '-run-' || id FROM runs WHERE ended = '')`)
	return err
}
