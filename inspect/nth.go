package inspect

// nth is what would stand at index k if the values were sorted, found without
// sorting all of them (C. A. R. Hoare, Algorithm 65: FIND, Commun. ACM 4(7),
// 321–322, 1961, doi:10.1145/366622.366647). It reorders the values.
func nth[T float32 | float64](values []T, k int) T {
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
