package scan

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"
)

// Pool is a number of worker processes that measure one picture at a time each. A process that dies or does not answer
// takes its picture with it and is replaced. Do may be called from several goroutines.
type Pool struct {
	command func() *exec.Cmd
	free    chan *process // nil: one that has yet to be started
	size    int
}

// NewPool is a pool of at most size processes; command gives a new one, not started. It talks JSON lines: tasks on
// standard input, answers on file descriptor 3, so that nothing that a library prints can be taken for an answer.
func NewPool(size int, command func() *exec.Cmd) *Pool {
	p := &Pool{command: command, free: make(chan *process, size), size: size}
	for range size {
		p.free <- nil
	}
	return p
}

// Died says that a worker process came to an end over a picture.
type Died struct{ How string }

func (d *Died) Error() string { return "the process that measured it came to an end (" + d.How + ")" }

// NoWorker says that no worker process can be started, which the next picture would meet as well.
type NoWorker struct{ Err error }

func (n *NoWorker) Error() string {
	return fmt.Sprintf("a worker process cannot be started: %v; see that the program still lies where it was called, free memory, call with fewer --workers, "+
		"and call again: what was measured is kept", n.Err)
}

// Unwrap gives the cause.
func (n *NoWorker) Unwrap() error { return n.Err }

// Hung says that a worker process was ended because it took too long over a picture.
type Hung struct{ After time.Duration }

func (h *Hung) Error() string {
	return fmt.Sprintf("measuring took longer than %s and was ended", h.After.Round(time.Second))
}

// Do has one task done. The error is a *Died, a *Hung where ctx ran out of time, the context's own, or a *NoWorker.
func (p *Pool) Do(ctx context.Context, task Task) (Answer, error) {
	var w *process
	select {
	case w = <-p.free:
	case <-ctx.Done():
		return Answer{}, ctx.Err()
	}
	defer func() { p.free <- w }()
	if w == nil {
		var err error
		if w, err = start(p.command()); err != nil {
			w = nil
			return Answer{}, &NoWorker{err}
		}
	}
	began := time.Now()
	answer, err := w.ask(ctx, task)
	if err == nil {
		return answer, nil
	}
	how := w.end()
	w = nil
	switch {
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return Answer{}, &Hung{After: time.Since(began)}
	case ctx.Err() != nil:
		return Answer{}, ctx.Err()
	}
	return Answer{}, &Died{How: how}
}

// Close ends all processes. No Do may be under way.
func (p *Pool) Close() {
	var all sync.WaitGroup
	for range p.size {
		if w := <-p.free; w != nil {
			all.Go(w.finish)
		}
	}
	all.Wait()
}

// process is one worker process.
type process struct {
	cmd     *exec.Cmd
	tasks   io.WriteCloser
	answers *bufio.Reader
	pipe    *os.File // the end of answers that is read
	said    *tail    // the end of what it wrote to standard error
}

func start(cmd *exec.Cmd) (*process, error) {
	w := &process{cmd: cmd, said: &tail{}}
	tasks, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	read, write, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	cmd.Stdout, cmd.Stderr, cmd.ExtraFiles = w.said, w.said, []*os.File{write}
	err = cmd.Start()
	_ = write.Close()
	if err != nil {
		_ = read.Close()
		return nil, err
	}
	w.tasks, w.pipe, w.answers = tasks, read, bufio.NewReaderSize(read, 1<<16)
	return w, nil
}

// ask sends a task and waits for its answer. When ctx ends first, reading is given up; the caller ends the process.
func (w *process) ask(ctx context.Context, task Task) (Answer, error) {
	stop := context.AfterFunc(ctx, func() { _ = w.cmd.Process.Kill() })
	defer stop()
	line, err := json.Marshal(task)
	if err != nil {
		return Answer{}, err
	}
	if _, err := w.tasks.Write(append(line, '\n')); err != nil {
		return Answer{}, err
	}
	text, err := w.answers.ReadBytes('\n')
	if err != nil {
		return Answer{}, err
	}
	var answer Answer
	return answer, json.Unmarshal(text, &answer)
}

// end kills the process and says how it ended, with the last line that it wrote.
func (w *process) end() string {
	_ = w.cmd.Process.Kill() // it may have ended by itself
	_ = w.tasks.Close()
	err := w.cmd.Wait()
	_ = w.pipe.Close()
	how := "it closed its answers"
	if err != nil {
		how = err.Error()
	}
	if last := w.said.lastLine(); last != "" {
		how += "; its last words: " + last
	}
	return how
}

// patience is how long an idle process may take to end by itself; one that was stopped (SIGSTOP) never does.
const patience = 3 * time.Second

// finish lets an idle process end by itself.
func (w *process) finish() {
	kill := time.AfterFunc(patience, func() { _ = w.cmd.Process.Kill() })
	defer kill.Stop()
	_ = w.tasks.Close()
	_ = w.cmd.Wait()
	_ = w.pipe.Close()
}

// tail keeps of what is written to it what tells why a process ended: the line that announces it, else the last one.
type tail struct {
	mu        sync.Mutex
	open      []byte // the line that is not ended yet
	last      string
	announced string
}

// longestLine keeps a process that writes without end from filling the memory.
const longestLine = 1000

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, b := range p {
		if b != '\n' {
			if len(t.open) < longestLine {
				t.open = append(t.open, b)
			}
			continue
		}
		t.line()
	}
	return len(p), nil
}

func (t *tail) line() {
	text := strings.TrimSpace(string(t.open))
	t.open = t.open[:0]
	if text == "" {
		return
	}
	t.last = text
	for _, sign := range []string{"panic:", "fatal error:", "SIG", "terminate called", "OpenCV"} {
		if t.announced == "" && strings.HasPrefix(text, sign) {
			t.announced = text
		}
	}
}

func (t *tail) lastLine() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.line()
	if t.announced != "" {
		return t.announced
	}
	return t.last
}

// Serve is the worker process's side: it reads tasks until they end, does each, and writes the answers. Where they end while
// one is being done, the scan is no more: Serve gives up at once, whatever holds that task up, so that the process can end.
func Serve(ctx context.Context, tasks io.Reader, answers io.Writer, do func(context.Context, Task) Answer) error {
	lines := make(chan []byte)
	var failed error // of reading; set before lines is closed
	go func() {
		defer close(lines)
		in := bufio.NewReaderSize(tasks, 1<<16)
		for {
			line, err := in.ReadBytes('\n')
			if err != nil {
				if !errors.Is(err, io.EOF) {
					failed = err
				}
				return
			}
			lines <- line
		}
	}()
	for line := range lines {
		var task Task
		if err := json.Unmarshal(line, &task); err != nil {
			return fmt.Errorf("a task that is not JSON: %w; this command is for the program's own use", err)
		}
		done := make(chan Answer, 1)
		go func() { done <- do(ctx, task) }()
		var answer Answer
		select {
		case answer = <-done:
		case <-lines:
			return errors.Join(errScanGone, failed)
		}
		text, err := json.Marshal(answer)
		if err != nil {
			return err
		}
		if _, err := answers.Write(append(text, '\n')); err != nil {
			return err
		}
	}
	return failed
}

var errScanGone = errors.New("the scan that gave this task has ended; call crimprule scan again, it goes on where it was")
