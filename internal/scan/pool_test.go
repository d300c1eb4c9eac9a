package scan

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// playing makes the test binary play a worker process that does what a task's name says.
const playing = "CRIMPRULE_TEST_WORKER"

func TestMain(m *testing.M) {
	if os.Getenv(playing) == "" {
		os.Exit(m.Run())
	}
	err := Serve(context.Background(), os.Stdin, os.NewFile(3, "answers"), play)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func play(_ context.Context, task Task) Answer {
	switch strings.TrimSuffix(task.Name, ".jpg") {
	case "abort":
		fmt.Println("noise on standard output is no answer")
		fmt.Fprintln(os.Stderr, "terminate called after throwing an instance")
		_ = syscall.Kill(os.Getpid(), syscall.SIGABRT)
		select {}
	case "panic":
		panic("a fault")
	case "hang":
		select {}
	case "pid":
		return Answer{Failure: fmt.Sprint(os.Getpid())}
	case "garbage":
		return Answer{Record: json.RawMessage(`{"image":["no name"]}`)}
	case "slow":
		time.Sleep(100 * time.Millisecond)
	}
	return Answer{Record: json.RawMessage(`{"image":` + fmt.Sprintf("%q", task.Name) + `}`)}
}

func testPool(t *testing.T, size int) *Pool {
	t.Helper()
	pool := NewPool(size, func() *exec.Cmd {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), playing+"=1")
		return cmd
	})
	t.Cleanup(pool.Close)
	return pool
}

func TestAWorkerAnswersOneTaskAfterTheOther(t *testing.T) {
	pool := testPool(t, 1)
	first, err := pool.Do(t.Context(), Task{Name: "pid"})
	require.NoError(t, err)
	answer, err := pool.Do(t.Context(), Task{Name: "café\n\"x\""})
	require.NoError(t, err)
	assert.JSONEq(t, `{"image":"café\n\"x\""}`, string(answer.Record))
	second, err := pool.Do(t.Context(), Task{Name: "pid"})
	require.NoError(t, err)
	assert.Equal(t, first.Failure, second.Failure, "the process lives on")
}

func TestAWorkerThatDiesIsNamedAndReplaced(t *testing.T) {
	pool := testPool(t, 1)
	for name, words := range map[string]string{"abort": "terminate called", "panic": "panic: a fault"} {
		_, err := pool.Do(t.Context(), Task{Name: name})
		var died *Died
		require.ErrorAs(t, err, &died)
		assert.ErrorContains(t, err, words)
		_, err = pool.Do(t.Context(), Task{Name: "next"})
		require.NoError(t, err, "the next picture is measured by another process")
	}
}

func TestAWorkerKilledFromOutsideIsReplaced(t *testing.T) {
	pool := testPool(t, 1)
	answer, err := pool.Do(t.Context(), Task{Name: "pid"})
	require.NoError(t, err)
	var pid int
	_, err = fmt.Sscan(answer.Failure, &pid)
	require.NoError(t, err)
	require.NoError(t, syscall.Kill(pid, syscall.SIGKILL))
	_, err = pool.Do(t.Context(), Task{Name: "next"})
	assert.ErrorContains(t, err, "signal: killed")
	_, err = pool.Do(t.Context(), Task{Name: "next"})
	assert.NoError(t, err)
}

func TestAWorkerThatHangsIsEnded(t *testing.T) {
	pool := testPool(t, 1)
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	_, err := pool.Do(ctx, Task{Name: "hang"})
	var hung *Hung
	require.ErrorAs(t, err, &hung)
	_, err = pool.Do(t.Context(), Task{Name: "next"})
	assert.NoError(t, err)
}

// A process that was stopped does not end by itself.
func TestAStoppedWorkerIsNotWaitedFor(t *testing.T) {
	pool := testPool(t, 1)
	answer, err := pool.Do(t.Context(), Task{Name: "pid"})
	require.NoError(t, err)
	var pid int
	_, err = fmt.Sscan(answer.Failure, &pid)
	require.NoError(t, err)
	require.NoError(t, syscall.Kill(pid, syscall.SIGSTOP))
	ended := make(chan bool)
	go func() {
		pool.Close()
		close(ended)
	}()
	select {
	case <-ended:
	case <-time.After(patience + 20*time.Second):
		_ = syscall.Kill(pid, syscall.SIGKILL)
		assert.Fail(t, "it was waited for")
	}
	pool.free <- nil // for the test's own end
}

// A worker process over whose picture its scan is killed ends as well, whatever it is doing.
func TestAWorkerEndsWithItsScan(t *testing.T) {
	pool := testPool(t, 1)
	w, err := start(pool.command())
	require.NoError(t, err)
	line, err := json.Marshal(Task{Name: "hang"})
	require.NoError(t, err)
	_, err = w.tasks.Write(append(line, '\n'))
	require.NoError(t, err)
	time.Sleep(200 * time.Millisecond)
	require.NoError(t, w.tasks.Close())
	late := time.AfterFunc(20*time.Second, func() { _ = w.cmd.Process.Kill() })
	_ = w.cmd.Wait()
	assert.True(t, late.Stop(), "it had to be killed")
}

func TestAnInterruptIsNoFaultOfThePicture(t *testing.T) {
	pool := testPool(t, 1)
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(100*time.Millisecond, cancel)
	_, err := pool.Do(ctx, Task{Name: "hang"})
	assert.ErrorIs(t, err, context.Canceled)
}

func TestAWorkerThatCannotBeStartedIsAnError(t *testing.T) {
	pool := NewPool(1, func() *exec.Cmd { return exec.Command("/nowhere/crimprule") })
	defer pool.Close()
	for range 2 {
		_, err := pool.Do(t.Context(), Task{})
		assert.ErrorContains(t, err, "cannot be started")
		var died *Died
		assert.False(t, errors.As(err, &died))
	}
}

func TestManyTasksAtOnce(t *testing.T) {
	pool := testPool(t, 4)
	var wg sync.WaitGroup
	for i := range 40 {
		wg.Go(func() {
			name := fmt.Sprint("picture ", i)
			answer, err := pool.Do(t.Context(), Task{Name: name})
			assert.NoError(t, err)
			assert.Contains(t, string(answer.Record), name)
		})
	}
	wg.Wait()
}
