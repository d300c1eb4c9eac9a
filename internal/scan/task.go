package scan

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"crimprule/internal/likeness"
	"crimprule/vision/record"
)

// Request is what is asked of a picture: all that its values hang on besides its bytes and the program. Its JSON, keys
// in this order, is how the history tells whether a picture was measured already.
type Request struct {
	View     record.View     `json:"view"`
	Scales   []string        `json:"scales"`
	Declared record.Declared `json:"declared"`
}

// Key is the request's canonical JSON.
func (r Request) Key() string {
	text, err := json.Marshal(r)
	if err != nil {
		panic("scan: a request cannot be written as JSON: " + err.Error()) // only NaN could do that
	}
	return string(text)
}

// Task is what a worker process is asked to do with one picture: measure it, or, where Known is set, only draw what was
// measured before. Overlay and Thumb are files to be written; empty ones are not, nor is an
// overlay without anything to draw.
type Task struct {
	Path    string          `json:"path"` // where the bytes lie
	Name    string          `json:"name"` // what the record calls the picture
	Request Request         `json:"request"`
	Limits  []TaskLimits    `json:"limits"`
	Overlay string          `json:"overlay"`
	Thumb   string          `json:"thumb"`
	Known   json.RawMessage `json:"known,omitempty"`
	Marks   []record.Mark   `json:"marks,omitempty"`
	Look    bool            `json:"look,omitempty"` // what the picture looks like is wanted
}

// TaskLimits is a tolerances file on its way to a worker process.
type TaskLimits struct {
	File string `json:"file"`
	Text string `json:"text"`
}

// Answer is what a worker process has to say of a picture. Just one of Record, without its verdict, and Failure is set;
// Unwritten says why a drawing could not be written.
type Answer struct {
	Record    json.RawMessage `json:"record,omitempty"`
	Marks     []record.Mark   `json:"marks,omitempty"`
	Look      *likeness.Look  `json:"look,omitempty"`
	Failure   string          `json:"failure,omitempty"`
	Unwritten string          `json:"unwritten,omitempty"`
	DiskFull  bool            `json:"disk_full,omitempty"` // why it is unwritten
}

// MaxBytes is the size of the largest file that is measured, as vision/picture has it: to be known before a larger one is
// copied, without decoding anything.
const MaxBytes = 2 << 30

func tooLarge(name string, size int64) string {
	return problem(name, fmt.Sprintf("has %.1f GB, more than the %.1f GB that a picture's file may have", float64(size)/1e9, float64(MaxBytes)/1e9),
		"crop the picture to the crimp and its scale reference")
}

// bounded reads a picture's bytes and stops where there are too many, whatever size the file had when it was found.
type bounded struct {
	from io.Reader
	name string
	n    int64
}

func (b *bounded) Read(p []byte) (int, error) {
	n, err := b.from.Read(p)
	if b.n += int64(n); b.n > MaxBytes {
		return 0, errors.New(tooLarge(b.name, b.n))
	}
	return n, err
}

// Load reads a task's picture, unless it is larger than any that is measured.
func (t Task) Load() ([]byte, error) {
	info, err := os.Stat(t.Path)
	if err != nil {
		return nil, err
	}
	if info.Size() > MaxBytes {
		return nil, errors.New(tooLarge(t.Name, info.Size()))
	}
	return os.ReadFile(t.Path)
}

// Plain reads a record without its verdict from JSON; only what JSON keeps counts from here on, so that a record that
// was measured just now and one from the history are judged alike to the last digit.
func Plain(text json.RawMessage, marks []record.Mark) (record.Record, error) {
	var rec record.Record
	err := json.Unmarshal(text, &rec)
	rec.Marks = marks
	return rec, err
}
