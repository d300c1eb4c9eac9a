package terminal

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/advice"
	"crimprule/vision/record"
)

// golden compares got with testdata/name; UPDATE_GOLDEN=1 rewrites the file, and a person reads the difference.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if os.Getenv("UPDATE_GOLDEN") != "" {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got)
}

func ptr(v float64) *float64 { return &v }

// measured is an invented record of a crimp of the ferry terminal's solar canopy, not a measured one.
func measured() record.Record {
	rec := record.New(record.Seam)
	rec.Image = "canopy/crew-a-017.jpg"
	rec.Taken = "2026-05-04T09:12:00+02:00"
	rec.Scale = &record.Scale{Kind: "chessboard", MMPerPX: 0.032104, URel: 0.0021, TiltDeg: 4.13}
	rec.Set(record.InsulationGapMean, 0.8213, 0.0418)
	rec.Set(record.InsulationGapMax, 1.0932, 0.0512)
	rec.Set(record.BrushMean, 0.712, 0.11)
	rec.Set(record.StrayCount, 1, 0)
	rec.Set(record.StrayLongest, 2.31, 0.3)
	rec.Set(record.WingWidthLeft, 1.401, 0.021)
	rec.Set(record.WingWidthRight, 1.366, 0.021)
	rec.Set(record.Symmetry, 0.9749, 0.0203)
	rec.Set(record.SeamAngle, 0.42, 0.35)
	rec.Set(record.SleeveLength, 6.4808, 0.0291)
	rec.Miss(record.Bend, "the contact's body is outside the picture")
	rec.Miss(record.CompletenessLeft, "glare hides the wing's edge over 2.1 mm")
	rec.Miss(record.MissingLengthMax, "glare hides the wing's edge over 2.1 mm")
	return rec
}

func judged() record.Record {
	rec := measured()
	gap, stray := rec.Measured[record.InsulationGapMax], rec.Measured[record.StrayCount]
	sym := rec.Measured[record.Symmetry]
	rec.Verdict = &record.Verdict{Result: record.DoesNotConform, Score: 4.2, Tolerances: "ferry terminal canopy, 4 mm² pins",
		Features: []record.Feature{
			{Key: record.InsulationGapMax, Result: record.DoesNotConform, Value: &gap.Value, U: &gap.U, Unit: "mm",
				Min: ptr(0), Max: ptr(1), Probability: ptr(0.0001), Note: "common practice, no source",
				Advice: &record.Advice{Means: "More bare conductor lies open than the limit allows, so that strands can splay and the " +
					"insulation gives no support.", Causes: []string{"stripped too long", "not pushed in up to the stop"},
					Do: "Cut the contact off and make the crimp anew; never crimp it a second time."}},
			{Key: record.StrayCount, Result: record.DoesNotConform, Value: &stray.Value, U: &stray.U, Unit: "1", Max: ptr(0),
				Advice: &record.Advice{Means: "A strand lies outside the sleeve.", Do: "Make the crimp anew."}},
			{Key: record.Symmetry, Result: record.NotProven, Value: &sym.Value, U: &sym.U, Unit: "1", Min: ptr(0.96)},
			{Key: record.CompletenessLeft, Result: record.NotMeasured, Min: ptr(0.98), Reason: "glare hides the wing's edge over 2.1 mm"},
		}}
	return rec
}

// judgedSide is an invented record from the side, where the sleeve's width is the crimp's height.
func judgedSide() record.Record {
	rec := record.New(record.Side)
	rec.Image = "canopy/crew-a-017-side.jpg"
	rec.Scale = &record.Scale{Kind: "disc", MMPerPX: 0.0301, URel: 0.011}
	rec.Set(record.InsulationGapMax, 1.08, 0.07)
	rec.Set(record.SleeveWidth, 3.52, 0.06)
	rec.Set(record.Bend, 0.4, 0.3)
	rec.Miss(record.BellmouthLength, "the rear lies in shadow")
	height := rec.Measured[record.SleeveWidth]
	feature := record.Feature{Key: record.SleeveWidth, Result: record.DoesNotConform, Value: &height.Value, U: &height.U, Unit: "mm", Max: ptr(3.3)}
	feature.Advice = advice.For(record.Side, feature)
	rec.Verdict = &record.Verdict{Result: record.DoesNotConform, Score: 8, Features: []record.Feature{feature}}
	return rec
}

// judgedStrip is an invented record of a stripped wire.
func judgedStrip() record.Record {
	rec := record.New(record.Strip)
	rec.Image = "workshop/trainee-3-end-02.jpg"
	rec.Scale = &record.Scale{Kind: "rule", MMPerPX: 0.0310, URel: 0.004}
	rec.Set(record.StripLength, 7.752, 0.09)
	rec.Set(record.StrandEndSpread, 2.17, 0.12)
	rec.Set(record.CutStrands, 1, 0)
	rec.Set(record.Splay, 1.08, 0.04)
	rec.Miss(record.InsulationCutAngle, "the insulation is as dark as the ground")
	rec.Verdict = &record.Verdict{Result: record.DoesNotConform, Score: 12.5, Tolerances: "workshop, stripping 8 mm"}
	one := func(key record.Key, result record.Result, low, high *float64) {
		f := record.Feature{Key: key, Result: result, Unit: key.Unit(), Min: low, Max: high, Reason: rec.Unmeasured[key]}
		if v, ok := rec.Measured[key]; ok {
			f.Value, f.U = &v.Value, &v.U
		}
		f.Advice = advice.For(record.Strip, f)
		rec.Verdict.Features = append(rec.Verdict.Features, f)
	}
	one(record.StripLength, record.Conforms, ptr(7.5), ptr(8.5))
	one(record.CutStrands, record.DoesNotConform, nil, ptr(0))
	one(record.InsulationCutAngle, record.NotMeasured, nil, ptr(10))
	return rec
}

func TestRecord(t *testing.T) {
	refused := record.New(record.Seam)
	refused.Image = "canopy/\x1b[2Jcrew-a-018.jpg"
	refused.Scale = nil
	refused.Refuse("no chessboard was found: lay the printed board beside the part, flat and wholly inside the picture",
		"the picture is blurred (edges 9 pixels wide): hold the camera still, tap on the part to focus")
	tagged := measured()
	tagged.Tag = "canopy-north \x1b[2Jstring-03 crimp-01" // measuring takes no such tag; a record from elsewhere may have it
	tagged.Notes = []string{"a second tag is in the picture \x1b[2J that cannot be read, so none is taken: cover all but the part's own"}
	for name, rec := range map[string]record.Record{
		"tagged.txt": tagged,
		"judged.txt": judged(), "unjudged.txt": measured(), "refused.txt": refused,
		"side_judged.txt": judgedSide(), "strip_judged.txt": judgedStrip(),
		"section.txt": section(), "section_judged.txt": judgedSection(), "section_refused.txt": refusedSection(),
	} {
		t.Run(name, func(t *testing.T) {
			var out, complaints bytes.Buffer
			require.NoError(t, New(&out, &complaints).Record(rec))
			golden(t, name, out.String())
			assert.Empty(t, complaints.String())
			assert.NotContains(t, out.String(), "\x1b", "no colour and no foreign control character where out is no terminal")
		})
	}
}

// Colour adds nothing but colour: without the escape sequences the text is the same.
func TestColourOnlyAccompaniesWords(t *testing.T) {
	var plain, coloured bytes.Buffer
	require.NoError(t, (&Terminal{out: &plain}).Record(judged()))
	require.NoError(t, (&Terminal{out: &coloured, colour: true}).Record(judged()))
	require.NotEqual(t, plain.String(), coloured.String())
	text := coloured.String()
	for _, code := range []string{"\x1b[1;31m", "\x1b[33m", "\x1b[32m", "\x1b[0m"} {
		text = string(bytes.ReplaceAll([]byte(text), []byte(code), nil))
	}
	assert.Equal(t, plain.String(), text)
}

func TestWantsColour(t *testing.T) {
	env := func(values map[string]string) func(string) (string, bool) {
		return func(key string) (string, bool) { v, ok := values[key]; return v, ok }
	}
	// The null device is a character device, as a terminal is, so it stands for one here.
	device, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	require.NoError(t, err)
	defer func() { _ = device.Close() }()
	file, err := os.Create(filepath.Join(t.TempDir(), "out.txt"))
	require.NoError(t, err)
	defer func() { _ = file.Close() }()

	assert.True(t, wantsColour(device, env(nil)))
	assert.True(t, wantsColour(device, env(map[string]string{"NO_COLOR": ""})), "https://no-color.org: only when not empty")
	assert.False(t, wantsColour(device, env(map[string]string{"NO_COLOR": "0"})))
	assert.False(t, wantsColour(device, env(map[string]string{"TERM": "dumb"})))
	assert.False(t, wantsColour(file, env(nil)))
	assert.False(t, wantsColour(&bytes.Buffer{}, env(nil)))
}

func TestComplaintsAreOneLineAndClean(t *testing.T) {
	var complaints bytes.Buffer
	term := New(&bytes.Buffer{}, &complaints)
	term.ComplainOfPicture("a.jpg", errors.New("is cut off:\nthe last 3 kB are missing"))
	term.ComplainOfPicture("b\x1b[2J.jpg", errors.New("open b\x1b[2J.jpg: no such file"))
	assert.Equal(t, "crimprule: a.jpg: is cut off: the last 3 kB are missing\n"+
		"crimprule: open b\\x1b[2J.jpg: no such file\n", complaints.String())
}

func TestSummary(t *testing.T) {
	var out bytes.Buffer
	term := New(&out, &bytes.Buffer{})
	s := Summary{Pictures: 3, Unreadable: 1}
	s.Add(judged())
	refused := record.New(record.Seam)
	refused.Refuse("too dark")
	s.Add(refused)
	require.NoError(t, term.Summary(s, []string{"A caution."}))
	assert.Equal(t, "3 pictures: 1 DO NOT CONFORM, 1 to be taken anew, 1 could not be read\nA caution.\n", out.String())

	out.Reset()
	require.NoError(t, term.Summary(Summary{Pictures: 2}, nil))
	assert.Equal(t, "2 pictures measured\n", out.String())
	out.Reset()
	require.NoError(t, term.Summary(Summary{Pictures: 1}, nil))
	assert.Empty(t, out.String())
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestAWriterThatFailsIsReported(t *testing.T) {
	assert.ErrorContains(t, New(full{}, &bytes.Buffer{}).Record(measured()), "no space left")
}
