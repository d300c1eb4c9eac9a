package drawn

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

func TestSpoiledScenesSayWhy(t *testing.T) {
	for _, why := range Faults {
		assert.Equal(t, why, plain().Spoil(why).ExpectRetake)
		assert.NotEqual(t, plain(), plain().Spoil(why))
	}
	assert.Equal(t, plain(), plain().Spoil("rain"))
	s := Random(1).Spoil("no part").renderer()
	for y := 0.0; y < 1500; y += 30 {
		for x := 0.0; x < 2000; x += 30 {
			_, what := s.sample(x, y)
			require.GreaterOrEqual(t, what, ground)
		}
	}
}

// small gives the areas of the classes in a small picture of a spoiled scene.
func small(s Scene, why string) [256]int { return areas(s.Spoil(why).Wide(250).classes()) }

// What a fault says is seen in the labels: parts that come or go, a reference that is hidden, a part that is cut off.
func TestFaultsAreSeen(t *testing.T) {
	for i, view := range Views {
		s := Varied(int64(40+i), view)
		s.Things = nil
		metal := classSleeve
		if view == record.Strip {
			metal = classConductor
		}
		before := areas(s.Wide(250).classes())
		require.Positive(t, before[metal], view)
		assert.Zero(t, small(s, "no part")[metal])
		assert.Zero(t, small(s, "no scale reference")[classReference])
		assert.Greater(t, float64(small(s, "two parts")[metal]), 1.5*float64(before[metal]), view)
		for _, why := range []string{"hand over the part", "cut off at the border"} {
			n := small(s, why)
			assert.Less(t, n[classInsulation]+n[classBody]+n[classSleeve]+n[classConductor],
				before[classInsulation]+before[classBody]+before[classSleeve]+before[classConductor], "%s %s", view, why)
		}
		assert.Less(t, float64(small(s, "hidden scale reference")[classReference]), 0.7*float64(before[classReference]), view)
		assert.Positive(t, small(s, "inch rule")[classReference])
		for _, why := range FaultsOf(view) {
			require.Equal(t, s.Spoil(why), s.Spoil(why), "the same seed spoils in the same way")
		}
	}
}

// An open barrel shows its strands between standing wings, a tube shows none and no seam.
func TestFormsOfSleeve(t *testing.T) {
	s := plain()
	length := float64(400 * 7)
	open, tube := areas(s.Spoil("not crimped").classes()), areas(s.Spoil("closed tube without a seam").classes())
	assert.Greater(t, float64(open[classConductor]), length*1.5)
	assert.Zero(t, open[classInside])
	assert.Zero(t, tube[classInside])
	assert.InEpsilon(t, length*4.2, tube[classSleeve], 0.03)
	assert.Empty(t, s.Spoil("not crimped").Truth().Values)
	assert.Empty(t, s.Spoil("two parts").Truth().Values)
}

// A rod that is thrown over a lamp's way leaves its shadow where the lamp's direction says: 100 mm high under 45 degrees it
// falls 100 mm away.
func TestBlockersThrowShadows(t *testing.T) {
	l := lighting{blockers: []Blocker{{From: [2]float64{100, -50}, To: [2]float64{100, 50}, RadiusMM: 5, HighMM: 100}}}
	toward := vec{1, 0, 1}.unit()
	assert.Zero(t, l.free(vec{0, 0, 0}, toward, 0.01))
	assert.EqualValues(t, 1, l.free(vec{8, 0, 0}, toward, 0.01))
	assert.EqualValues(t, 1, l.free(vec{0, 60, 0}, toward, 0.01))
	assert.InDelta(t, 0.5, l.free(vec{5, 0, 0}, toward, 0.01), 1e-9)
	// Light that falls off by half of e over 50 mm.
	l.fade = vec{math.Ln2 / 50, 0, 0}
	assert.InDelta(t, 2, l.faded(vec{50, 0, 0}), 1e-9)
}
