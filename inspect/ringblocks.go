package inspect

// blockSide is the side of a block of a heading map, px.
const blockSide = 8

// blockMap says for each block of a heading map how strong a slope each way is in
// it and in the blocks to its right and below. Block −1 is the first of either
// direction.
type blockMap struct {
	w, h int
	at   [][headings]uint8
}

func (m *headingMap) blocks() *blockMap {
	b := &blockMap{w: (m.w+blockSide-1)/blockSide + 1, h: (m.h+blockSide-1)/blockSide + 1}
	b.at = make([][headings]uint8, b.w*b.h)
	for y := range m.h {
		row := b.at[(y/blockSide+1)*b.w+1:]
		for x := range m.w {
			raise(&row[x/blockSide], &m.at[y*m.w+x])
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
func (b *blockMap) worth(to []*trial, try []trial, x, y int) []*trial {
	const least = int(leastTrial * 255 * rungs)
	for k := range try {
		t := &try[k]
		sum := 0
		for r := range rungs {
			in, out := b.of(x, y, t.in[r]), b.of(x, y, t.out[r])
			if in != nil && out != nil {
				a, b := t.heading[r], (t.heading[r]+headings/2)%headings
				sum += int(max(min(in[a], out[b]), min(in[b], out[a])))
			}
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

// of is what there may be at an offset, px, from the places in a block; nil off
// the map.
func (b *blockMap) of(x, y int, off [2]int) *[headings]uint8 {
	u, v := x+1+off[0]>>3, y+1+off[1]>>3
	if u < 0 || v < 0 || u >= b.w || v >= b.h {
		return nil
	}
	return &b.at[v*b.w+u]
}
