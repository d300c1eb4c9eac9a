package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"syscall"

	"github.com/disintegration/imaging"
	"github.com/spf13/cobra"

	"crimprule/internal/cvx"
	"crimprule/internal/likeness"
	"crimprule/internal/overlay"
	"crimprule/internal/scan"
	"crimprule/internal/tolerance"
	"crimprule/vision"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// answersFD is the file descriptor that a worker process answers on; see scan.NewPool.
const answersFD = 3

// newWorkerCommand is the command that a scan calls for each of its worker processes. It is hidden: nobody else has a
// use for it.
func newWorkerCommand() *cobra.Command {
	return &cobra.Command{
		Use:    "worker",
		Short:  "Measure pictures for a scan (for the program's own use)",
		Hidden: true,
		Args:   noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			answers := os.NewFile(answersFD, "answers")
			if info, err := answers.Stat(); err != nil || info.Mode()&os.ModeNamedPipe == 0 {
				return wrongCall{"crimprule", errors.New("worker is for the program's own use: call 'crimprule scan' instead")}
			}
			// One picture and one core a process, whatever the machine: load stays predictable, and so do results.
			cvx.SetNumThreads(1)
			w := worker{limits: map[string]tolerance.File{}}
			return scan.Serve(cmd.Context(), os.Stdin, answers, w.do)
		},
	}
}

// worker does the tasks of a scan.
type worker struct {
	limits map[string]tolerance.File // by their text
}

func (w *worker) do(ctx context.Context, task scan.Task) (answer scan.Answer) {
	defer func() {
		if fault := recover(); fault != nil {
			answer = scan.Answer{Failure: fmt.Sprintf("a fault of this program at %s: %v; please report it with the picture", place(), fault)}
		}
	}()
	data, err := task.Load()
	if err != nil {
		return scan.Answer{Failure: err.Error()}
	}
	pic, err := picture.Decode(task.Name, data)
	if err != nil {
		return scan.Answer{Failure: err.Error()}
	}
	defer pic.Close()
	if answer = (scan.Answer{Record: task.Known, Marks: task.Marks}); task.Known == nil {
		if answer, err = measured(ctx, pic, task); err != nil {
			return scan.Answer{Failure: err.Error()}
		}
	}
	img, err := pic.Mat.ToImage()
	if err != nil {
		return scan.Answer{Failure: err.Error()}
	}
	if task.Look {
		look, err := likeness.Of(img)
		if err != nil {
			return scan.Answer{Failure: err.Error()}
		}
		answer.Look = &look
	}
	if err := w.draw(img, task, answer); err != nil {
		answer.Unwritten, answer.DiskFull = err.Error(), isFull(err)
	}
	return answer
}

// isFull tells whether there was no room left, on the disk or of what the user may have of it.
func isFull(err error) bool { return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) }

// measured measures a picture for the first time.
func measured(ctx context.Context, pic picture.Picture, task scan.Task) (scan.Answer, error) {
	scales, err := readScales(task.Request.View, task.Request.Scales)
	if err != nil {
		return scan.Answer{}, err
	}
	rec, err := vision.Measure(ctx, pic, vision.Request{View: task.Request.View, Scales: scales, Declared: task.Request.Declared})
	if err != nil {
		return scan.Answer{}, err
	}
	rec.Strands = nil // as without --details
	text, err := json.Marshal(rec)
	return scan.Answer{Record: text, Marks: overlay.Drawable(rec.Marks)}, err
}

// draw writes the picture's drawing and then its thumbnail into the evidence, so that where the thumbnail is, all is.
func (w *worker) draw(img image.Image, task scan.Task, answer scan.Answer) error {
	rec, err := scan.Plain(answer.Record, answer.Marks)
	if err != nil {
		return err
	}
	rec.Image = task.Name
	limits, err := w.read(task.Limits)
	if err != nil {
		return err
	}
	rec, _ = limits.Judge(rec)
	if task.Overlay != "" && len(rec.Marks) > 0 { // else there is nothing to see but the picture itself
		drawn := overlay.Draw(img, rec)
		if err := writeAtomically(task.Overlay, func(out io.Writer) error { return overlay.Encode(out, drawn) }); err != nil {
			return err
		}
	}
	if task.Thumb == "" {
		return nil
	}
	small := thumbnail(img, rec.Marks)
	return writeAtomically(task.Thumb, func(out io.Writer) error {
		return imaging.Encode(out, small, imaging.JPEG, imaging.JPEGQuality(thumbQuality))
	})
}

// read gives the tolerances files of a task, each of which is parsed once in the life of the process.
func (w *worker) read(texts []scan.TaskLimits) (scan.Limits, error) {
	var limits scan.Limits
	for _, t := range texts {
		file, known := w.limits[t.Text]
		if !known {
			var err error
			if file, err = tolerance.Parse(t.File, []byte(t.Text)); err != nil {
				return nil, err
			}
			w.limits[t.Text] = file
		}
		limits = append(limits, scan.LimitsFile{File: t.File, Text: t.Text, Limits: file})
	}
	return limits, nil
}

// The thumbnail's size, px, and its JPEG quality.
const (
	thumbWidth, thumbHeight = 360, 270
	thumbQuality            = 85
)

// thumbnail is a small picture of the crimp: of where something was measured, with its surroundings, else of the whole.
func thumbnail(img image.Image, marks []record.Mark) image.Image {
	bounds := img.Bounds()
	var part image.Rectangle
	for _, m := range marks {
		if m.Kind == record.MarkScale {
			continue
		}
		for _, p := range m.Points {
			at := image.Pt(int(p.X)+bounds.Min.X, int(p.Y)+bounds.Min.Y)
			part = part.Union(image.Rectangle{at, at.Add(image.Pt(1, 1))})
		}
	}
	if !part.Empty() {
		part = part.Inset(-max(part.Dx(), part.Dy()) / 4)
		if more := part.Dx()*thumbHeight/thumbWidth - part.Dy(); more > 0 {
			part.Min.Y, part.Max.Y = part.Min.Y-more/2, part.Max.Y+more/2
		}
		img = imaging.Crop(img, part.Intersect(bounds))
	}
	return imaging.Fit(img, thumbWidth, thumbHeight, imaging.Linear)
}
