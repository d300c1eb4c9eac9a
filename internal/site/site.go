// Package site is what a scan of many pictures is about: the pictures, the crimps that they show, who made these with
// which tool, what else was measured of them, and what came of each. It is pure Go and plain data; scan fills it,
// history keeps it, evidence and grade show it.
package site

import (
	"strings"
	"time"

	"crimprule/vision/record"
)

// Label says which crimp a picture shows and who made it; any part may be empty. Date is when the crimp was made,
// YYYY-MM-DD; Own is the maker's own judgement, conforms or does_not_conform.
type Label struct {
	String  string        `json:"string,omitempty"`
	Crimp   string        `json:"crimp,omitempty"`
	Crew    string        `json:"crew,omitempty"`
	Tool    string        `json:"tool,omitempty"`
	Trainee string        `json:"trainee,omitempty"`
	Date    string        `json:"date,omitempty"`
	Own     record.Result `json:"own_verdict,omitempty"`
	Note    string        `json:"note,omitempty"`
}

// Origin says where it is known from which crimp a picture shows.
type Origin string

// The origins, the surest first. A picture alone is taken for the only one of its crimp.
const (
	FromManifest Origin = "manifest"
	FromTag      Origin = "tag"
	FromName     Origin = "name"
	Assumed      Origin = "assumed" // from a name that was read by a pattern that nobody gave
	Alone        Origin = "alone"
)

// Picture is one picture of a scan and what came of it. Just one of Record and Failure is set; Record's Verdict is set
// where there were limits for its view.
type Picture struct {
	Position int    `json:"position"` // 0, 1, ... in the order of the input
	File     string `json:"file"`     // its path in the scanned folder or ZIP, slashes between folders
	SHA256   string `json:"sha256"`   // of its bytes; empty where they could not be read
	Bytes    int64  `json:"bytes"`
	Label    Label  `json:"label"`
	Origin   Origin `json:"origin"`

	Asked record.View `json:"asked,omitempty"` // the view that was asked for; auto where the picture was to tell

	Record     *record.Record `json:"record,omitempty"`
	Failure    string         `json:"failure,omitempty"`    // why there is no record, and what to do
	Tolerances string         `json:"tolerances,omitempty"` // SHA-256 of the tolerances file that judged it
	Measured   time.Time      `json:"measured"`             // when the record was made, perhaps in an earlier scan

	// Where the evidence has it, relative to its folder, slashes between folders; empty where it has not.
	Original string `json:"-"`
	Overlay  string `json:"-"`
	Thumb    string `json:"-"`
}

// Elsewhere is a value that was not measured in a picture but with another instrument.
type Elsewhere struct {
	ID     int64        `json:"id"`
	Key    record.Key   `json:"key"`
	Value  record.Value `json:"value"`
	Who    string       `json:"who"`
	When   string       `json:"when"`             // YYYY-MM-DD
	Made   string       `json:"made,omitempty"`   // when the crimp was made that it is of, where that was said
	Source string       `json:"source,omitempty"` // where the crimp was scanned that it is of, as a scan names its source; empty: in any place
	Note   string       `json:"note,omitempty"`
	Added  time.Time    `json:"added"`

	Withdrawn string `json:"withdrawn,omitempty"` // by whom, when and why it was withdrawn; empty where it stands
	Outdated  string `json:"outdated,omitempty"`  // why it is not of this crimp; filled in by SetAside
}

// Crimp is what a scan knows of one crimp.
type Crimp struct {
	Number int // 1, 2, ... in the order of its first picture
	Label  Label
	// Days are those on which crimps of this name were made, this one among them, in order; none where one day is known.
	Days      []string
	Pictures  []Picture
	Elsewhere []Elsewhere
	// ElsewhereVerdict judges Elsewhere; nil where there is nothing to judge or no limit for it.
	ElsewhereVerdict *record.Verdict
	// Result is empty where there were no limits to judge by. Score is the least of the scores of what was judged.
	Result record.Result
	Score  float64
	// Doubts say why the pictures do not prove this crimp, such as a tag that names another one or a copy of another crimp's
	// picture: with one of them nothing conforms. Warnings are what else a person must look into.
	Doubts, Warnings []string
}

// Name is what a person calls the crimp: string, trainee and crimp as far as they are known, else its picture's file.
func (c Crimp) Name() string {
	if name := c.Label.Name(); name != "" {
		return name
	}
	if len(c.Pictures) > 0 {
		return c.Pictures[0].File
	}
	return ""
}

// Name is string, trainee and crimp, as far as they are known.
func (l Label) Name() string {
	var parts []string
	for _, part := range []string{l.String, l.Trainee, l.Crimp} {
		if part != "" {
			parts = append(parts, part)
		}
	}
	if l.Crimp == "" {
		return ""
	}
	return strings.Join(parts, " / ")
}
