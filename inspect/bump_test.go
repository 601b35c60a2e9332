package inspect

import (
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// litBall is a relit ball of 7.2 mm, a speckled coat in light from all sides and mostly from
// above. Stands is how high its surface stands over the ball, mm, u and v mm from its
// middle; dims is by how much, as a log ratio, something else changes the tone there.
func litBall(t *testing.T, stands, dims func(u, v float64) float64) *relit {
	t.Helper()
	const n, cell, radius = 101, 0.08, 3.6
	r := &relit{w: n, h: n, px: 1, cell: cell, at: make([]surface, n*n)}
	place := func(i int) (u, v float64) { return float64(i%n-n/2) * cell, float64(i/n-n/2) * cell }
	rough := rand.New(rand.NewPCG(1, 2))
	for i := range r.at {
		u, v := place(i)
		if u*u+v*v > sq(0.97*radius) {
			continue
		}
		high := func(u, v float64) float64 { return math.Sqrt(radius*radius-u*u-v*v) + stands(u, v) }
		const d = 0.01
		dx, dy := (high(u+d, v)-high(u-d, v))/(2*d), (high(u, v+d)-high(u, v-d))/(2*d)
		long := math.Sqrt(1 + dx*dx + dy*dy)
		x, y, z := -dx/long, -dy/long, 1/long
		c := &r.at[i]
		c.on, c.z = true, math.Sqrt(radius*radius-u*u-v*v)
		c.n = vec{u / radius, v / radius, c.z / radius}
		for k, up := range [3]float64{0.5, 0.45, 0.35} {
			c.seen[k] = float32(math.Log(0.7-up*y+0.1*x+0.3*z*z) + dims(u, v) + 0.03*rough.NormFloat64())
		}
	}
	if err := r.learn(); err != nil {
		t.Fatal(err)
	}
	return r
}

func none(u, v float64) float64 { return 0 }

// A steep lump whose valley is darker than the head's own tones say, for it shades itself,
// is one; what the casting brings, a mark, the mirror image of a lamp, a hollow and a slow
// change of the light are none.
func TestBumps(t *testing.T) {
	at := func(u, v float64) float64 { return math.Hypot(u-0.7, v+0.6) }
	rises := func(height, wide float64) func(u, v float64) float64 {
		return func(u, v float64) float64 { return height * sq(max(0, 1-sq(at(u, v)/(wide/2)))) }
	}
	groove := func(u, v float64) float64 { return -0.1 * max(0, 1-math.Abs(at(u, v)-0.95)/0.12) }
	for name, c := range map[string]struct {
		stands, dims func(u, v float64) float64
		high         float64 // of the bump to be found, 0 for none
	}{
		"smooth": {none, none, 0},
		"lump":   {rises(0.55, 1.6), none, 0.55},
		"lump that shades itself": {rises(0.55, 1.6), func(u, v float64) float64 {
			return -0.25 * math.Exp(-sq((at(u, v)-0.75)/0.25))
		}, 0.55},
		"lump beside a lamp's mirror image": {rises(0.55, 1.6), func(u, v float64) float64 {
			return 1.5 / (1 + math.Exp((math.Hypot(u-0.7, v-0.5)-0.6)/0.03))
		}, 0.55},
		"lump beside a socket": {func(u, v float64) float64 {
			return rises(0.55, 1.6)(u, v) - 0.05*max(0, 1-math.Abs(math.Hypot(u+0.6, v+0.6)-0.95)/0.12)
		}, none, 0.55},
		"socket":       {groove, none, 0},
		"round mark":   {none, func(u, v float64) float64 { return -0.4 / (1 + math.Exp((at(u, v)-0.7)/0.05)) }, 0},
		"mirror image": {none, func(u, v float64) float64 { return 1.2 / (1 + math.Exp((at(u, v)-0.5)/0.06)) }, 0},
		"hollow":       {rises(-0.3, 1.6), none, 0},
		"light":        {none, func(u, v float64) float64 { return 0.4 * math.Tanh(u-0.7) }, 0},
	} {
		tones, err := litBall(t, c.stands, c.dims).toned()
		if err != nil {
			t.Fatal(err)
		}
		likely, err := tones.likely()
		if err != nil {
			t.Fatal(err)
		}
		var got []lump
		for _, b := range likely {
			got = tones.addLump(got, b.swelling)
		}
		if (len(got) != 0) != (c.high != 0) {
			t.Errorf("%s: found %+v", name, got)
		}
		for _, b := range got {
			if off := at((b.x-50)*0.08, (b.y-50)*0.08); off > 0.2 || name == "lump" && !b.sure() || math.Abs(b.height-c.high) > 2*lumpDoubt*b.height {
				t.Errorf("%s: sure %v, %.2f mm high, %.2f mm off, want %.2f ± %.2f mm", name, b.sure(), b.height, off, c.high, lumpDoubt*b.height)
			}
		}
	}
}

// A socket's ring through a lump hides half of its flank: a low lump and a wide one, which no
// look alone tells, are seen; the ring without one is none, nor may it be.
func TestLumpsUnderARing(t *testing.T) {
	f := &film{look: &look{patch: patch{Linear: &calib.Linear{}}}, mm: 0.08, sized: true}
	f.look.Step = 1
	for _, c := range []struct{ wide, high float64 }{{1.3, 0.2}, {2.4, 0.36}, {1, 0}} {
		lit := litBall(t, func(u, v float64) float64 {
			groove := 0.05 * max(0, 1-math.Abs(math.Hypot(u+0.1, v+0.6)-0.95)/0.12)
			return c.high*sq(max(0, 1-sq(math.Hypot(u-0.7, v+0.6)/(c.wide/2)))) - groove
		}, none)
		tones, err := lit.toned()
		if err != nil {
			t.Fatal(err)
		}
		lumps, doubtful, err := f.measureLumps(tones, lit.candidates(soughtLumps)[0], nil)
		if err != nil {
			t.Fatal(err)
		}
		want := 0
		if c.high > 0 {
			want = 1
		}
		if len(lumps)+len(doubtful) != want {
			t.Errorf("%v mm wide and %v high: %d lumps and %d doubtful ones", c.wide, c.high, len(lumps), len(doubtful))
		}
		for _, l := range lumps {
			if math.Abs(*l.HeightMM-c.high) > 2**l.U {
				t.Errorf("%v mm wide and %v high: comes back %.2f ± %.2f mm high", c.wide, c.high, *l.HeightMM, *l.U)
			}
		}
	}
}

// What all looks but one say may be a lump; what each says surely is one, when they say about
// the same of its height.
func TestSureLumps(t *testing.T) {
	alike := [3]float64{0.3, 0.4, 0.5}
	for _, c := range []struct {
		rivals, heights [3]float64
		flat, may, sure bool
	}{
		{[3]float64{1.6, 1.6, 1.6}, alike, false, true, true},
		{[3]float64{1.6, 1.6, 1.6}, [3]float64{0.3, 0.1, 0.3}, false, true, false},
		{[3]float64{4, 4, 1.1}, alike, false, true, false},
		{[3]float64{4, 0.9, 0.9}, alike, false, false, false},
		{[3]float64{0.5, 1.6, 1.6}, alike, false, false, false},
		{[3]float64{0.5, 1.6, 1.6}, alike, true, true, false},
		{[3]float64{1.6, 1.6, 1.6}, alike, true, true, true},
	} {
		l := lump{rivals: c.rivals, heights: c.heights, flat: c.flat}
		if may := l.better() >= rivalry; may != c.may || l.sure() != c.sure {
			t.Errorf("%v, %v mm: may be a lump %v, surely is one %v", c.rivals, c.heights, may, l.sure())
		}
	}
}

// litBump is a ball and the bump that fits best at 0.7, -0.6 mm, 1.6 mm wide.
func litBump(t *testing.T, stands, dims func(u, v float64) float64) (*toned, bump) {
	t.Helper()
	tones, err := litBall(t, stands, dims).toned()
	if err != nil {
		t.Fatal(err)
	}
	return tones, tones.fit(swelling{50 + 0.7/0.08, 50 - 0.6/0.08, 1.6, 0.4, rise}, many)
}

// What is told from a lump: the skirt of a lamp's mirror image, the wall of a hollow beside
// it, and what is no stronger than the coat's speckle.
func TestRivalsOfBumps(t *testing.T) {
	dome := func(height, wide, x float64) func(u, v float64) float64 {
		return func(u, v float64) float64 {
			return height * sq(max(0, 1-(sq(u-x)+sq(v+0.6))/sq(wide/2)))
		}
	}
	lamp := func(u, v float64) float64 { return 0.3 * math.Exp(-(sq(u-0.7)+sq(v+0.6))/(2*sq(0.5))) }
	for name, c := range map[string]struct {
		stands, dims func(u, v float64) float64
		told         string // by what it is told from a lump
	}{
		"lump":            {dome(0.4, 1.6, 0.7), none, ""},
		"soft image":      {none, lamp, "lobe"},
		"beside a hollow": {dome(-0.25, 1, 1.3), none, "hollow"},
		"smooth":          {none, none, "speckle"},
	} {
		tones, b := litBump(t, c.stands, c.dims)
		lit, _ := tones.lightest(b.swelling)
		left, _ := tones.left(tones.cells(b.swelling, many), 3, 0, func(q *tonedCell, to *terms) { lobe(q, lit, to) })
		for by, told := range map[string]bool{"lobe": left < rivalry*b.left, "speckle": !tones.stands(&b)} {
			if (c.told == "" || by == c.told) && told != (by == c.told) {
				t.Errorf("%s: told by its %s %v", name, by, told)
			}
		}
	}
}

// Along the edge of a lamp's mirror image a cell holds some of its light; beside the glint
// of one flake none does.
func TestBesideMirror(t *testing.T) {
	tones, _ := litBump(t, none, none)
	lit := func(x, y int, by float32) { tones.odd[y*tones.w+x].residual = [3]float32{by, by, by} }
	for y := 40; y < 45; y++ {
		for x := 40; x < 45; x++ {
			lit(x, y, 1)
		}
		lit(45, y, 0.2)
		lit(39, y, 0)
	}
	lit(60, 60, 1)
	lit(61, 60, 0.2)
	for _, c := range []struct {
		x, y int
		want bool
	}{{45, 42, true}, {39, 42, false}, {61, 60, false}} {
		if got := tones.besideMirror(c.x, c.y); got != c.want {
			t.Errorf("%d, %d: %v, want %v", c.x, c.y, got, c.want)
		}
	}
}

// The shade that an eye before the head takes it in is no lump.
func TestShadeBeneathTheEye(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, scene.Coat{Pigment: scene.RGB{0.6, 0.2, 0.5}, GlossDeg: 40})
	spec.Pieces[0].RollDeg = 82
	ph, l, _ := measured(t, spec)
	if len(l.behindEye) == 0 {
		t.Error("the eye isn't found before the head")
	}
	if n := len(ph.ReliefFaults) + len(ph.DoubtfulRelief); n != 0 {
		t.Errorf("%d lumps, or what may be some", n)
	}
}
