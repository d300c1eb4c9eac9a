package scan

import (
	"encoding/json"

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
	Failure   string          `json:"failure,omitempty"`
	Unwritten string          `json:"unwritten,omitempty"`
	DiskFull  bool            `json:"disk_full,omitempty"` // why it is unwritten
}

// Plain reads a record without its verdict from JSON; only what JSON keeps counts from here on, so that a record that
// was measured just now and one from the history are judged alike to the last digit.
func Plain(text json.RawMessage, marks []record.Mark) (record.Record, error) {
	var rec record.Record
	err := json.Unmarshal(text, &rec)
	rec.Marks = marks
	return rec, err
}
