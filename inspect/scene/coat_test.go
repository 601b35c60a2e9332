package scene

import (
	"math"
	"testing"
)

// Perfect mirrors under a clear top send back no more than they get: under light
// from all around the body and the glare together stay below 1, and at the
// normal only the second bounces are missing that we leave out. (Flakes tilted
// by more than 20° send light into total reflection, where we lose it.)
func TestCoatKeepsNoLightOfItsOwn(t *testing.T) {
	for _, spread := range []float64{4, 8, 15, 25} {
		f := newFinish(Coat{Flake: Stack{Outside: binderIndex, Substrate: Layer{N: 1, K: 1e5}}, FlakeShare: 1, SpreadDeg: spread})
		for i := range f.above {
			sum := f.above[i][1] + f.below[i][1] + f.glareUp[i] + f.glareDn[i]
			if sum > 1.02 {
				t.Errorf("spread %v°, cosine %.2f: %.3f comes back of 1", spread, float64(i)/steps, sum)
			}
		}
		if got := f.above[steps][1] + f.glareUp[steps]; spread < 10 && got < 0.9 {
			t.Errorf("spread %v°: at the normal %.3f comes back, want nearly all", spread, got)
		}
	}
}

// The table for the dome and the lobe for single directions are two ways to one
// number: the lobe added up over the upper hemisphere is the table.
func TestLobeAddsUpToTheDome(t *testing.T) {
	f := newFinish(Coat{Flake: Aluminium(), FlakeShare: 1, SpreadDeg: 18})
	for _, deg := range []float64{0, 25, 50} {
		sin, cos := math.Sincos(radians(deg))
		n := vec{sin, 0, cos} // the camera is along z
		s, sum := f.seen(n), 0.0
		const rays = 40000
		for i := range rays {
			u, v := fibonacci(i, rays)
			si, co := math.Sincos(2 * math.Pi * v)
			flat := math.Sqrt(1 - u*u)
			// per unit of solid angle; π f cos times L = 1/π
			sum += s.lobe(vec{flat * co, flat * si, u})[1] / math.Pi * 2 * math.Pi / rays
		}
		if want := at(&f.above, cos)[1]; math.Abs(sum-want) > 0.02*want {
			t.Errorf("at %v°: lobe adds up to %.4f, table says %.4f", deg, sum, want)
		}
	}
}

func TestOpacityHalves(t *testing.T) {
	c := Coat{HalfUM: 10}
	for _, x := range []struct{ build, want float64 }{{0, 0}, {10, 0.5}, {20, 0.75}, {30, 0.875}} {
		if got := c.Opacity(x.build); math.Abs(got-x.want) > 1e-12 {
			t.Errorf("Opacity(%v) = %v, want %v", x.build, got, x.want)
		}
	}
}

// n = 1.5 reflects ((1.5 − 1)/(1.5 + 1))² = 4 % at the normal, all at grazing,
// and Brewster's angle 56.3° gives half of the s part, 14.8 %.
func TestFresnel(t *testing.T) {
	for _, x := range []struct{ cos, want float64 }{{1, 0.04}, {0, 1}, {math.Cos(math.Atan(1.5)), 0.0740}} {
		if got := fresnel(x.cos, 1.5); math.Abs(got-x.want) > 1e-4 {
			t.Errorf("fresnel(%.3f) = %.5f, want %.4f", x.cos, got, x.want)
		}
	}
}

// In a plane of incidence: the tilt of the flake that sends light from one
// direction to the other, and the angle on it, in a binder of index 1.5.
func TestFlakeBetweenLightAndView(t *testing.T) {
	f := newFinish(Coat{FlakeShare: 1, Flake: Aluminium()})
	n := vec{0, 0, 1}
	towards := func(deg float64) vec { return vec{math.Sin(radians(deg)), 0, math.Cos(radians(deg))} }
	for _, r := range checkTable(t, "06_aspecular_geometry.csv") {
		light, aspecular, view := number(t, r[0]), number(t, r[1]), number(t, r[2])
		if view != aspecular-light {
			t.Errorf("light %v°, aspecular %v°: viewed at %v°, want the difference", light, aspecular, view)
		}
		in, out := f.refract(towards(light), n), f.refract(towards(view), n)
		flake := in.add(out).unit()
		tilt, on := math.Atan2(flake.x, flake.z)*180/math.Pi, math.Acos(flake.dot(in))*180/math.Pi
		// printed to 6 decimals
		if math.Abs(on-number(t, r[3])) > 1e-5 || math.Abs(tilt-number(t, r[4])) > 1e-5 {
			t.Errorf("light %v°, view %v°: flake tilted %.6f°, hit at %.6f°, want %s, %s", light, view, tilt, on, r[4], r[3])
		}
	}
}
