package chance

import (
	"crypto/sha256"
	"encoding/binary"
	"math/rand/v2"
)

// Stream returns the random numbers of a name: equal seeds, runs and names give
// equal streams, whatever else is drawn, and any other name gives one that has
// nothing to do with it. So a variant of a question that asks for the same names
// meets the same luck in everything that the two have in common. Names are kept
// apart: "ab", "c" is another name than "a", "bc".
func Stream(seed uint64, run int, names ...string) *rand.Rand {
	text := make([]byte, 0, 128)
	text = binary.LittleEndian.AppendUint64(text, seed)
	text = binary.LittleEndian.AppendUint64(text, uint64(run))
	for _, n := range names {
		text = binary.LittleEndian.AppendUint64(text, uint64(len(n)))
		text = append(text, n...)
	}
	sum := sha256.Sum256(text)
	return rand.New(rand.NewPCG(binary.LittleEndian.Uint64(sum[:]), binary.LittleEndian.Uint64(sum[8:])))
}
