package history

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

// settleAll is work that settles each picture at once.
func settleAll(h *History) Work {
	return func(ctx context.Context, job Job, _ bool) error {
		o := outcomeOf(job.Position)
		return h.Settle(ctx, job.Scan, o)
	}
}

func waitUntil(t testing.TB, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !done(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited in vain until %s", what)
		}
	}
}

func nonePending(t testing.TB, h *History, scan int64) func() bool {
	return func() bool {
		pending, err := h.Pending(context.Background(), scan)
		require.NoError(t, err)
		return len(pending) == 0
	}
}

func positions(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

func TestQueueWorksAll(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	const n = 60
	id := begin(t, h, someEntries(n))
	var at, most atomic.Int32
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2}, func(ctx context.Context, job Job, last bool) error {
		if now := at.Add(1); now > most.Load() {
			most.Store(now)
		}
		defer at.Add(-1)
		time.Sleep(time.Millisecond)
		return settleAll(h)(ctx, job, last)
	})
	require.NoError(t, err)
	require.NoError(t, q.Add(ctx, positions(n/2)))
	require.NoError(t, q.Start(ctx))
	require.NoError(t, q.Add(ctx, positions(n)[n/2:]))
	waitUntil(t, "all are settled", nonePending(t, h, id))
	require.NoError(t, q.Stop(ctx))
	assert.EqualValues(t, 2, most.Load(), "two at once")
	var jobs, runs int
	require.NoError(t, h.read.QueryRow(`SELECT count(*), (SELECT count(*) FROM runs WHERE ended = '') FROM river_job`).Scan(&jobs, &runs))
	assert.Zero(t, jobs, "nothing is left in the queue")
	assert.Zero(t, runs)
}

func TestQueueTriesAgain(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(5))
	var mu sync.Mutex
	tries := map[int][]bool{}
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2, Attempts: 2}, func(ctx context.Context, job Job, last bool) error {
		mu.Lock()
		tries[job.Position] = append(tries[job.Position], last)
		first := len(tries[job.Position]) == 1
		mu.Unlock()
		switch job.Position {
		case 0: // comes right
			if first {
				return errors.New("a worker died")
			}
		case 1:
			return fmt.Errorf("it is no picture: leave it out")
		case 2:
			panic("oh")
		case 3:
			return fmt.Errorf("a time of its own was over: %w", context.DeadlineExceeded)
		case 4: // settles by itself what it cannot do, and complains
			require.NoError(t, h.Settle(ctx, job.Scan, Outcome{Position: 4, Failure: "said by the work itself"}))
			return errors.New("again")
		}
		return settleAll(h)(ctx, job, last)
	})
	require.NoError(t, err)
	require.NoError(t, q.Add(ctx, positions(5)))
	require.NoError(t, q.Start(ctx))
	waitUntil(t, "all are settled", nonePending(t, h, id))
	require.NoError(t, q.Stop(ctx))
	for n := range 4 {
		assert.Equal(t, []bool{false, true}, tries[n], "picture %d", n)
	}
	assert.Equal(t, []bool{false}, tries[4], "what is settled is not worked again")
	p, err := h.Picture(ctx, id, 0)
	require.NoError(t, err)
	assert.Equal(t, record.Conforms, p.Record.Verdict.Result)
	for n, want := range map[int]string{1: "it is no picture: leave it out", 2: "a fault of this program while the picture was measured: oh; please report it",
		3: "a time of its own was over", 4: "said by the work itself"} {
		p, err := h.Picture(ctx, id, n)
		require.NoError(t, err)
		assert.Contains(t, p.Failure, want)
		assert.Nil(t, p.Record)
	}
}

// Stop lets running jobs end; a context that ends makes them end. Neither makes a failure of a picture.
func TestQueueStops(t *testing.T) {
	for _, cut := range []bool{false, true} {
		ctx, h := context.Background(), fresh(t)
		id := begin(t, h, someEntries(10))
		started := make(chan bool, 10)
		q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 1, Attempts: 1}, func(ctx context.Context, job Job, last bool) error {
			started <- true
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-time.After(200 * time.Millisecond):
			}
			return settleAll(h)(ctx, job, last)
		})
		require.NoError(t, err)
		working, cancel := context.WithCancel(ctx)
		require.NoError(t, q.Add(ctx, positions(10)))
		require.NoError(t, q.Start(working))
		<-started
		if cut {
			cancel()
		}
		require.NoError(t, q.Stop(ctx))
		cancel()
		pending, err := h.Pending(ctx, id)
		require.NoError(t, err)
		if cut {
			assert.Len(t, pending, 10, "given up half way")
		} else {
			assert.Len(t, pending, 9, "the running one came to its end")
		}
	}
}

func TestQueuePauses(t *testing.T) {
	t.Parallel()
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(3))
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 1}, settleAll(h))
	require.NoError(t, err)
	require.NoError(t, q.Start(ctx))
	defer func() { _ = q.Stop(ctx) }()
	require.NoError(t, q.Pause(ctx))
	time.Sleep(2500 * time.Millisecond)
	require.NoError(t, q.Add(ctx, positions(3)))
	time.Sleep(300 * time.Millisecond)
	pending, err := h.Pending(ctx, id)
	require.NoError(t, err)
	assert.Len(t, pending, 3)
	require.NoError(t, q.Resume(ctx))
	waitUntil(t, "all are settled", nonePending(t, h, id))
}

func TestSameScanTwiceIsRefused(t *testing.T) {
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(1))
	q, err := h.NewQueue(ctx, id, QueueOptions{}, settleAll(h))
	require.NoError(t, err)
	other := open(t, h.Path())
	_, _, err = other.Begin(ctx, demoScan, someEntries(1))
	var running *RunningError
	require.ErrorAs(t, err, &running)
	assert.Contains(t, err.Error(), "is being worked on by process")
	require.NoError(t, q.Stop(ctx))
	_, resumed, err := other.Begin(ctx, demoScan, someEntries(1))
	require.NoError(t, err)
	assert.True(t, resumed)
}

func BenchmarkQueue(b *testing.B) {
	for _, job := range []time.Duration{0, 100 * time.Millisecond} {
		b.Run(fmt.Sprintf("jobs of %s", job), func(b *testing.B) {
			ctx, h := context.Background(), fresh(b)
			id := begin(b, h, someEntries(b.N))
			var done atomic.Int64
			all := make(chan bool)
			q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2}, func(context.Context, Job, bool) error {
				time.Sleep(job)
				if done.Add(1) == int64(b.N) {
					close(all)
				}
				return nil
			})
			require.NoError(b, err)
			b.ResetTimer()
			require.NoError(b, q.Add(ctx, positions(b.N)))
			require.NoError(b, q.Start(ctx))
			<-all
			b.StopTimer()
			b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)-float64(job.Milliseconds())/2, "ms-overhead/job")
			require.NoError(b, q.Stop(ctx))
		})
	}
}

// With a timeout, River's rescuer would take jobs for stuck by it, also those of another scan on the same history whose
// pictures may take longer.
func TestNoJobIsRescued(t *testing.T) {
	c := (&Queue{o: QueueOptions{Workers: 1, Attempts: 1}}).config()
	assert.Negative(t, c.JobTimeout)
}

// A clock that is set back leaves jobs that seem to be due later.
func TestAClockThatIsSetBackStopsNothing(t *testing.T) {
	t.Parallel()
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(6))
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2}, settleAll(h))
	require.NoError(t, err)
	require.NoError(t, q.Add(ctx, positions(6)))
	for i, state := range []string{"available", "retryable", "scheduled"} {
		_, err = h.write.Exec(`UPDATE river_job SET state = ?, scheduled_at = datetime('now', 'subsec', '+2 hours') WHERE id % 3 = ?`, state, i)
		require.NoError(t, err)
	}
	require.NoError(t, q.Start(ctx))
	waitUntil(t, "all are settled", nonePending(t, h, id))
	require.NoError(t, q.Stop(ctx))
}

// Where the history cannot even tell which pictures are settled, no picture is waited for.
func TestAHistoryThatCannotBeReadIsAFault(t *testing.T) {
	t.Parallel()
	ctx, h := context.Background(), fresh(t)
	id := begin(t, h, someEntries(2))
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 1, Attempts: 1}, settleAll(h))
	require.NoError(t, err)
	require.NoError(t, q.Add(ctx, positions(2)))
	_, err = h.write.Exec(`ALTER TABLE scan_pictures RENAME TO elsewhere_pictures`)
	require.NoError(t, err)
	require.NoError(t, q.Start(ctx))
	assert.ErrorContains(t, faultOf(t, q), "no such table")
	_ = q.Stop(ctx)
}

func faultOf(t *testing.T, q *Queue) error {
	t.Helper()
	select {
	case fault := <-q.Faults():
		return fault
	case <-time.After(time.Minute):
		require.Fail(t, "nothing was said")
		return nil
	}
}

// SQLite goes on with a file that was deleted, and nothing of it is there in the end.
func TestAHistoryThatWasDeletedOrReplacedIsAFault(t *testing.T) {
	t.Parallel()
	for _, replaced := range []bool{false, true} {
		ctx, h := context.Background(), fresh(t)
		id := begin(t, h, someEntries(2))
		q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 1}, settleAll(h))
		require.NoError(t, err)
		require.NoError(t, q.Start(ctx))
		require.NoError(t, h.Present())
		if replaced {
			other := fresh(t)
			require.NoError(t, other.Close())
			require.NoError(t, os.Rename(other.Path(), h.Path()))
		} else {
			require.NoError(t, os.Remove(h.Path()))
		}
		for _, err := range []error{h.Present(), h.Finish(ctx, id), faultOf(t, q)} {
			var fault *Fault
			require.ErrorAs(t, err, &fault)
			assert.ErrorContains(t, err, "was deleted or replaced while it was in use")
		}
		_ = q.Stop(ctx)
	}
}
