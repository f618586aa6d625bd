package forecast

import "wetdown/solver/chance"

// key is what a name has for all runs: the first number of its stream. Equal names under
// one seed have equal keys, whatever plant they are in.
func key(seed uint64, names ...string) uint64 { return chance.Stream(seed, 0, names...).Uint64() }

// uniform is the number, above 0 and below 1, that a run has for a key: the number of
// that place in the sequence SplitMix64 begun at the key. It depends on nothing else, so what is
// left to chance under one name is the same in every variant of a run.
func uniform(run int, key uint64) float64 {
	x := key + uint64(run+1)*0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	x ^= x >> 31
	return (float64(x>>11) + 0.5) / (1 << 53)
}
