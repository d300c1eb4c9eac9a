package drawn

import (
	"encoding/json"
	"fmt"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"

	"crimprule/vision/record"
)

// truthFile is the form of a truth file beside a picture.
type truthFile struct {
	Image        string                 `json:"image"`
	View         record.View            `json:"view"`
	ScaleOption  string                 `json:"scale_option"`
	Declared     declared               `json:"declared"`
	Truth        map[record.Key]float64 `json:"truth"`
	ExpectRetake *string                `json:"expect_retake"`
	Defects      []string               `json:"defects"`
	Conditions   map[string]any         `json:"conditions"`
	Aid          Aid                    `json:"aid"`
}

type declared struct {
	ConductorArea      float64 `json:"conductor_area_mm2"`
	StrandCount        float64 `json:"strand_count"`
	StrandDiameter     float64 `json:"strand_diameter"`
	InsulationDiameter float64 `json:"insulation_diameter"`
	SheetThickness     float64 `json:"sheet_thickness"`
}

// Write renders the scene into picture (a JPEG) and writes its truth into truth (JSON). Both folders must exist.
func (s Scene) Write(picture, truth string) error { return s.WriteLabelled(picture, truth, "") }

// WriteLabelled is Write with the classes of all pixels in a third file (PNG, 8 bit grey, one class a pixel); none where labels is "".
func (s Scene) WriteLabelled(picture, truth, labels string) error {
	img, classes, t := s.RenderLabelled()
	if err := writeTruth(truth, s.file(filepath.Base(picture), t)); err != nil {
		return err
	}
	if labels != "" {
		if err := writePicture(labels, func(f io.Writer) error { return png.Encode(f, classes) }); err != nil {
			return err
		}
	}
	return writePicture(picture, func(f io.Writer) error { return jpeg.Encode(f, img, &jpeg.Options{Quality: s.Sensor.Quality}) })
}

func writePicture(path string, encode func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("cannot write the picture: %w", err)
	}
	if err := encode(f); err != nil {
		_ = f.Close()
		return fmt.Errorf("cannot write the picture %s: %w", path, err)
	}
	return f.Close()
}

func writeTruth(path string, t truthFile) error {
	text, err := json.Marshal(t)
	if err != nil {
		return fmt.Errorf("cannot write the truth of %s: %w", t.Image, err)
	}
	return os.WriteFile(path, append(text, '\n'), 0o644)
}

func (s Scene) file(name string, t Truth) truthFile {
	f := truthFile{Image: name, View: record.Seam, Truth: t.Values, Defects: s.Defects, Aid: t.Aid, ScaleOption: s.scaleOption()}
	if s.View != "" {
		f.View = s.View
	}
	d := t.Declared
	f.Declared = declared{d.ConductorArea, d.StrandCount, d.StrandDiameter, d.InsulationDiameter, d.SheetThickness}
	if s.ExpectRetake != "" {
		f.ExpectRetake = &s.ExpectRetake
	}
	if f.Defects == nil {
		f.Defects = []string{}
	}
	f.Conditions = map[string]any{
		"seed": s.Seed, "light": s.Light.Kind, "background": s.Ground.Kind, "board_inner_corners": [2]int{s.Board.Cols, s.Board.Rows},
		"px_per_mm": t.Aid.PXPerMM, "distance_mm": s.Camera.DistanceMM, "tilt_deg": s.Camera.TiltDeg, "roll_deg": s.Part.RollDeg,
		"pitch_deg": s.Part.PitchDeg, "k1": s.Camera.K1, "f_px": s.Camera.FocalPX, "blur_px": s.Sensor.DefocusPX,
		"motion_px": s.Sensor.MotionPX, "noise": s.Sensor.Noise, "sharpen": s.Sensor.Sharpen, "jpeg_quality": s.Sensor.Quality,
		"metal": s.Part.Metal, "strand_metal": s.Part.Wire.StrandMetal, "socket": s.Part.Body.Socket,
	}
	if s.View != "" {
		f.Conditions["scale"] = strings.Split(f.ScaleOption, "=")[0]
		f.Conditions["insulation_colour"] = s.Part.Wire.Colour
		f.Conditions["things"], f.Conditions["shadows"] = len(s.Things), len(s.Light.Blockers)
		f.Conditions["dirt"], f.Conditions["scratches"], f.Conditions["tapes"] = s.Ground.Dirt, s.Ground.Scratches, len(s.Ground.Tapes)
	}
	return f
}

// scaleOption is what a user would declare of the scale reference.
func (s Scene) scaleOption() string {
	switch {
	case s.Rule != nil:
		return "rule=1mm"
	case s.Disc != nil:
		return fmt.Sprintf("disc=%gmm", s.Disc.DiameterMM)
	case s.Board.SquareMM > 0:
		return fmt.Sprintf("chessboard=%gmm", s.Board.SquareMM)
	}
	return "chessboard=5mm"
}
