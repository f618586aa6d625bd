package forecast

import "math/bits"

// Sets of slots, 64 in a word.

func words(slots int32) int { return int(slots+63) / 64 }

// ones has the bits from lo through hi, both from 0 to 63.
func ones(lo, hi int32) uint64 { return ^uint64(0) << uint(lo) & (^uint64(0) >> uint(63-hi)) }

// mark puts the slots from lo through hi into the set.
func mark(set []uint64, lo, hi int32) {
	for w := lo >> 6; w <= hi>>6; w++ {
		set[w] |= ones(max(lo-w<<6, 0), min(hi-w<<6, 63))
	}
}

// unmark takes the slots from lo through hi out of the set.
func unmark(set []uint64, lo, hi int32) {
	for w := lo >> 6; w <= hi>>6; w++ {
		set[w] &^= ones(max(lo-w<<6, 0), min(hi-w<<6, 63))
	}
}

// lastIn returns the last slot of the set from lo through hi, -1 if there is none.
func lastIn(set []uint64, lo, hi int32) int32 {
	for w := hi >> 6; w >= lo>>6; w-- {
		if x := set[w] & ones(max(lo-w<<6, 0), min(hi-w<<6, 63)); x != 0 {
			return w<<6 + 63 - int32(bits.LeadingZeros64(x))
		}
	}
	return -1
}

// lastOut returns the last slot from lo through hi that is not in the set, -1 if there
// is none.
func lastOut(set []uint64, lo, hi int32) int32 {
	for w := hi >> 6; w >= lo>>6; w-- {
		if x := ^set[w] & ones(max(lo-w<<6, 0), min(hi-w<<6, 63)); x != 0 {
			return w<<6 + 63 - int32(bits.LeadingZeros64(x))
		}
	}
	return -1
}
