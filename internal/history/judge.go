package history

import (
	"context"
	"encoding/json"
	"slices"

	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

// Judge judges what was measured elsewhere by the tolerances files that judged a crimp's pictures.
type Judge struct {
	history *History
	files   map[string]limitsFile // by hash
}

type limitsFile struct {
	tolerance.File
	name string // its path
}

// NewJudge gives a judge that reads each tolerances file once.
func (h *History) NewJudge() *Judge { return &Judge{h, map[string]limitsFile{}} }

// Settle puts the verdict on values measured elsewhere to that on the pictures: a crimp is as good as its worst feature. Values
// of one crimp that contradict each other are doubted as on its page.
func (j *Judge) Settle(ctx context.Context, s *Standing) error {
	s.Crimp.SetAside()
	if s.Crimp.ComparesPictures() {
		if err := j.history.values(ctx, s); err != nil {
			return err
		}
	}
	s.Crimp.DoubtContradictions()
	if err := j.elsewhere(ctx, s); err != nil {
		return err
	}
	s.Crimp.Settle(s.limited())
	return nil
}

// values fills in the values of a standing's pictures, which are light.
func (h *History) values(ctx context.Context, s *Standing) error {
	for i, p := range s.Crimp.Pictures {
		if !p.Usable() {
			continue
		}
		var text []byte
		err := h.read.QueryRowContext(ctx, `SELECT m.record FROM scan_pictures p JOIN measurements m ON m.id = p.measurement WHERE p.scan = ? AND p.position = ?`,
			s.Scan, p.Position).Scan(&text)
		if err == nil {
			err = json.Unmarshal(text, &struct {
				Measured *map[record.Key]record.Value `json:"measured"`
			}{&s.Crimp.Pictures[i].Record.Measured})
		}
		if err != nil {
			return h.explain(err)
		}
	}
	return nil
}

// elsewhere judges what was measured elsewhere by all tolerances files of the crimp; further ones count for what these have no
// limit for.
func (j *Judge) elsewhere(ctx context.Context, s *Standing) error {
	if len(s.Crimp.Elsewhere) == 0 {
		return nil
	}
	var files []tolerance.File
	var names []string
	limited := map[record.Key]bool{}
	hashes := union(slices.Clone(s.Wanted), s.further)
	for i, hash := range hashes {
		file, name, err := j.file(ctx, s, hash)
		if err != nil {
			return err
		}
		if i >= len(s.Wanted) {
			file.Elsewhere = slices.DeleteFunc(slices.Clone(file.Elsewhere), func(l tolerance.Limit) bool { return limited[l.Key] })
		} else {
			for _, l := range file.Elsewhere {
				limited[l.Key] = true
			}
		}
		files, names = append(files, file), append(names, name)
	}
	var by []int
	s.Crimp.ElsewhereVerdict, by = verdict.JudgeElsewhereBy(s.Crimp.Elsewhere, files)
	s.judged = nil
	for _, i := range by {
		s.judged = append(s.judged, Tolerances{Hash: hashes[i], Name: files[i].Name})
	}
	s.Crimp.WarnOfElsewhere(names)
	return nil
}

// file gives a tolerances file and its path.
func (j *Judge) file(ctx context.Context, s *Standing, hash string) (tolerance.File, string, error) {
	file, known := j.files[hash]
	if !known {
		text, err := j.history.Tolerances(ctx, hash)
		if err != nil {
			return tolerance.File{}, "", err
		}
		file.name = text.File
		if file.File, err = tolerance.Parse(text.File, []byte(text.Text)); err != nil {
			s.Crimp.Warn("the tolerances file %q, which an earlier version of this program took, is not right for this one: %s", text.File, err)
		}
		j.files[hash] = file
	}
	return file.File, file.name, nil
}
