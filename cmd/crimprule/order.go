package main

import (
	"fmt"

	"gocv.io/x/gocv"

	"crimprule/internal/tolerance"
	"crimprule/vision"
	"crimprule/vision/record"
)

// order is what a call asks for, checked: the same for each of its pictures.
type order struct {
	view     record.View
	scale    vision.ScaleOption
	declared record.Declared
	file     *tolerance.File // nil where nothing is judged
}

func (o order) request(debug func(string, gocv.Mat)) vision.Request {
	return vision.Request{View: o.view, Scale: o.scale, Declared: o.declared, Debug: debug}
}

// readOrder checks the options. Every error is one that the caller can mend.
func readOrder(opts measureOptions) (order, error) {
	var o order
	var err error
	if o.view, err = readView(opts.view); err != nil {
		return order{}, err
	}
	if o.scale, err = readScale(opts.scale); err != nil {
		return order{}, err
	}
	if opts.tolerances != "" {
		file, err := tolerance.Load(opts.tolerances)
		if err != nil {
			return order{}, err
		}
		if file.View != "" && file.View != o.view {
			return order{}, fmt.Errorf("the tolerances file %q is for the %s view, but the %s view is measured: name another file",
				opts.tolerances, file.View, o.view)
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
	case record.Seam:
		return view, nil
	case record.Auto, record.Side, record.Strip, record.Section:
		return "", fmt.Errorf("--view %s: this version measures the seam view only; photograph the part square onto its seam "+
			"and call it with --view seam", view)
	}
	return "", fmt.Errorf("--view %q: there is no such view; this version measures --view seam", text)
}

// readScale reads KIND=VALUE. No scale at all is no wrong call: the record then says that the picture needs one.
func readScale(text string) (vision.ScaleOption, error) {
	if text == "" {
		return vision.ScaleOption{}, nil
	}
	s, err := tolerance.ParseScale(text)
	if err != nil {
		return vision.ScaleOption{}, fmt.Errorf("--scale %w", err)
	}
	if s.Kind != "chessboard" {
		return vision.ScaleOption{}, fmt.Errorf("--scale %s: this version takes its scale from a printed chessboard only; "+
			"lay one beside the part and call it with --scale chessboard=5mm (the side of a square)", text)
	}
	return vision.ScaleOption{Kind: s.Kind, Length: s.Value}, nil
}
