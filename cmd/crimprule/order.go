package main

import (
	"errors"
	"fmt"

	"gocv.io/x/gocv"

	"crimprule/internal/tolerance"
	"crimprule/vision"
	"crimprule/vision/record"
)

// order is what a call asks for, checked: the same for each of its pictures.
type order struct {
	view     record.View
	scales   []vision.ScaleOption
	declared record.Declared
	file     *tolerance.File // nil where nothing is judged
}

func (o order) request(debug func(string, gocv.Mat)) vision.Request {
	return vision.Request{View: o.view, Scales: o.scales, Declared: o.declared, Debug: debug}
}

// readOrder checks the options. Every error is one that the caller can mend.
func readOrder(opts measureOptions) (order, error) {
	var o order
	var err error
	if o.view, err = readView(opts.view); err != nil {
		return order{}, err
	}
	if o.scales, err = readScales(o.view, opts.scales); err != nil {
		return order{}, err
	}
	if opts.tolerances != "" {
		file, err := tolerance.Load(opts.tolerances)
		if err != nil {
			return order{}, err
		}
		if file.View != "" && file.View != o.view && o.view != record.Auto {
			return order{}, fmt.Errorf("the tolerances file %q is for the %s view, but the %s view is measured: say --view %s, or name another file",
				opts.tolerances, file.View, o.view, file.View)
		}
		o.file, o.declared = &file, file.Declared()
	}
	return o, o.declare(opts.declare)
}

// declare applies what the command line says of the part, over what the tolerances file says.
func (o *order) declare(texts []string) error {
	seen := map[string]bool{}
	for _, text := range texts {
		d, err := tolerance.ParseDeclare(text)
		if err != nil {
			return fmt.Errorf("--declare %w", err)
		}
		if seen[d.Key] {
			return fmt.Errorf("--declare %s is given twice: keep the right one", d.Key)
		}
		seen[d.Key] = true
		d.Apply(&o.declared)
	}
	return nil
}

func readView(text string) (record.View, error) {
	switch view := record.View(text); view {
	case record.Seam, record.Side, record.Strip, record.Section, record.Auto:
		return view, nil
	}
	return "", fmt.Errorf("--view %q: there is no such view; the views are seam, side, strip and section, and auto tells each picture's by itself",
		text)
}

// readScales reads each KIND=VALUE. No scale at all is no wrong call: the record then says that the picture needs one.
func readScales(view record.View, texts []string) ([]vision.ScaleOption, error) {
	var scales []vision.ScaleOption
	seen := map[string]bool{}
	for _, text := range texts {
		s, err := tolerance.ParseScale(text)
		if err != nil {
			return nil, fmt.Errorf("--scale %w", err)
		}
		option, err := scaleFor(view, s)
		if err != nil {
			return nil, fmt.Errorf("--scale %s: %w", text, err)
		}
		if seen[s.Kind] {
			return nil, fmt.Errorf("--scale %s: a scale of kind %s is given twice; keep the right one", text, s.Kind)
		}
		seen[s.Kind] = true
		scales = append(scales, option)
	}
	return scales, nil
}

// scaleFor tells whether a view can be measured by a scale: photos by a chessboard, a rule or a disc, sections by a bar or
// a known scale. Where each picture's view is told by itself, there may be photos and sections.
func scaleFor(view record.View, s tolerance.Scale) (vision.ScaleOption, error) {
	ofPhoto := s.Kind == "chessboard" || s.Kind == "rule" || s.Kind == "disc"
	switch fits := view == record.Auto || ofPhoto == (view != record.Section); {
	case fits && s.Kind == "known":
		return vision.ScaleOption{Kind: s.Kind, MMPerPX: s.Value, HalfDigitMMPerPX: s.HalfDigit}, nil
	case fits:
		return vision.ScaleOption{Kind: s.Kind, LengthMM: s.Value}, nil
	case view == record.Section:
		return vision.ScaleOption{}, errors.New("a section takes its scale from a drawn bar or from the known length of a pixel only; " +
			"call it with --scale bar=500um or --scale known=2.05um/px")
	}
	return vision.ScaleOption{}, fmt.Errorf("the %s view takes its scale from a chessboard, a steel rule or a disc beside the part: "+
		"call it with --scale chessboard=5mm, --scale rule=1mm or --scale disc=20mm, or say --view section if it is the micrograph of a section", view)
}

// contradiction says why a picture whose view was told by itself cannot be judged by the tolerances file, which names
// another view; empty where it can. Its values are not kept: what they stand for is not what the user declared.
func (o order) contradiction(rec record.Record) string {
	if o.file == nil || o.file.View == "" || o.file.View == rec.View || len(rec.Retake) > 0 {
		return ""
	}
	return fmt.Sprintf("the picture shows the %s view, and the tolerances file is for the %s view: photograph the part for that view, or "+
		"measure this picture by itself, with a tolerances file for the %s view", rec.View, o.file.View, rec.View)
}
