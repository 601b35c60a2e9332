package calib

import (
	"errors"
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// A Patch is a flat place of known colour in a photo.
type Patch struct {
	Reference Lab
	X, Y      float64 // its middle, photo px
	Clipped   bool    // some of it is at a limit of the camera or of the file's colours

	level, card [3]float64 // its and the card's linear light there, in the photo's own primaries
}

// ErrNoTarget means that no 24-patch target was made out in a photo.
var ErrNoTarget = errors.New("no 24-patch target found")

// The target is six patches wide and four high.
const (
	targetAcross = 6
	targetDown   = 4
)

// FindTarget finds the 24-patch target lying on the card: squares of one colour
// each on a darker ground, six by four. Found is the lattice that most squares
// agree with, laid on it the way round that its colours fit best; the references
// are those of Target24.
func FindTarget(p *Photo, c *GreyCard) ([]Patch, error) {
	squares, err := evenSquares(c.Reduced)
	if err != nil {
		return nil, err
	}
	grid, members := bestLattice(squares)
	if len(members) < 14 { // of 24; blacks vanish in the ground, and some may be in a reflection
		return nil, ErrNoTarget
	}
	var best []Patch
	bestOff, nextOff := math.Inf(1), math.Inf(1)
	for _, placed := range placements(members) {
		patches := samplePatches(p, c, grid, placed, c.Reduced.Step)
		if patches == nil {
			continue
		}
		off := 0.0
		for i := range patches {
			off += min(40, DeltaE2000(patches[i].Reference, plain.of(&patches[i], p, c.Reflectance))) / float64(len(patches))
		}
		if off < bestOff {
			best, bestOff, nextOff = patches, off, bestOff
		} else {
			nextOff = min(nextOff, off)
		}
	}
	// A phone's rendering moves colours by up to 10; a wrong place or turn by 30.
	if best == nil || bestOff > 18 || nextOff < 1.3*bestOff {
		return nil, ErrNoTarget
	}
	return best, nil
}

// TargetAt is FindTarget where somebody says where the target lies: the middles
// of its four corner patches in photo px, dark skin first, then clockwise as the
// target is read: bluish green, black, white.
func TargetAt(p *Photo, c *GreyCard, corner [4][2]float64) ([]Patch, error) {
	const right, bottom = targetAcross - 1, targetDown - 1
	grid, ok := throughFour(corner, [4][2]float64{{0, 0}, {right, 0}, {right, bottom}, {0, bottom}})
	if !ok {
		return nil, ErrNoTarget
	}
	patches := samplePatches(p, c, grid, placement{}, 1)
	if patches == nil {
		return nil, ErrNoTarget
	}
	return patches, nil
}

// GreyAt is a flat grey that reflects the given share of the light, at a place in
// photo px.
func GreyAt(p *Photo, c *GreyCard, x, y, share float64) (Patch, bool) {
	reach := max(p.Width, p.Height)/200 + 2
	r := image.Rect(int(x)-reach, int(y)-reach, int(x)+reach, int(y)+reach)
	t := Patch{Reference: LinearRGB{share, share, share}.Lab(), X: x, Y: y}
	if !r.In(image.Rect(0, 0, p.Width, p.Height)) {
		return t, false
	}
	t.measure(p, c, r)
	return t, true
}

// evenSquares are the blobs of even colour that may be patches.
func evenSquares(lin *Linear) ([]cv.Blob, error) {
	_, blobs, err := cv.Runs(smoothMask(logLevels(lin), lin.Width, lin.Height))
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(blobs, func(b cv.Blob) bool {
		w, h := b.Bounds.Dx(), b.Bounds.Dy()
		return b.Area < 25 || 40*b.Area > lin.Width*lin.Height || w > 2*h || h > 2*w || 5*b.Area < 2*w*h
	}), nil
}

// cell is a square on a lattice.
type cell struct {
	m, n int
	at   [2]float64 // its middle, px of the reduced picture
}

// bestLattice finds the square lattice that most squares lie on, as the map from
// px of the reduced picture to steps of the lattice.
func bestLattice(squares []cv.Blob) (homography, []cell) {
	var best []cell
	for _, o := range squares {
		side := math.Sqrt(float64(o.Area))
		for _, a := range squares {
			ax, ay := a.X-o.X, a.Y-o.Y
			la := math.Hypot(ax, ay)
			if la < side || la > 2*side+6 || !alike(o, a) {
				continue
			}
			// the other direction is square to this one: a tilt moves it by less than what counts as on the lattice
			var on []cell
			taken := map[[2]int]bool{}
			for _, s := range squares {
				dx, dy := s.X-o.X, s.Y-o.Y
				u, v := (dx*ax+dy*ay)/(la*la), (dy*ax-dx*ay)/(la*la)
				m, n := math.Round(u), math.Round(v)
				key := [2]int{int(m), int(n)}
				if math.Hypot(u-m, v-n) < 0.25 && math.Abs(m) < targetAcross && math.Abs(n) < targetAcross && alike(o, s) && !taken[key] {
					taken[key] = true
					on = append(on, cell{key[0], key[1], [2]float64{s.X + 0.5, s.Y + 0.5}})
				}
			}
			if len(on) > len(best) {
				best = on
			}
		}
	}
	var l lines
	for _, c := range best {
		l.add(c.at, float64(c.m), 0)
		l.add(c.at, float64(c.n), 1)
	}
	grid, _, ok := l.solve()
	if !ok {
		return grid, nil
	}
	return grid, best
}

func alike(a, b cv.Blob) bool { return 2*a.Area > b.Area && 2*b.Area > a.Area }

// placement is where a lattice's cell (m, n) lies on the target: turned by so
// many quarters, then moved.
type placement struct{ quarters, across, down int }

// onLattice is the cell that a patch lies in.
func (p placement) onLattice(across, down float64) (m, n float64) {
	m, n = across+float64(p.across), down+float64(p.down)
	for range p.quarters {
		m, n = -n, m
	}
	return m, n
}

// placements are those that keep all members on the target, or all but a few: a
// square beside the target can be taken for one of its own.
func placements(members []cell) []placement {
	var out []placement
	for quarters := range 4 {
		for across := -2 * targetAcross; across <= 2*targetAcross; across++ {
			for down := -2 * targetAcross; down <= 2*targetAcross; down++ {
				p := placement{quarters, across, down}
				on := map[[2]int]bool{}
				for j := range targetDown {
					for i := range targetAcross {
						m, n := p.onLattice(float64(i), float64(j))
						on[[2]int{int(m), int(n)}] = true
					}
				}
				inside := 0
				for _, c := range members {
					if on[[2]int{c.m, c.n}] {
						inside++
					}
				}
				if inside >= len(members)-2 {
					out = append(out, p)
				}
			}
		}
	}
	return out
}

// samplePatches measures the inner quarter of each patch, nil when one lies
// outside the photo. The grid maps photo px over step to the lattice.
func samplePatches(p *Photo, c *GreyCard, grid homography, placed placement, step int) []Patch {
	back, ok := grid.inverse()
	if !ok {
		return nil
	}
	at := func(i, j float64) (x, y float64) {
		x, y = back.apply(placed.onLattice(i, j))
		return x * float64(step), y * float64(step)
	}
	var out []Patch
	for j := range targetDown {
		for i := range targetAcross {
			a, b := float64(i), float64(j)
			x, y := at(a, b)
			x1, y1 := at(a+0.2, b)
			x2, y2 := at(a, b+0.2)
			reach := min(math.Hypot(x1-x, y1-y), math.Hypot(x2-x, y2-y)) / math.Sqrt2 // of an upright square in a turned one
			r := image.Rect(int(x-reach), int(y-reach), int(x+reach)+1, int(y+reach)+1)
			if !(reach >= 1) || !r.In(image.Rect(0, 0, p.Width, p.Height)) {
				return nil
			}
			patch := Patch{Reference: target24[j*targetAcross+i], X: x, Y: y}
			patch.measure(p, c, r)
			out = append(out, patch)
		}
	}
	return out
}

// measure fills in the patch's and the card's light.
func (t *Patch) measure(p *Photo, c *GreyCard, r image.Rectangle) {
	lin := p.Linear(r, 1)
	n := lin.Width * lin.Height
	limit := 0
	var sum [3]float64
	for i := range n {
		for k := range sum {
			sum[k] += float64(lin.Pix[3*i+k]) / float64(n)
		}
		if lin.Top[i] > 0 || lin.Bottom[i] > 0 {
			limit++
		}
	}
	light := c.Light(t.X, t.Y)
	for k := range light {
		light[k] *= c.Reflectance
	}
	own := p.ownPrimaries()
	t.level, t.card, t.Clipped = own.apply(sum), own.apply(light), 50*limit > n
}

// ownPrimaries takes linear light in sRGB primaries to those of the file.
func (p *Photo) ownPrimaries() matrix {
	var m matrix
	for i := range m {
		for j := range m[i] {
			m[i][j] = float64(p.toSRGB[i][j])
		}
	}
	return m.inverse()
}

// Target24 are the published mean colours of the 24-patch target made from
// November 2014 on, row by row from dark skin to black (C. S. McCamy, H. Marcus
// and J. G. Davidson, J. Appl. Photogr. Eng. 2(3), 95–99, 1976; the values are in
// testdata/check/03_target24_lab_d50.csv). Targets made before differ by 1.0 ΔE00
// in the mean, 3 at most.
func Target24() []Lab { return slices.Clone(target24[:]) }

var target24 = [targetAcross * targetDown]Lab{
	{37.54, 14.37, 14.92},   // dark skin
	{64.66, 19.27, 17.50},   // light skin
	{49.32, -3.82, -22.54},  // blue sky
	{43.46, -12.74, 22.72},  // foliage
	{54.94, 9.61, -24.79},   // blue flower
	{70.48, -32.26, -0.37},  // bluish green
	{62.73, 35.83, 56.50},   // orange
	{39.43, 10.75, -45.17},  // purplish blue
	{50.57, 48.64, 16.67},   // moderate red
	{30.10, 22.54, -20.87},  // purple
	{71.77, -24.13, 58.19},  // yellow green
	{71.51, 18.24, 67.37},   // orange yellow
	{28.37, 15.42, -49.80},  // blue
	{54.38, -39.72, 32.27},  // green
	{42.43, 51.05, 28.62},   // red
	{81.80, 2.67, 80.41},    // yellow
	{50.63, 51.28, -14.12},  // magenta
	{49.57, -29.71, -28.32}, // cyan
	{95.19, -1.03, 2.93},    // white 9.5 (.05 D)
	{81.29, -0.57, 0.44},    // neutral 8 (.23 D)
	{66.89, -0.75, -0.06},   // neutral 6.5 (.44 D)
	{50.76, -0.13, 0.14},    // neutral 5 (.70 D)
	{35.63, -0.46, -0.48},   // neutral 3.5 (1.05 D)
	{20.64, 0.07, -0.46},    // black 2 (1.5 D)
}
