package history

import (
	"bufio"
	"context"
	"fmt"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The test binary is its own child: a process that works on a scan until it is killed.
func TestMain(m *testing.M) {
	if path := os.Getenv("HISTORY_TEST_CHILD"); path != "" {
		if err := child(path, os.Getenv("HISTORY_TEST_HANG")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

const killed = 200 // pictures of the scan that is killed

// child works the pending pictures; where hang is not empty, those after the twentieth never end.
func child(path, hang string) error {
	ctx := context.Background()
	h, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	if err := h.KeepTolerances(ctx, demoTolerances); err != nil {
		return err
	}
	id, _, err := h.Begin(ctx, demoScan, someEntries(killed))
	if err != nil {
		return err
	}
	pending, err := h.Pending(ctx, id)
	if err != nil {
		return err
	}
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2}, func(ctx context.Context, job Job, last bool) error {
		if hang != "" && job.Position >= 20 {
			fmt.Println("hangs at", job.Position)
			<-ctx.Done()
			return ctx.Err()
		}
		return settleAll(h)(ctx, job, last)
	})
	if err != nil {
		return err
	}
	if err := q.Add(ctx, pending); err != nil {
		return err
	}
	fmt.Println("starts with", len(pending))
	if err := q.Start(ctx); err != nil {
		return err
	}
	for {
		if pending, err := h.Pending(ctx, id); err != nil || len(pending) == 0 {
			fmt.Println("done")
			return err
		}
		time.Sleep(time.Millisecond)
	}
}

// startChild starts a child and reads what it prints.
func startChild(t *testing.T, path, hang string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "HISTORY_TEST_CHILD="+path, "HISTORY_TEST_HANG="+hang)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	return cmd, bufio.NewScanner(out)
}

// A process is killed while two jobs run. The next one takes the scan up at once, works each picture that is left once,
// and no job of the killed one comes back.
func TestKilledWhileWorking(t *testing.T) {
	path := filepath.Join(t.TempDir(), "site-history.db")
	cmd, out := startChild(t, path, "yes")
	for hanging := 0; hanging < 2 && out.Scan(); {
		if strings.HasPrefix(out.Text(), "hangs") {
			hanging++
		}
	}
	ctx := context.Background()
	h := open(t, path)
	_, _, err := h.Begin(ctx, demoScan, someEntries(killed))
	var busy *RunningError
	require.ErrorAs(t, err, &busy, "it is being worked on")
	assert.Equal(t, cmd.Process.Pid, busy.PID)

	require.NoError(t, cmd.Process.Kill())
	waitUntil(t, "the process is gone, though nobody waited for it", func() bool { return !running(cmd.Process.Pid, bornAt(cmd.Process.Pid)) })
	begun := time.Now()
	id, resumed, err := h.Begin(ctx, demoScan, someEntries(killed))
	require.NoError(t, err)
	assert.True(t, resumed)
	pending, err := h.Pending(ctx, id)
	require.NoError(t, err)
	assert.Len(t, pending, killed-20)
	worked := make(chan int, 10*killed)
	q, err := h.NewQueue(ctx, id, QueueOptions{Workers: 2}, func(ctx context.Context, job Job, last bool) error {
		worked <- job.Position
		return settleAll(h)(ctx, job, last)
	})
	require.NoError(t, err)
	require.NoError(t, q.Add(ctx, pending))
	require.NoError(t, q.Start(ctx))
	waitUntil(t, "all are settled", nonePending(t, h, id))
	require.NoError(t, q.Stop(ctx))
	assert.Less(t, time.Since(begun), time.Minute, "nothing was waited for")
	close(worked)
	times := map[int]int{}
	for p := range worked {
		times[p]++
	}
	assert.Len(t, times, killed-20)
	for p, n := range times {
		assert.Equal(t, 1, n, "picture %d", p)
	}
	var left int
	require.NoError(t, h.read.QueryRow(`SELECT count(*) FROM river_job`).Scan(&left))
	assert.Zero(t, left, "nor is a job left that counts as running")
}

// Killed at any moment, again and again: every start finds the history whole and less to do, and at last all is there.
func TestKilledAtAnyMoment(t *testing.T) {
	path := filepath.Join(t.TempDir(), "site-history.db")
	const seed = 5
	dice := rand.New(rand.NewSource(seed))
	for round := range 12 {
		cmd, out := startChild(t, path, "")
		if round%3 > 0 { // else it may not even have laid out its tables
			require.True(t, out.Scan())
		}
		time.Sleep(time.Duration(dice.Intn(60)) * time.Millisecond)
		require.NoError(t, cmd.Process.Kill())
		_ = cmd.Wait()
	}
	cmd, out := startChild(t, path, "")
	for out.Scan() {
		t.Log(out.Text())
	}
	require.NoError(t, cmd.Wait())
	h := open(t, path)
	var verdict string
	require.NoError(t, h.write.QueryRow(`PRAGMA integrity_check`).Scan(&verdict))
	assert.Equal(t, "ok", verdict)
	var scans, measured, broken int
	require.NoError(t, h.read.QueryRow(`SELECT (SELECT count(*) FROM scans), (SELECT count(*) FROM measurements), (SELECT count(*) FROM scan_pictures
		WHERE settled = '' OR measurement IS NULL OR verdict IS NULL OR sha256 NOT IN (SELECT sha256 FROM pictures))`).Scan(&scans, &measured, &broken))
	assert.Equal(t, []int{1, killed, 0}, []int{scans, measured, broken})
}
