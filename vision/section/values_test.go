package section

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// A conductor of 56 strands of 0.30 mm has 3.9584 mm² of metal (56·pi/4·0.30², the common class 5 construction for 4 mm²);
// squeezed to 3.2459 mm² that is a compaction of 18.0 % against its metal and of 18.9 % against the nominal 4 mm². The
// arithmetic is its own source: 1 - 3.2459/3.9584 and 1 - 3.2459/4.
func TestCompactionSaysWhatItIsHeldAgainst(t *testing.T) {
	const squeezed = 3.2459
	for _, c := range []struct {
		name     string
		declared record.Declared
		count    float64
		area     float64
		percent  float64
		from     string
	}{
		{"strands declared", record.Declared{StrandCount: 56, StrandDiameter: 0.30}, 55, 3.9584, 18.0, "declared strand_count 56"},
		{"strands counted", record.Declared{StrandDiameter: 0.30}, 56, 3.9584, 18.0, "56 strands counted"},
		{"metal area declared", record.Declared{ConductorArea: 3.9584}, 56, 3.9584, 18.0, "declared conductor_area"},
		{"nominal area declared", record.Declared{ConductorArea: 4}, 56, 4, 18.9, "declared conductor_area"},
		{"area goes before strands", record.Declared{ConductorArea: 4, StrandCount: 56, StrandDiameter: 0.30}, 56, 4, 18.9, "declared conductor_area"},
	} {
		rec := record.New(record.Section)
		// Cavity and voids such that 3.2459 mm² of metal are left.
		areas(conductor{cavity: squeezed + 0.05, void: 0.05, count: c.count}, scale.Micro{RelU: 0.001}, c.declared, &rec)
		require.NotNil(t, rec.CompactionReference, c.name)
		assert.InDelta(t, c.area, rec.CompactionReference.AreaMM2, 5e-5, c.name)
		assert.Contains(t, rec.CompactionReference.From, c.from, c.name)
		assert.InDelta(t, squeezed, rec.Measured[record.ConductorArea].Value, 1e-12, c.name)
		assert.InDelta(t, c.percent, 100*rec.Measured[record.Compaction].Value, 0.05, c.name)
	}
}

// Without a reference there is no compaction, and the record says what to declare.
func TestCompactionNeedsAReference(t *testing.T) {
	for name, c := range map[string]struct {
		is       conductor
		declared record.Declared
	}{
		"nothing declared":              {conductor{cavity: 3, count: 56}, record.Declared{}},
		"a count without a diameter":    {conductor{cavity: 3, count: 56}, record.Declared{StrandCount: 56}},
		"a diameter and no strand seen": {conductor{cavity: 3}, record.Declared{StrandDiameter: 0.3}},
	} {
		rec := record.New(record.Section)
		areas(c.is, scale.Micro{}, c.declared, &rec)
		assert.Nil(t, rec.CompactionReference, name)
		assert.NotContains(t, rec.Measured, record.Compaction, name)
		assert.Contains(t, rec.Unmeasured[record.Compaction], "declare", name)
		assert.Contains(t, rec.Measured, record.ConductorArea, name)
	}
}

// The uncertainties against plain differences: area = cavity - void, ratio = void/cavity, compaction = 1 - area/reference
// (JCGM 100:2008, 5.1.3: numerical partial derivatives, the note to it).
func TestAreasCarryTheirUncertainty(t *testing.T) {
	is := conductor{cavity: 3.4, uCavity: 0.05, void: 0.2, uVoid: 0.03, count: 56, uCount: 2}
	sc := scale.Micro{RelU: 0.002}
	d := record.Declared{StrandDiameter: 0.3}
	rec := record.New(record.Section)
	areas(is, sc, d, &rec)
	one := math.Pi / 4 * d.StrandDiameter * d.StrandDiameter
	of := func(cavity, void, count, scaled float64) (area, ratio, compaction float64) {
		area = (cavity - void) * scaled * scaled
		return area, void / cavity, 1 - area/(count*one)
	}
	a0, r0, c0 := of(is.cavity, is.void, is.count, 1)
	var ua, ur, uc float64
	for _, in := range [][4]float64{
		{is.cavity + is.uCavity, is.void, is.count, 1}, {is.cavity, is.void + is.uVoid, is.count, 1},
		{is.cavity, is.void, is.count + is.uCount, 1}, {is.cavity, is.void, is.count, 1 + 2*sc.RelU},
	} {
		a, r, c := of(in[0], in[1], in[2], in[3])
		ua, ur, uc = math.Hypot(ua, a-a0), math.Hypot(ur, r-r0), math.Hypot(uc, c-c0)
	}
	for key, want := range map[record.Key][2]float64{
		record.ConductorArea: {a0, ua}, record.VoidRatio: {r0, ur}, record.Compaction: {c0, uc},
	} {
		v := rec.Measured[key]
		assert.InDelta(t, want[0], v.Value, 1e-12, key)
		assert.InEpsilon(t, want[1], v.U, 0.05, key)
	}
}

// What was declared changes no value; the notes tell of strands that are lost, doubtful or too many.
func TestCountIsHeldAgainstTheDeclaredOne(t *testing.T) {
	for _, c := range []struct {
		declared, count, u float64
		says               string
	}{
		{56, 56, 0, ""}, {0, 40, 0, ""}, {56, 54, 0, "lost strands: 2"}, {56, 54, 2, "some borders could not be seen"}, {56, 58, 1, "2 strands more than declared"},
	} {
		rec := record.New(record.Section)
		checkDeclared(conductor{count: c.count, uCount: c.u}, record.Declared{StrandCount: c.declared}, &rec)
		if c.says == "" {
			assert.Empty(t, rec.Notes)
			continue
		}
		require.Len(t, rec.Notes, 1)
		assert.Contains(t, rec.Notes[0], c.says)
	}
}
