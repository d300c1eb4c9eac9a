package history

import (
	"context"

	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
)

// Judge judges what was measured elsewhere by the tolerances files that judged a crimp's pictures.
type Judge struct {
	history *History
	files   map[string]tolerance.File // by hash
}

// NewJudge gives a judge that reads each tolerances file once.
func (h *History) NewJudge() *Judge { return &Judge{h, map[string]tolerance.File{}} }

// Settle puts the verdict on values measured elsewhere to that on the pictures: a crimp is as good as its worst feature.
func (j *Judge) Settle(ctx context.Context, s *Standing) error {
	if len(s.Crimp.Elsewhere) == 0 {
		return nil
	}
	s.Crimp.SetAside()
	for _, hash := range s.Wanted {
		file, known := j.files[hash]
		if !known {
			text, err := j.history.Tolerances(ctx, hash)
			if err != nil {
				return err
			}
			if file, err = tolerance.Parse(text.File, []byte(text.Text)); err != nil {
				s.Crimp.Warn("the tolerances file %q, which an earlier version of this program took, is not right for this one: %s", text.File, err)
			}
			j.files[hash] = file
		}
		if v := verdict.JudgeElsewhere(s.Crimp.Elsewhere, file); v != nil {
			s.Crimp.ElsewhereVerdict, s.judged = v, Tolerances{Hash: hash, Name: file.Name}
			break
		}
	}
	s.Crimp.Settle(len(s.Wanted) > 0)
	return nil
}
