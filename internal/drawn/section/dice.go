package section

import "math/rand/v2"

// dice draws plausible values.
type dice struct{ *rand.Rand }

func (d dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }
func (d dice) sign() float64                  { return float64(1 - 2*d.IntN(2)) }
func (d dice) chance(p float64) bool          { return d.Float64() < p }

// hash mixes numbers to 64 even bits (the finalizer of SplitMix64: Steele, Lea and Flood, OOPSLA 2014).
func hash(a ...uint64) uint64 {
	h := uint64(0x9e3779b97f4a7c15)
	for _, v := range a {
		h += v + 0x9e3779b97f4a7c15
		h = (h ^ h>>30) * 0xbf58476d1ce4e5b9
		h = (h ^ h>>27) * 0x94d049bb133111eb
		h ^= h >> 31
	}
	return h
}

// unit is a number from 0 to 1 that belongs to the hashed ones.
func unit(a ...uint64) float64 { return float64(hash(a...)>>11) / (1 << 53) }

// pairChance belongs to two things whichever comes first.
func pairChance(i, j int, salt uint64) float64 {
	return unit(uint64(min(i, j)), uint64(max(i, j)), salt)
}
