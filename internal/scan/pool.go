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

// Hung says that a worker process was ended because it took too long over a picture.
type Hung struct{ After time.Duration }

func (h *Hung) Error() string {
	return fmt.Sprintf("measuring took longer than %s and was ended", h.After.Round(time.Second))
}

// Do has one task done. The error is a *Died, a *Hung where ctx ran out of time, the context's own, or says that no
// process could be started.
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
			return Answer{}, err
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
	for range p.size {
		if w := <-p.free; w != nil {
			w.finish()
		}
	}
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
		return nil, fmt.Errorf("a worker process cannot be started: %w", err)
	}
	read, write, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("a worker process cannot be started: %w; too many files may be open: call with fewer --workers", err)
	}
	cmd.Stdout, cmd.Stderr, cmd.ExtraFiles = w.said, w.said, []*os.File{write}
	err = cmd.Start()
	_ = write.Close()
	if err != nil {
		return nil, errors.Join(fmt.Errorf("a worker process cannot be started: %w; call with fewer --workers, or free memory", err), read.Close())
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

// finish lets an idle process end by itself.
func (w *process) finish() {
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

// Serve is the worker process's side: it reads tasks until they end, does each, and writes the answers.
func Serve(ctx context.Context, tasks io.Reader, answers io.Writer, do func(context.Context, Task) Answer) error {
	in := bufio.NewReaderSize(tasks, 1<<16)
	for {
		line, err := in.ReadBytes('\n')
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		var task Task
		if err := json.Unmarshal(line, &task); err != nil {
			return fmt.Errorf("a task that is not JSON: %w; this command is for the program's own use", err)
		}
		text, err := json.Marshal(do(ctx, task))
		if err != nil {
			return err
		}
		if _, err := answers.Write(append(text, '\n')); err != nil {
			return err
		}
	}
}
