package inspect

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/disintegration/imaging"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// curveCoats, curveLights and curveCameras are what the detection curves are
// taken over: each coat meets each light once, with the cameras in turn.
var (
	curveCoats = []scene.Coat{
		heather, marigold,
		{Flake: scene.Aluminium(), FlakeShare: 0.5, Tint: scene.RGB{0.42, 0.44, 0.46}, Pigment: scene.RGB{0.06, 0.065, 0.07}, SpreadDeg: 12, Sparkle: 0.5},
		{Flake: scene.Aluminium(), FlakeShare: 0.25, Tint: scene.RGB{0.24, 0.03, 0.2}, Pigment: scene.RGB{0.02, 0.006, 0.018}, SpreadDeg: 10, Sparkle: 0.4},
		{Flake: scene.Pearl(150), FlakeShare: 0.35, Pigment: scene.RGB{0.75, 0.66, 0.4}, HalfUM: 34, BuildUM: 90, Sparkle: 0.3},
		{Flake: scene.ColourShift(358), FlakeShare: 0.5, Pigment: scene.RGB{0.03, 0.07, 0.09}, SpreadDeg: 8, Sparkle: 1},
	}
	curveLights = []scene.Light{scene.Tent(5600), scene.Softbox(110, 5000), scene.OneLamp(40, 50, 4200), scene.Window(150)}
	curveScales = []float64{0.015, 0.025, 0.04} // mm per px
)

// curveScene is the n-th head of a curve, without faults.
func curveScene(n int) scene.Spec {
	spec := onCard([]scene.Style{scene.Ball, scene.Football, scene.Bullet}[n%3], curveCoats[n%len(curveCoats)])
	spec.Light = curveLights[n/len(curveCoats)%len(curveLights)]
	mm := curveScales[(n+n/len(curveCoats))%len(curveScales)]
	spec.Width, spec.Height = int(20/mm), int(16/mm)
	spec.Seed, spec.MMPerPx = uint64(100+n), mm
	spec.Camera.Tone, spec.Camera.Sharpen = 0.06, 0.3
	p := &spec.Pieces[0]
	p.Seed, p.TurnDeg = uint64(n), float64(37*n%360)
	p.X = -3 * math.Cos(p.TurnDeg*math.Pi/180)
	p.Y = 3 * math.Sin(p.TurnDeg*math.Pi/180)
	p.Coat.PeelMM, p.Coat.PeelUM = 1.4, 1.5
	return spec
}

// curvePhoto measures a head of a curve; not ok when the photo is refused or the
// head's outline is lost, which other tests count.
func curvePhoto(t *testing.T, spec scene.Spec) (Photo, scene.Truth, bool) {
	t.Helper()
	photo, truth := shoot(t, spec)
	ph, l, err := measurePhoto(photo, spec.MMPerPx)
	if err != nil {
		t.Logf("head %d: %v", spec.Seed-100, err)
		return ph, truth, false
	}
	overlap := overlapOf(l.mask(photo.Width, photo.Height), headOf(truth))
	if overlap < 0.85 {
		t.Logf("head %d: its outline is lost, overlap %.2f", spec.Seed-100, overlap)
	}
	return ph, truth, overlap >= 0.85
}

var curveHeads = len(curveCoats) * len(curveLights)

// reliefHeads is the heads that the curves of pinholes and lumps are taken over:
// every other one, each coat under two lights, or with RELIEF=all each under all.
func reliefHeads() []int {
	var heads []int
	for n := range curveHeads {
		if (n+n/len(curveCoats))%2 == 0 || os.Getenv("RELIEF") == "all" {
			heads = append(heads, n)
		}
	}
	return heads
}

// On heads without relief next to none is found.
func TestSmoothHeads(t *testing.T) {
	if testing.Short() {
		t.Skip("draws 12 heads")
	}
	t.Parallel()
	heads, holes, lumps, doubtful := 0, 0, 0, 0
	for _, n := range reliefHeads() {
		if ph, _, ok := curvePhoto(t, curveScene(n)); ok {
			heads++
			holes += *ph.Relief.Pinholes
			lumps += *ph.Relief.Lumps
			doubtful += len(ph.DoubtfulRelief)
		}
	}
	t.Logf("%d pinholes, %d lumps and %d places that may be lumps on %d heads", holes, lumps, doubtful, heads)
	for what, n := range map[string]int{"pinholes": holes, "lumps": lumps, "doubtful lumps": doubtful} {
		if most := max(1, heads/10); n > most {
			t.Errorf("%d %s on %d smooth heads, want %d at most", n, what, heads, most)
		}
	}
}

// hitMiss counts what was found of what was there, by size.
type hitMiss struct {
	from      []float64
	hit, seen []int
}

func newHitMiss(from ...float64) *hitMiss {
	return &hitMiss{from, make([]int, len(from)), make([]int, len(from))}
}

func (c *hitMiss) add(size float64, hit bool) {
	for k := len(c.from) - 1; k >= 0; k-- {
		if size >= c.from[k] {
			c.seen[k]++
			if hit {
				c.hit[k]++
			}
			return
		}
	}
}

// print gives each share with Wilson's bounds at 95 % (J. Am. Stat. Assoc. 22,
// 209–212, 1927).
func (c *hitMiss) print(t *testing.T, unit string) {
	for k, n := range c.seen {
		if n == 0 {
			continue
		}
		const z = 1.96
		p, m := float64(c.hit[k])/float64(n), float64(n)
		mid, half := (p+z*z/2/m)/(1+z*z/m), z*math.Sqrt(p*(1-p)/m+z*z/4/m/m)/(1+z*z/m)
		to := "more"
		if k+1 < len(c.from) {
			to = fmt.Sprint(c.from[k+1])
		}
		t.Logf("%4v to %4s %s: %3d of %3d found, %3.0f %% (%.0f to %.0f)", c.from[k], to, unit, c.hit[k], n, 100*p, 100*(mid-half), 100*(mid+half))
	}
}

// scatter lays pinholes of all widths over the side that faces the camera.
func scatter(random *rand.Rand) []scene.Relief {
	var holes []scene.Relief
	var at [][2]float64
	for tries := 0; len(at) < 12 && tries < 300; tries++ {
		a := [2]float64{-2 + 3*random.Float64(), -2.6 + 5.2*random.Float64()} // mm along and around
		free := true
		for _, b := range at {
			free = free && math.Hypot(a[0]-b[0], a[1]-b[1]) > 0.9
		}
		if !free {
			continue
		}
		at = append(at, a)
		w := 0.1 + 0.4*random.Float64()
		holes = append(holes, scene.Relief{
			Kind: scene.Pinhole, At: scene.Place{AlongMM: a[0], AroundDeg: a[1] / 3.5 * 180 / math.Pi, Facing: true}, WidthMM: w, HeightMM: w / 2,
		})
	}
	return holes
}

// TestPinholeCurve is a hit or miss study: pinholes of known width on heads under
// all lights.
func TestPinholeCurve(t *testing.T) {
	if testing.Short() {
		t.Skip("draws 12 heads")
	}
	t.Parallel()
	byMM, byPx := newHitMiss(0.1, 0.15, 0.2, 0.25, 0.3, 0.4), newHitMiss(3, 5, 7, 10, 14, 20)
	told := newHitMiss(0, 1) // width over the photo's own smallest
	silent := 0
	for _, n := range reliefHeads() {
		spec := curveScene(n)
		spec.Pieces[0].Relief = scatter(rand.New(rand.NewPCG(1, uint64(n))))
		ph, truth, ok := curvePhoto(t, spec)
		if !ok {
			continue
		}
		for _, m := range truth.Relief {
			if !m.Visible {
				continue
			}
			hit := false
			for _, f := range ph.ReliefFaults {
				hit = hit || f.Kind == "pinhole" && math.Hypot(f.X-m.X, f.Y-m.Y)*spec.MMPerPx < 0.25
			}
			byMM.add(m.WidthMM, hit)
			byPx.add(m.WidthMM/spec.MMPerPx, hit)
			if ph.Relief.SmallestPinholeMM != nil {
				told.add(m.WidthMM / *ph.Relief.SmallestPinholeMM, hit)
			}
		}
		if ph.Relief.SmallestPinholeMM == nil {
			silent++
		}
	}
	byMM.print(t, "mm")
	byPx.print(t, "px")
	told.print(t, "of the smallest that the photo shows")
	t.Logf("%d photos show none", silent)
	// nine in ten are promised; 0.91 of 191 are found today, and of some 100 the share scatters by 0.03
	if share := float64(told.hit[1]) / float64(told.seen[1]); !(share >= 0.8) {
		t.Errorf("%.2f of the pinholes are found that the photos claim to show, want 0.8", share)
	}
}

// What is found does not hang on how the photo is stored, turned or scaled: the
// same eight pinholes and the same lump in a JPEG of quality 75, in a photo turned
// by a quarter, and from 15 to 40 µm to the pixel.
func TestReliefHoldsStill(t *testing.T) {
	t.Parallel()
	base := onCard(scene.Ball, marigold)
	base.Pieces[0].Relief = append(scene.Pinholes(5, 8, 0.35, scene.Place{AlongMM: -0.5, Facing: true}, 1.5),
		scene.Relief{Kind: scene.Lump, At: scene.Place{AlongMM: -1, AroundDeg: 90, Facing: true}, WidthMM: 2, HeightMM: 0.5})
	picture, _ := scene.Render(base)
	var jpg, turned bytes.Buffer
	if err := jpeg.Encode(&jpg, picture, &jpeg.Options{Quality: 75}); err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(&turned, imaging.Rotate90(picture)); err != nil {
		t.Fatal(err)
	}
	check := func(name string, p *calib.Photo, mm float64) {
		ph, _, err := measurePhoto(p, mm)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		lumps := 0
		for _, f := range ph.ReliefFaults {
			if f.Kind == "lump" {
				lumps++
			}
		}
		t.Logf("%s: %d pinholes, %d lumps", name, *ph.Relief.Pinholes, lumps)
		if n := *ph.Relief.Pinholes; n < 7 || n > 8 { // two of the eight overlap
			t.Errorf("%s: %d pinholes, want 7 or 8", name, n)
		}
		if lumps != 1 {
			t.Errorf("%s: %d lumps, want 1", name, lumps)
		}
	}
	for name, file := range map[string][]byte{"JPEG of quality 75": jpg.Bytes(), "turned": turned.Bytes()} {
		p, err := calib.Decode(file)
		if err != nil {
			t.Fatal(err)
		}
		check(name, p, base.MMPerPx)
	}
	for _, um := range []float64{15, 25, 40} {
		spec := base
		spec.MMPerPx = um / 1000
		spec.Width, spec.Height = int(20/spec.MMPerPx), int(16/spec.MMPerPx)
		p, _ := shoot(t, spec)
		check(fmt.Sprintf("%.0f µm to the pixel", um), p, spec.MMPerPx)
	}
}
