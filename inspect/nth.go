package inspect

import (
	"math"
	"slices"
)

// nth is what would stand at index k if the values were sorted, found without
// sorting all of them (C. A. R. Hoare, Algorithm 65: FIND, Commun. ACM 4(7),
// 321–322, 1961, doi:10.1145/366622.366647). It may reorder the values.
func nth[T float32 | float64](values []T, k int) T {
	if len(values) > manyValues {
		if v, ok := nthOfMany(values, k); ok {
			return v
		}
	}
	lo, hi := 0, len(values)-1
	for lo < hi {
		pivot, i, j := values[k], lo, hi
		for i <= j {
			for values[i] < pivot {
				i++
			}
			for pivot < values[j] {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
				i, j = i+1, j-1
			}
		}
		if j < k {
			lo = i
		}
		if k < i {
			hi = j
		}
	}
	return values[k]
}

// manyValues are so many that it is quicker, here by half to two thirds, to go through
// them all once and sort only what a sample says is near.
const manyValues = 2000

// nthOfMany is nth, not ok when the value isn't where a sample says (R. W. Floyd and R. L.
// Rivest, Commun. ACM 18(3), 165–172, 1975, from memory).
func nthOfMany[T float32 | float64](values []T, k int) (T, bool) {
	n, some := len(values), int(math.Sqrt(float64(len(values))))
	near := make([]T, n/2)
	sample := near[:some]
	for i := range sample {
		sample[i] = values[i*(n/some)]
	}
	slices.Sort(sample)
	at, off := k*some/n, int(math.Sqrt(float64(some)))+1 // two standard deviations of the median's place, and one for the rounding
	return nthBetween(values, k, sample[max(at-off, 0)], sample[min(at+off, some-1)], near)
}

// nthBetween is nth, not ok when the value isn't from lo to hi or near has no room for all
// that are. Its loop has no branch that half of the values take.
func nthBetween[T float32 | float64](values []T, k int, lo, hi T, near []T) (T, bool) {
	below, in := 0, 0
	for _, v := range values {
		near[in] = v // to be overwritten unless it is
		less, most := 0, 0
		if v < lo {
			less = 1
		}
		if v <= hi {
			most = 1
		}
		below += less
		if in += most - less; in == len(near) {
			return 0, false
		}
	}
	if k < below || k >= below+in {
		return 0, false
	}
	return nth(near[:in], k-below), true
}
