package inspect

// The sides of blocks of a heading map as powers of two, px: what can't match in a wide
// one can't in the narrow ones in it.
const wideBlock, narrowBlock = 3, 2

// blockMap says for each block of a heading map how strong a slope each way is in
// it and in the blocks to its right and below. There are blocks all around it, as many
// as a trial reaches.
type blockMap struct {
	w      int
	side   int // as a power of two
	around int
	at     [][headings]uint8
}

// blocks are those of a side; no trial reaches farther, px.
func (m *headingMap) blocks(side, reach int) *blockMap {
	around := reach>>side + 2
	b := &blockMap{w: (m.w-1)>>side + 1 + 2*around, side: side, around: around}
	b.at = make([][headings]uint8, b.w*((m.h-1)>>side+1+2*around))
	for y := range m.h {
		row := b.at[(y>>side+around)*b.w+around:]
		for x := range m.w {
			raise(&row[x>>side], &m.at[y*m.w+x])
		}
	}
	for i := range b.at { // from the upper left, so that what is taken has not changed yet
		if i%b.w+1 < b.w {
			raise(&b.at[i], &b.at[i+1])
		}
		if i+b.w < len(b.at) {
			raise(&b.at[i], &b.at[i+b.w])
			if i%b.w+1 < b.w {
				raise(&b.at[i], &b.at[i+b.w+1])
			}
		}
	}
	return b
}

func raise(v, to *[headings]uint8) {
	for k := range v {
		v[k] = max(v[k], to[k])
	}
}

// worth appends the trials that can match better than leastTrial somewhere in a
// block: wherever in it their middle lies, each place of theirs lies in one of
// four blocks.
func (b *blockMap) worth(to, try []*trial, x, y int) []*trial {
	const least = int(leastTrial * 255 * rungs)
	at, middle := b.at, (y+b.around)*b.w+x+b.around
	for _, t := range try {
		sum := 0
		for r := range rungs {
			in, out := &at[t.in[r][1]>>b.side*b.w+t.in[r][0]>>b.side+middle], &at[t.out[r][1]>>b.side*b.w+t.out[r][0]>>b.side+middle]
			a, b := t.heading[r], (t.heading[r]+headings/2)%headings
			sum += int(max(min(in[a], out[b]), min(in[b], out[a])))
			if sum+(rungs-1-r)*255 <= least {
				break
			}
		}
		if sum > least {
			to = append(to, t)
		}
	}
	return to
}
