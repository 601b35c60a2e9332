package inspect

import (
	"math"
	"slices"
)

// reference finds the smooth outline that explains most of the rim, the simplest
// first: a circle, unless an egg, or a drop or a bullet that lies along the hook,
// explains clearly more; else the head's own mirror image. Nil when none explains enough:
// then nothing is known of the outline from this photo alone.
//
// A ball with a sag away from its tip is no drop, since castings lie along their
// hook; one with a sag at its very tip is, and only the batch can tell.
func (f *film) reference(rim []rimPoint) *shapeFit {
	const (
		most   = 0.65               // a sag as wide as the head takes a third of the outline
		half   = 0.5                // a circle that explains less than this explains nothing
		mirror = 0.85               // a lump shows twice in a mirror image, so little may be left over
		more   = 0.08               // a step of the outline between two places that count
		bent   = 35 * math.Pi / 180 // between a drop and its hook, at most; common practice, no source
	)
	r, tol := f.look.shape.radius*f.mm, f.rimTolerance()
	try := func(s smoothShape, starts ...[]float64) *shapeFit {
		var best *shapeFit
		for _, p := range starts {
			for part := range sectors + 1 {
				fit := fitShape(s, p, withoutSector(rim, part), rim, tol)
				whole := s
				if s.name == bulletShape.name {
					whole = dropShape // the circle may reach into the collar behind its flat back
				}
				if whole.distance(fit.p, 0, 0) > sagMM/4-r {
					continue // too small for the circle that the head holds, even with a sag
				}
				if best == nil || fit.merit() > best.merit() {
					best = &fit
				}
			}
		}
		return best
	}
	x, y := unit(f.root.x, f.root.y) // towards the hook
	hooked := math.Hypot(f.root.x, f.root.y) > r/2
	long, dir := tipReach(rim, x, y), math.Atan2(y, x)
	tipX, tipY := -x*long, -y*long
	circle := try(circleShape, []float64{0, 0, r})
	egg := try(eggShape, []float64{tipX / 2, tipY / 2, r + long/2, r, dir}, []float64{0, 0, r * 1.2, r, dir}, []float64{0, 0, r * 1.2, r, dir + math.Pi/2})
	drop := try(dropShape, []float64{0, 0, r, tipX, tipY, r / 3})
	best := circle
	if best != nil && best.share < half {
		best = nil
	}
	if egg != nil && egg.share >= most && (best == nil || egg.merit() > best.merit()+more) {
		// along the hook or across it; an egg is no bent drop
		if off := math.Abs(math.Remainder(2*(egg.p[4]-dir), math.Pi)) / 2; best == nil || !hooked || off < bent/2 {
			best = egg
		}
	}
	tilt := func(drop *shapeFit) float64 {
		return math.Abs(math.Remainder(math.Atan2(drop.p[1]-drop.p[4], drop.p[0]-drop.p[3])-dir, 2*math.Pi))
	}
	if drop != nil && drop.share >= most && (best == nil || drop.merit() > best.merit()+more && (!hooked || tilt(drop) < bent)) {
		best = drop
	}
	bullet := try(bulletShape, []float64{0, 0, r, tipX, tipY, r / 3, r / 2}, []float64{0, 0, r, tipX, tipY, r / 3, 0.8 * r})
	if bullet != nil && bullet.share >= most && (best == nil || bullet.merit() > best.merit()+more) && tilt(bullet) < bent {
		best = bullet
	}
	if best == nil {
		if m := try(mirrorOf(rim), []float64{0, dir}); m != nil && m.share >= mirror {
			best = m
		}
	}
	return best
}

// sagMM is the highest that paint hangs on a head of this size before it drips;
// common practice, no source.
const sagMM = 1.2

// body takes the trust from what leaves the reference farther than any paint,
// and all the way until it comes back or something else begins to rise: the
// collar and its throat, a wire along the head.
func body(rim []rimPoint, away []float64, tol float64) []rimPoint {
	out := slices.Clone(rim)
	n := len(rim)
	for far, d := range away {
		if d < sagMM {
			continue
		}
		out[far].trusted, out[far].faint = false, false
		for _, dir := range [2]int{1, n - 1} {
			least := d
			for k := (far + dir) % n; k != far && away[k] < sagMM; k = (k + dir) % n {
				if math.Abs(away[k]) < 2*tol || rim[k].trusted && away[k] > least+2*tol {
					break
				}
				if rim[k].trusted {
					least = min(least, away[k])
				}
				out[k].trusted, out[k].faint = false, false
			}
		}
	}
	return out
}

// tipReach is how far the tip lies beyond the largest circle's middle, against
// the direction of the hook, less the radius of a blunt tip.
func tipReach(rim []rimPoint, x, y float64) float64 {
	far := 0.0
	for _, q := range rim {
		if q.trusted {
			far = max(far, -(q.x*x + q.y*y))
		}
	}
	return 0.8 * far
}

// sectors are the parts of the outline that a fit starts without, one at a time,
// so that it need not start from a sag.
const sectors = 6

// withoutSector takes the trust from one sixth of the rim; from none for sector 0.
func withoutSector(rim []rimPoint, sector int) []rimPoint {
	out := slices.Clone(rim)
	for k := (sector - 1) * len(rim) / sectors; k >= 0 && k < sector*len(rim)/sectors; k++ {
		out[k].trusted = false
	}
	return out
}
