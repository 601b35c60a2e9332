package inspect

import (
	"math"
	"slices"
	"testing"

	"jigloupe/inspect/scene"
)

// TestLumpCurve is a hit or miss study like TestPinholeCurve: two lumps on each
// head.
func TestLumpCurve(t *testing.T) {
	if testing.Short() {
		t.Skip("draws 12 heads")
	}
	t.Parallel()
	byHeight, byWidth := newHitMiss(0.1, 0.15, 0.2, 0.25, 0.35), newHitMiss(1, 1.5, 2)
	byPx := newHitMiss(25, 50, 75, 100)
	var off, told float64
	sized, covered, doubted := 0, 0, 0
	for _, n := range reliefHeads() {
		spec := curveScene(n)
		for k, along := range []float64{-1.6, 1} {
			wide := 1 + 1.5*float64((5*n+3*k)%8)/7
			high := wide * (0.1 + 0.2*float64((3*n+5*k)%8)/7)
			spec.Pieces[0].Relief = append(spec.Pieces[0].Relief, scene.Relief{
				Kind: scene.Lump, At: scene.Place{AlongMM: along, AroundDeg: 30 - 60*float64(k), Facing: true}, WidthMM: wide, HeightMM: high,
			})
		}
		ph, truth, ok := curvePhoto(t, spec)
		if !ok {
			continue
		}
		for _, m := range truth.Relief {
			var found *ReliefFault
			for k, f := range ph.ReliefFaults {
				if f.Kind == "lump" && math.Hypot(f.X-m.X, f.Y-m.Y)*spec.MMPerPx < 0.5*m.WidthMM {
					found = &ph.ReliefFaults[k]
				}
			}
			if found == nil && m.HeightMM >= 0.25 && slices.ContainsFunc(ph.DoubtfulRelief, func(f ReliefFault) bool {
				return math.Hypot(f.X-m.X, f.Y-m.Y)*spec.MMPerPx < 0.5*m.WidthMM
			}) {
				doubted++
			}
			byHeight.add(m.HeightMM, found != nil)
			byPx.add(m.WidthMM/spec.MMPerPx, found != nil)
			if m.HeightMM >= 0.25 {
				byWidth.add(m.WidthMM, found != nil)
			}
			if found != nil {
				sized++
				off += sq(*found.HeightMM - m.HeightMM)
				told += sq(*found.U)
				if math.Abs(*found.HeightMM-m.HeightMM) <= 2**found.U {
					covered++
				}
			}
		}
	}
	byHeight.print(t, "mm high")
	byWidth.print(t, "mm wide, 0.25 mm high and more,")
	byPx.print(t, "px wide")
	t.Logf("%d more of 0.25 mm and more are doubted", doubted)
	off, told = math.Sqrt(off/float64(sized)), math.Sqrt(told/float64(sized))
	t.Logf("heights off by %.3f mm (root mean square), %.3f mm stated; %d of %d within twice what is stated", off, told, covered, sized)
	// Of the lumps of 0.25 mm and more 20 of 30 on all heads were found on the day this
	// was written, 7 of 14 on every other one: 0.4 is two standard deviations less than
	// two thirds of 14.
	hit, seen := 0, 0
	for k := range byWidth.seen {
		hit, seen = hit+byWidth.hit[k], seen+byWidth.seen[k]
	}
	if share := float64(hit) / float64(seen); !(share >= 0.4) {
		t.Errorf("%.2f of the lumps are found, want 0.4", share)
	}
	if !(off < 2*told) {
		t.Errorf("heights are off by %.3f mm, %.3f mm is stated", off, told)
	}
}

// Where the flattest swelling leaves half as much again as none, no higher one explains
// anything, all over a ball with a lump and a hollow; and that is so at most places.
func TestHopeless(t *testing.T) {
	round := func(u, v, wide float64) float64 { return sq(max(0, 1-(u*u+v*v)/sq(wide/2))) }
	r := litBall(t, func(u, v float64) float64 { return 0.3*round(u-0.7, v+0.6, 1.6) - 0.15*round(u+1.2, v-1, 1.2) }, none)
	tried, without := 0, 0
	for i, c := range r.at {
		if !c.on || c.n.z < steepestView || i%3 != 0 {
			continue
		}
		for _, kind := range []sought{soughtLumps, soughtCraters} {
			for _, wide := range kind.widths {
				var shares []float64
				for _, ratio := range kind.heights {
					b := swelling{float64(i % r.w), float64(i / r.w), wide, ratio * wide, kind.form}
					left, all, _ := r.misfit(b, b, few)
					shares = append(shares, 1-left/max(all, 1e-9))
				}
				tried++
				if shares[0] < hopeless {
					without++
					if most := slices.Max(shares); most > 0 {
						t.Errorf("%g mm wide at %d, %d: heights %v explain %.2f", wide, i%r.w, i/r.w, kind.heights, shares)
					}
				}
			}
		}
	}
	if 3*without < tried {
		t.Errorf("%d of %d are hopeless, want a third", without, tried)
	}
}
