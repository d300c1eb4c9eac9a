package evidence

import (
	"encoding/json"
	"fmt"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// RecordsName is the file of the records, one JSON line a picture.
const RecordsName = "records.jsonl"

// about is what every JSON line says of its crimp.
type about struct {
	Number   int           `json:"number"`
	Crimp    string        `json:"crimp"`
	Label    site.Label    `json:"label"`
	Result   record.Result `json:"result,omitempty"`               // absent where there were no limits
	Score    *float64      `json:"score,omitempty"`                // absent where nothing was measured or judged
	Replaced string        `json:"replaced_by_crimp_of,omitempty"` // day; absent where the crimp stands
	Doubts   []string      `json:"doubts,omitempty"`
	Warnings []string      `json:"warnings,omitempty"`
}

// pictureLine is one picture: its record with the verdict, or the failure, and where the evidence keeps it.
type pictureLine struct {
	about
	Picture  site.Picture `json:"picture"`
	Original string       `json:"original,omitempty"`
	Overlay  string       `json:"overlay,omitempty"`
}

// elsewhereLine is what was measured of a crimp with other instruments.
type elsewhereLine struct {
	about
	Elsewhere []site.Elsewhere `json:"elsewhere"`
	Verdict   *record.Verdict  `json:"elsewhere_verdict,omitempty"`
}

// writeLines writes a crimp as JSON lines: one a picture, and one more where something was measured elsewhere. Names are
// as they are in the file system; bytes that are no UTF-8 become U+FFFD.
func writeLines(out *output, c site.Crimp) error {
	a := about{Number: c.Number, Crimp: c.Name(), Label: c.Label, Result: c.Result, Replaced: c.ReplacedBy(), Doubts: c.Doubts, Warnings: c.Warnings}
	if scored(c) {
		a.Score = &c.Score
	}
	encoder := json.NewEncoder(out)
	encoder.SetEscapeHTML(false)
	for _, p := range c.Pictures {
		if err := encoder.Encode(pictureLine{a, p, p.Original, p.Overlay}); err != nil {
			return fmt.Errorf("picture %q in records.jsonl: %w", p.File, err)
		}
	}
	if len(c.Elsewhere) > 0 {
		if err := encoder.Encode(elsewhereLine{a, c.Elsewhere, c.ElsewhereVerdict}); err != nil {
			return fmt.Errorf("crimp %q in records.jsonl: %w", c.Name(), err)
		}
	}
	return nil
}
