package inspect

import (
	"math/rand/v2"
	"testing"
)

// Leaving out the trials that a block can't match leaves out no place: what is
// found is what is found with all trials everywhere.
func TestBlocksLoseNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 2))
	m := &headingMap{w: 150, h: 133}
	m.at = make([][headings]uint8, m.w*m.h)
	try := newTrials(0.1, 0.32)
	for k := range try {
		try[k].lay(m.w)
	}
	for i := range m.at {
		for k := range m.at[i] {
			m.at[i][k] = uint8(random.IntN(60))
		}
	}
	for range 12 { // rings, some of them cut by the border
		r := try[random.IntN(len(try))].ring
		r.x, r.y = 150*random.Float64(), 133*random.Float64()
		for _, p := range r.around(200) {
			for _, side := range [2]float64{-r.half, r.half} {
				x, y := int(p.x+side*p.nx), int(p.y+side*p.ny)
				b := heading(side*p.nx, side*p.ny)
				for i := range 9 { // a slope counts within a px
					if u, v := x+i%3-1, y+i/3-1; u >= 0 && v >= 0 && u < m.w && v < m.h {
						m.at[v*m.w+u][b] = uint8(180 + random.IntN(60))
					}
				}
			}
		}
	}
	wide, narrow := m.blocks(wideBlock, 30), m.blocks(narrowBlock, 30)
	all := make([]*trial, len(try))
	for k := range try {
		all[k] = &try[k]
		if all[k].reach > 30 {
			t.Fatalf("a trial reaches %d px", all[k].reach)
		}
	}
	matches, kept, ofWide := 0, 0, 0
	for y := range m.h {
		for x := range m.w {
			worth := map[*trial]bool{}
			some := wide.worth(nil, all, x>>wideBlock, y>>wideBlock)
			for _, c := range narrow.worth(nil, some, x>>narrowBlock, y>>narrowBlock) {
				worth[c] = true
			}
			kept, ofWide = kept+len(worth), ofWide+len(some)
			for k := range try {
				if m.match(&try[k], x, y, leastTrial) > leastTrial {
					matches++
					if !worth[&try[k]] {
						t.Fatalf("trial %d matches at %d, %d and is left out", k, x, y)
					}
				}
			}
		}
	}
	t.Logf("%d matches, %d and then %d of %d trials looked at", matches, ofWide, kept, m.w*m.h*len(try))
	if matches < 12 || 2*ofWide > m.w*m.h*len(try) || 2*kept > ofWide {
		t.Errorf("%d matches, %d and then %d of %d trials looked at; want a match for each ring and less than half each time", matches, ofWide, kept, m.w*m.h*len(try))
	}
}
