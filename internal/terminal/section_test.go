package terminal

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

// section is an invented record of a micrograph from the ferry terminal's laboratory, not a measured one.
func section() record.Record {
	rec := record.New(record.Section)
	rec.Image = "laboratory/contact-4-section-02.png"
	rec.Scale = &record.Scale{Kind: "bar", MMPerPX: 0.0027903, URel: 0.0024}
	rec.Set(record.CrimpHeight, 2.1823, 0.0074)
	rec.Set(record.CrimpWidth, 3.4012, 0.0101)
	rec.Set(record.FloorThickness, 0.5076, 0.0061)
	rec.Set(record.BurrHeightLeft, 0, 0.005)
	rec.Set(record.BurrHeightRight, 0.1183, 0.0071)
	rec.Set(record.BurrWidthLeft, 0, 0.005)
	rec.Set(record.BurrWidthRight, 0.0522, 0.0069)
	rec.Set(record.WingTipFloorLeft, 0.3811, 0.0092)
	rec.Set(record.WingTipFloorRight, 0.4021, 0.0093)
	rec.Set(record.WingTipHeightDifference, 0.0214, 0.0091)
	rec.Set(record.WingOpening, 0, 0.004)
	rec.Set(record.Symmetry, 0.931, 0.021)
	rec.Set(record.StrandCount, 54, 2)
	rec.Set(record.ConductorArea, 3.2459, 0.0312)
	rec.Set(record.VoidRatio, 0.0211, 0.0062)
	rec.Set(record.Compaction, 0.1801, 0.0083)
	rec.Voids = &record.Voids{Count: 7, AreaMM2: 0.0699, U: 0.0211, LargestMM2: 0.0224}
	rec.Cracks = []record.Crack{{Where: "floor", LengthMM: 0.2137, U: 0.018}, {Where: "sleeve", LengthMM: 0.091, U: 0.012}}
	rec.CompactionReference = &record.CompactionReference{AreaMM2: 3.95841, From: "56 x 0.30 mm"}
	rec.Notes = []string{"lost strands: 2"}
	rec.Strands = []record.Strand{{X: 0.1, Y: 0.9, AreaMM2: 0.058, Roundness: 0.86, Neighbours: 6}}
	return rec
}

func judgedSection() record.Record {
	rec := section()
	delete(rec.Measured, record.Symmetry)
	rec.Miss(record.Symmetry, "scratches hide where the wings touch")
	count, burr := rec.Measured[record.StrandCount], rec.Measured[record.BurrHeightRight]
	rec.Verdict = &record.Verdict{Result: record.NotMeasured, Score: 55.1, Tolerances: "laboratory, 56 x 0.30 mm",
		Features: []record.Feature{
			{Key: record.StrandCount, Result: record.NotProven, Value: &count.Value, U: &count.U, Unit: "1", Min: ptr(56), Max: ptr(56),
				Advice: &record.Advice{Means: "Strands may be missing.", Causes: []string{"cut off while stripping"}, Do: "Count again."}},
			{Key: record.BurrHeightRight, Result: record.Conforms, Value: &burr.Value, U: &burr.U, Unit: "mm", Max: ptr(0.6)},
			{Key: record.Symmetry, Result: record.NotMeasured, Min: ptr(0.8), Reason: "scratches hide where the wings touch"},
		}}
	return rec
}

func refusedSection() record.Record {
	rec := record.New(record.Section)
	rec.Image = "laboratory/contact-4-section-03.png"
	rec.Scale = &record.Scale{Kind: "known", MMPerPX: 0.00205, URel: 0.001}
	rec.Set(record.StrandCount, 56, 0)
	rec.Voids = &record.Voids{}
	rec.Refuse("the section runs out of the picture at its left edge: move it until resin shows all round it")
	return rec
}

// What was not looked for is not spoken of.
func TestSectionLines(t *testing.T) {
	rec := record.New(record.Section)
	rec.Set(record.CrimpHeight, 2, 0.1)
	var out bytes.Buffer
	require.NoError(t, New(&out, &bytes.Buffer{}).Record(rec))
	for _, word := range []string{"Voids", "Cracks", "Compaction", "--details", "scale", "card"} {
		assert.NotContains(t, out.String(), word)
	}
}
