package history

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"

	"crimprule/vision/record"
)

// mark is a record's mark as it is kept; points are x and y in turns.
type mark struct {
	Kind     record.MarkKind `json:"k"`
	Key      record.Key      `json:"m,omitempty"`
	Points   []float64       `json:"p,omitempty"`
	Size     float64         `json:"s,omitempty"`
	Doubtful bool            `json:"d,omitempty"`
}

// PackMarks writes marks as gzipped JSON; no bytes where there are none. Every figure comes back as it was.
func PackMarks(marks []record.Mark) ([]byte, error) {
	if len(marks) == 0 {
		return []byte{}, nil
	}
	kept := make([]mark, len(marks))
	for i, m := range marks {
		kept[i] = mark{Kind: m.Kind, Key: m.Key, Size: m.Size, Doubtful: m.Doubtful}
		for _, p := range m.Points {
			kept[i].Points = append(kept[i].Points, p.X, p.Y)
		}
	}
	var b bytes.Buffer
	zip := gzip.NewWriter(&b)
	if err := json.NewEncoder(zip).Encode(kept); err != nil {
		return nil, fmt.Errorf("the marks cannot be written: %w; this is a fault of the program, please report it", err)
	}
	err := zip.Close()
	return b.Bytes(), err
}

// UnpackMarks is the other way.
func UnpackMarks(data []byte) ([]record.Mark, error) {
	if len(data) == 0 {
		return nil, nil
	}
	zip, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("the marks cannot be read: %w", err)
	}
	plain, err := io.ReadAll(zip)
	if err != nil {
		return nil, fmt.Errorf("the marks cannot be read: %w", err)
	}
	var kept []mark
	if err := json.Unmarshal(plain, &kept); err != nil {
		return nil, fmt.Errorf("the marks cannot be read: %w", err)
	}
	marks := make([]record.Mark, len(kept))
	for i, m := range kept {
		marks[i] = record.Mark{Kind: m.Kind, Key: m.Key, Size: m.Size, Doubtful: m.Doubtful}
		for j := 0; j+1 < len(m.Points); j += 2 {
			marks[i].Points = append(marks[i].Points, record.Point{X: m.Points[j], Y: m.Points[j+1]})
		}
	}
	return marks, nil
}
