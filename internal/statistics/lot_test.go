package statistics

import (
	"fmt"
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestCodeLetters: ISO 2859-1, table of code letters, level II read in two copies, levels I and III likewise; each row at
// its smallest and largest size.
func TestCodeLetters(t *testing.T) {
	rows := []struct {
		from, to        int
		one, two, three string
	}{
		{2, 8, "A", "A", "B"}, {9, 15, "A", "B", "C"}, {16, 25, "B", "C", "D"}, {26, 50, "C", "D", "E"}, {51, 90, "C", "E", "F"},
		{91, 150, "D", "F", "G"}, {151, 280, "E", "G", "H"}, {281, 500, "F", "H", "J"}, {501, 1200, "G", "J", "K"},
		{1201, 3200, "H", "K", "L"}, {3201, 10000, "J", "L", "M"}, {10001, 35000, "K", "M", "N"}, {35001, 150000, "L", "N", "P"},
		{150001, 500000, "M", "P", ""},
	}
	for _, row := range rows {
		for level, letter := range map[string]string{"I": row.one, "II": row.two, "III": row.three} {
			for _, size := range []int{row.from, row.to} {
				p, err := LotPlan(size, level, 1.5)
				if letter == "" {
					assert.ErrorContains(t, err, "ends at 150000", "%d at level %s", size, level)
					continue
				}
				require.NoError(t, err)
				assert.Equal(t, letter, p.Begun, "%d at level %s", size, level)
			}
		}
	}
}

// TestMasterTable: ISO 2859-1, single sampling, normal inspection, read in a copy; "->" is where the arrows end.
func TestMasterTable(t *testing.T) {
	sizes := map[string]int{"D": 8, "E": 13, "F": 20, "G": 32, "H": 50, "J": 80, "K": 125, "L": 200, "M": 315, "N": 500, "P": 800}
	lot := map[string]int{"D": 50, "E": 90, "F": 150, "G": 280, "H": 500, "J": 1200, "K": 3200, "L": 10000, "M": 35000, "N": 150000, "P": 500000}
	for letter, row := range map[string][4]string{ // AQL 0.65, 1.0, 1.5, 2.5
		"D": {"-> F", "-> E", "0/1", "-> C"},
		"E": {"-> F", "0/1", "-> D", "-> F"},
		"F": {"0/1", "-> E", "-> G", "1/2"},
		"G": {"-> F", "-> H", "1/2", "2/3"},
		"H": {"-> J", "1/2", "2/3", "3/4"},
		"J": {"1/2", "2/3", "3/4", "5/6"},
		"K": {"2/3", "3/4", "5/6", "7/8"},
		"L": {"3/4", "5/6", "7/8", "10/11"},
		"M": {"5/6", "7/8", "10/11", "14/15"},
		"N": {"7/8", "10/11", "14/15", "21/22"},
		"P": {"10/11", "14/15", "21/22", "-> N"},
	} {
		for i, aql := range []float64{0.65, 1, 1.5, 2.5} {
			p, err := LotPlan(lot[letter], "II", aql)
			require.NoError(t, err)
			assert.Equal(t, letter, p.Begun)
			got := fmt.Sprintf("%d/%d", p.Accept, p.Reject)
			if p.Letter != p.Begun {
				got = "-> " + p.Letter
			} else {
				assert.Equal(t, sizes[letter], p.Sample)
			}
			assert.Equal(t, row[i], got, "letter %s, AQL %v", letter, aql)
			assert.Equal(t, sampleSizes[indexOf(p.Letter)], p.Sample, "an arrow changes the sample size too")
		}
	}
	p, err := LotPlan(100, "II", 1) // worked example of the same copy's reading
	require.NoError(t, err)
	assert.Equal(t, Plan{Size: 100, Level: "II", AQL: 1, Begun: "F", Letter: "E", Sample: 13, Table: 13, Accept: 0, Reject: 1}, p)
}

func indexOf(letter string) int {
	for i := range codeLetters {
		if codeLetters[i:i+1] == letter {
			return i
		}
	}
	return -1
}

// TestSmallLots: a sample as large as the lot is the whole lot (rule from memory).
func TestSmallLots(t *testing.T) {
	p, err := LotPlan(10, "II", 1) // B leads down to E with 13
	require.NoError(t, err)
	assert.Equal(t, Plan{Size: 10, Level: "II", AQL: 1, Begun: "B", Letter: "E", Sample: 10, Table: 13, Whole: true, Accept: 0, Reject: 1}, p)
	p, err = LotPlan(13, "II", 1)
	require.NoError(t, err)
	assert.True(t, p.Whole)
	p, err = LotPlan(14, "II", 1)
	require.NoError(t, err)
	assert.False(t, p.Whole)
}

func TestOutsideTheTables(t *testing.T) {
	for _, c := range []struct {
		size  int
		level string
		aql   float64
		want  string
	}{
		{500, "II", 0.7, "no plan for an AQL of 0.7: it is one of 0.65, 1.0, 1.5, 2.5"},
		{500, "II", math.NaN(), "no plan for an AQL of NaN"},
		{500, "S-1", 1, `no inspection level "S-1": it is one of I, II, III`},
		{1, "II", 1, "a lot of 1 is none"},
		{-3, "II", 1, "a lot of -3 is none"},
		{500001, "II", 1, "the table here ends at 500000; split"},
		{150001, "III", 1, "the table here ends at 150000; split"},
	} {
		_, err := LotPlan(c.size, c.level, c.aql)
		assert.ErrorContains(t, err, c.want)
	}
}

// TestChance: binomial from scipy 1.10.1 (scipy.stats.binom.cdf); the first three are well-known check values.
func TestChance(t *testing.T) {
	for _, c := range []struct {
		size        int
		aql         float64
		share, want float64
	}{
		{1200, 1, 0.01, 0.95344681}, {1200, 1, 0.05, 0.23062050}, {3200, 1, 0.01, 0.96255094}, {100, 1, 0.01, 0.87752102},
		{500, 1, 0.05, 0.27943175}, {500000, 1.5, 0.025, 0.64477998}, {500, 1, 0, 1}, {500, 1, 1, 0},
	} {
		p, err := LotPlan(c.size, "II", c.aql)
		require.NoError(t, err)
		assert.InDelta(t, c.want, p.Chance(c.share), 1e-8, "%+v", c)
	}
}

// TestChanceInLot: hypergeometric from scipy 1.10.1 (scipy.stats.hypergeom.cdf).
func TestChanceInLot(t *testing.T) {
	for _, c := range []struct {
		size, bad int
		want      float64
	}{
		{500, 5, 0.91942366}, {500, 25, 0.26359394}, {100, 1, 0.87}, {100, 10, 0.23111956}, {1200, 60, 0.22069856},
		{400000, 4000, 0.98334884}, {500, 0, 1}, {500, 500, 0}, {10, 0, 1}, {10, 1, 0},
	} {
		p, err := LotPlan(c.size, "II", 1)
		require.NoError(t, err)
		assert.InDelta(t, c.want, p.ChanceInLot(c.bad), 1e-7, "%+v", c)
	}
}

// TestChanceInLotExactly against whole numbers of any length (math/big): the ways to draw a sample that passes, over all
// ways to draw one. Large lots are where floating-point numbers lose digits.
func TestChanceInLotExactly(t *testing.T) {
	for _, c := range []struct{ size, bad int }{{436727, 462}, {436727, 463}, {500000, 9000}, {90, 3}, {12, 2}} {
		p, err := LotPlan(c.size, "II", 0.65)
		require.NoError(t, err)
		passing, ways := new(big.Int), new(big.Int)
		for x := range int64(p.Accept + 1) {
			ways.Binomial(int64(c.size-c.bad), int64(p.Sample)-x)
			passing.Add(passing, ways.Mul(ways, new(big.Int).Binomial(int64(c.bad), x)))
		}
		want, _ := new(big.Rat).SetFrac(passing, ways.Binomial(int64(c.size), int64(p.Sample))).Float64()
		assert.InDelta(t, want, p.ChanceInLot(c.bad), 1e-12, "%+v", c)
	}
}

// TestChanceFalls with the share, and in a large lot both ways to reckon come together.
func TestChanceFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.IntRange(2, 500000).Draw(t, "size")
		aql := rapid.SampledFrom([]float64{0.65, 1, 1.5, 2.5}).Draw(t, "AQL")
		p, err := LotPlan(size, "II", aql)
		if err != nil {
			t.Fatal(err)
		}
		bad := rapid.IntRange(0, size-1).Draw(t, "bad")
		one, other := p.ChanceInLot(bad), p.ChanceInLot(bad+1)
		if other > one+1e-12 || one < 0 || one > 1 {
			t.Fatalf("%v with %d bad, %v with one more", one, bad, other)
		}
		if size > 100*p.Sample && math.Abs(one-p.Chance(float64(bad)/float64(size))) > 0.01 {
			t.Fatalf("hypergeometric %v, binomial %v", one, p.Chance(float64(bad)/float64(size)))
		}
	})
}

func TestJudge(t *testing.T) {
	p, err := LotPlan(500, "II", 1) // H: 50, 1/2
	require.NoError(t, err)
	for _, c := range []struct {
		bad, open, inspected int
		want                 Outcome
	}{
		{0, 0, 50, Accepted}, {1, 0, 50, Accepted}, {2, 0, 50, Rejected},
		{0, 1, 50, Accepted}, {1, 1, 50, Open}, {0, 2, 50, Open}, {2, 5, 50, Rejected},
		{0, 0, 49, Accepted}, {0, 0, 48, Open}, {1, 0, 49, Open}, {2, 0, 10, Rejected},
		{1, 0, 200, Accepted}, {2, 0, 51, Open}, {3, 0, 51, Rejected}, {0, 0, 500, Accepted},
	} {
		assert.Equal(t, c.want, p.Judge(c.bad, c.open, c.inspected), "%+v", c)
	}
	assert.Panics(t, func() { p.Judge(3, 0, 2) })
	assert.Panics(t, func() { p.Judge(0, 0, 501) })
}

// TestInspect: the interval of the share not conforming leaves room for what is open (ends from scipy 1.10.1, as in
// TestClopperPearson); of a lot that was inspected whole nothing is left to guess.
func TestInspect(t *testing.T) {
	p, err := LotPlan(100, "II", 1)
	require.NoError(t, err)
	s := p.Inspect(1, 4, 10)
	assert.InDelta(t, 0.002528578544, s.Low, 1e-9, "1 of 10")
	assert.InDelta(t, 0.8129139716, s.High, 1e-9, "5 of 10")
	assert.Equal(t, Rejected, s.Outcome)
	s = p.Inspect(2, 1, 100)
	assert.Equal(t, []float64{0.02, 0.03}, []float64{s.Low, s.High})
}

func TestPassings(t *testing.T) {
	p, err := LotPlan(500, "II", 1)
	require.NoError(t, err)
	for _, c := range p.Passings() {
		assert.InDelta(t, 500*c.Share, c.Bad, 0.5)
		assert.Equal(t, []float64{p.ChanceInLot(c.Bad), p.Chance(c.Share)}, []float64{c.ThisLot, c.AnyLot})
	}
}

// TestJudgeNeverGuesses: whatever is still open is settled one way or the other, and whichever part of a surplus is
// the sample, an outcome that was told stays.
func TestJudgeNeverGuesses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := LotPlan(rapid.SampledFrom([]int{10, 100, 500, 1200}).Draw(t, "size"), "II", 1)
		if err != nil {
			t.Fatal(err)
		}
		inspected := rapid.IntRange(0, min(p.Size, 2*p.Sample)).Draw(t, "inspected")
		bad := rapid.IntRange(0, min(inspected, 5)).Draw(t, "bad")
		open := rapid.IntRange(0, min(inspected-bad, 3)).Draw(t, "open")
		told := p.Judge(bad, open, inspected)
		good := inspected - bad - open
		// The full sample of the plan holds so many bad ones at least and at most.
		least := max(0, bad-max(0, inspected-p.Sample))
		most := min(p.Sample, bad+open+max(0, p.Sample-inspected))
		switch {
		case told == Accepted && most > p.Accept, told == Rejected && least < p.Reject:
			t.Fatalf("%s with %d to %d bad in the sample", told, least, most)
		case told == Open && (most <= p.Accept || least >= p.Reject):
			t.Fatalf("open with %d good, %d to %d bad in the sample", good, least, most)
		}
	})
}
