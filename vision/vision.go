// Package vision is the one door into measuring: a picture and a request in, a record out.
package vision

import (
	"context"
	"errors"
	"fmt"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
	"crimprule/vision/part"
	"crimprule/vision/photo"
	"crimprule/vision/picture"
	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// ScaleOption is a scale reference as the user declares it.
type ScaleOption struct {
	Kind string // chessboard, rule or disc for photos; bar or known for sections
	// LengthMM is the declared length: the side of a chessboard's square, the distance of a rule's graduations, a disc's
	// diameter, or a drawn bar from end to end.
	LengthMM float64
	// MMPerPX is the declared length of a pixel (kind known), HalfDigitMMPerPX half a step of the last digit in which it
	// was written, and so how far the declared value may be off by its rounding.
	MMPerPX, HalfDigitMMPerPX float64
}

// Request says what to measure and what is known of it.
type Request struct {
	View record.View
	// Scales are the scale references: a chessboard, a rule, a disc or several of them for a photo; a bar, a known scale or
	// both for a section.
	Scales   []ScaleOption
	Declared record.Declared
	// Debug, where set, is handed the picture after each stage, named and in order. The callee must not keep the Mat.
	Debug func(stage string, mat gocv.Mat)
}

// scale gives the declared reference of a kind.
func (r Request) scale(kind string) (ScaleOption, bool) {
	for _, s := range r.Scales {
		if s.Kind == kind {
			return s, true
		}
	}
	return ScaleOption{}, false
}

// finder is how the part is found; another one takes its place here.
var finder part.Finder = part.Learned{}

// Measure measures one picture. A picture that cannot be measured is no error: its record says in Retake what to do
// better. An error is a fault of ours, or a request that this version cannot serve.
func Measure(ctx context.Context, pic picture.Picture, req Request) (record.Record, error) {
	rec := record.New(req.View)
	rec.Image, rec.SHA256, rec.Taken, rec.Camera = pic.Name, pic.SHA256, pic.Taken, pic.Camera
	if req.View != record.Auto && record.Keys(req.View) == nil {
		return rec, fmt.Errorf("view %q is not measured by this version", req.View)
	}
	if err := ctx.Err(); err != nil {
		return rec, err
	}
	way := photoWay
	if req.isSection() {
		way, rec.View = sectionWay, record.Section
	}
	err := way(ctx, pic, req, &rec)
	var refusal scale.Refusal
	if errors.As(err, &refusal) {
		rec.Refuse(refusal.Reason)
		return rec, nil
	}
	return rec, err
}

// photoWay measures a photo with a scale reference in it.
func photoWay(ctx context.Context, pic picture.Picture, req Request, rec *record.Record) error {
	grey := gocv.NewMat()
	defer grey.Close()
	if err := cvx.CvtColor(pic.Mat, &grey, gocv.ColorBGRToGray); err != nil {
		return err
	}
	ref, err := reference(pic, grey, req.Scales)
	readTag(grey, ref, err == nil, rec)
	if err != nil {
		return err
	}
	rec.Notes = append(rec.Notes, ref.Notes...)
	centre := ref.Points[len(ref.Points)/2]
	rec.Scale = &record.Scale{Kind: ref.Kind, MMPerPX: ref.MMPerPX(centre.X, centre.Y, 0), URel: 2 * ref.RelU, TiltDeg: ref.Camera.TiltDeg()}
	blurPX, err := checkReference(grey, ref, rec)
	if err != nil {
		return err
	}
	showBoard(pic.Mat, ref, req.Debug)
	rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkScale, Points: ref.Points})
	if err := ctx.Err(); err != nil {
		return err
	}
	pix, err := pic.Mat.DataPtrUint8()
	if err != nil {
		return err
	}
	im := part.Image{W: pic.Mat.Cols(), H: pic.Mat.Rows(), Pix: pix}
	found, err := finder.Find(part.Scene{Mat: pic.Mat, Image: im, Reference: ref, Declared: req.Declared, View: req.View, Debug: req.Debug})
	if err != nil {
		return err
	}
	at := found.Frame.Pixel((found.RearX+found.FrontX)/2, 0, 0)
	z := found.Frame.Origin.Z
	rec.Scale.MMPerPX, rec.Scale.URel = ref.MMPerPX(at.X, at.Y, z), 2*ref.RelUAt(at.X, at.Y, z)
	if err := checkPart(rec.Scale.MMPerPX, found, rec); err != nil {
		return err
	}
	if err := settleView(req.View, found, rec); err != nil {
		return err
	}
	if err := checkFound(im, found, req.Declared, rec); err != nil {
		return err
	}
	subject := photo.Subject{Image: im, Reference: ref, Part: found, Declared: req.Declared, BlurPX: blurPX, Debug: req.Debug}
	switch rec.View {
	case record.Side:
		photo.Side(subject, rec)
	case record.Strip:
		photo.Strip(subject, rec)
	default:
		photo.Seam(subject, rec)
	}
	return nil
}

// showBoard hands the upright picture with the reference's points to whoever looks at the stages.
func showBoard(mat gocv.Mat, ref scale.Reference, debug func(stage string, mat gocv.Mat)) {
	if debug == nil {
		return
	}
	m := mat.Clone()
	defer m.Close()
	for _, p := range ref.Points {
		part.Cross(m, p.X, p.Y, 8, [3]uint8{0, 0, 255})
	}
	debug("board", m)
}
