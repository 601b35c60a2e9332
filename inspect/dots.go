package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// leastLight is about one step of an 8-bit photo in the dark, as a reflectance
// factor.
const leastLight = 0.002

// dots is the head's surface under the question where it is dark in one round
// place.
type dots struct {
	*film
	light  cv.Plane    // logarithm of the light over what is expected there, glints cut off
	scales [3]dotScale // fine first
	up     cv.Plane    // the body's surface over the plane of its axis, px
	off    []float64   // for noise
	covers []bool      // what is no coat, but for bare spots as small as a hole, which a hole may be
}

// dotScale is the light as a hole of one width is best told from noise.
type dotScale struct {
	sigma  float64  // px, of the smoothing
	blur   float64  // px, of smoothing and photo together
	smooth cv.Plane // the light
	around cv.Plane // its local mean
}

// dots takes what is expected out of the light and smooths what is left.
func (f *film) dots() (*dots, error) {
	l, s := f.look, f.look.shape
	d := &dots{film: f, light: cv.NewPlane(s.w, s.h)}
	for i, v := range s.head.Pix {
		if v != 0 {
			mean := float64(l.Pix[3*i]+l.Pix[3*i+1]+l.Pix[3*i+2]) / 3
			d.light.Pix[i] = float32(math.Log(max(mean, 0)+leastLight)) - f.coat.level(i)
		}
	}
	// A hole's wall mirrors a lamp as a bright dot beside the dark one; what stands
	// out upwards is cut off, so that it does not fill the hole when both are blurred.
	slow, err := cv.Gaussian(d.light, pinRingMM/f.mm)
	if err != nil {
		return nil, err
	}
	var off []float64
	for i, depth := range s.depth.Pix {
		if depth > 3 {
			off = append(off, math.Abs(float64(d.light.Pix[i]-slow.Pix[i])))
		}
	}
	top := 2 * float32(quantile(off, 0.5)/0.6745)
	for i, v := range d.light.Pix {
		d.light.Pix[i] = min(v, slow.Pix[i]+top)
	}
	for k := range d.scales {
		c := &d.scales[k]
		c.sigma = max(0.7, pinSigmaMM/f.mm) * math.Pow(1.5, float64(k))
		c.blur = math.Hypot(c.sigma, f.blur)
		if c.smooth, err = cv.Gaussian(d.light, c.sigma); err != nil {
			return nil, err
		}
		if c.around, err = cv.Gaussian(d.light, 3*c.sigma); err != nil {
			return nil, err
		}
	}
	d.up = f.heights()
	return d, d.cover()
}

func (d *dots) cover() error {
	s := d.look.shape
	mask := image.NewGray(s.head.Rect)
	for i, not := range d.notCoat {
		if not {
			mask.Pix[i] = 255
		}
	}
	runs, blobs, err := cv.Runs(mask)
	if err != nil {
		return err
	}
	d.covers = make([]bool, len(d.notCoat))
	for _, r := range runs {
		for i := r.At; i < r.At+r.Len; i++ {
			d.covers[i] = float64(blobs[r.Label-1].Area) > math.Pi*sq(pinMostMM/2/d.mm)
		}
	}
	return nil
}

// level is the expected lightness of a place, the mean of the colours.
func (c *coat) level(i int) float32 {
	return (c.expected[0].Pix[i] + c.expected[1].Pix[i] + c.expected[2].Pix[i]) / 3
}

// quantile is that of values, 0 of none. It reorders them.
func quantile(values []float64, share float64) float64 {
	if len(values) == 0 {
		return 0
	}
	return nth(values, min(int(share*float64(len(values))), len(values)-1))
}

// face are the pixels about which a hole's surroundings are on the coat.
func (d *dots) face() []int {
	l, s := d.look, d.look.shape
	edge := int(1.5*pinRingMM/d.mm) + 2
	var in []int
	for i, depth := range s.depth.Pix {
		deg := float64(l.angles.Pix[i])
		if depth == 0 || d.covers[i] || deg < 0 || deg > pinSteep || l.onCollar(i) || d.up.Pix[i] <= 0 {
			continue
		}
		margin := 1.5*pinRingMM/d.mm*math.Cos(deg*math.Pi/180) + 2*d.scales[0].sigma + 1
		if x, y := i%s.w, i/s.w; float64(depth) >= margin && x > edge && y > edge && x < s.w-edge && y < s.h-edge {
			in = append(in, i)
		}
	}
	return in
}

// noise is the standard deviation of the light about its local mean within a
// millimetre, from the fifth of the places that is darkest.
func (d *dots) noise(x, y int, c *dotScale) float64 {
	off := d.nearby(x, y, 3*c.sigma, func(j int) float64 { return float64(c.around.Pix[j] - c.smooth.Pix[j]) })
	const fifth = 0.8416 // of a normal distribution lies beyond so many standard deviations
	return max(1e-4, (quantile(off, 0.8)-quantile(off, 0.5))/fifth)
}

// nearby is a value at some hundreds of places within a millimetre of a pixel, deeper in the
// head than given, px. The next call overwrites it.
func (d *dots) nearby(x, y int, deep float64, value func(j int) float64) []float64 {
	s := d.look.shape
	reach := int(1 / d.mm)
	stride := max(1, reach/16)
	off := d.off[:0]
	for dy := -reach; dy <= reach; dy += stride {
		for dx := -reach; dx <= reach; dx += stride {
			if dx*dx+dy*dy > reach*reach || x+dx < 0 || y+dy < 0 || x+dx >= s.w || y+dy >= s.h {
				continue
			}
			if j := (y+dy)*s.w + x + dx; float64(s.depth.Pix[j]) > deep {
				off = append(off, value(j))
			}
		}
	}
	d.off = off
	return off
}

// onSurface gives pixels by their way along the surface from another: a down its
// slope, which the photo shortens, and b across it, px.
func (d *dots) onSurface(i int) func(a, b float64) int {
	w := d.up.Width
	gx, gy := float64(d.up.Pix[i+1]-d.up.Pix[i-1])/2, float64(d.up.Pix[i+w]-d.up.Pix[i-w])/2
	ux, uy := unit(gx, gy)
	short := max(1/math.Sqrt(1+gx*gx+gy*gy), math.Cos(pinSteep*math.Pi/180))
	return func(a, b float64) int {
		dx, dy := a*short*ux-b*uy, a*short*uy+b*ux
		return i + int(math.Round(dy))*w + int(math.Round(dx))
	}
}
