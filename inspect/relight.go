package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// relit says how a head's own paint looks at every tilt of its surface, and how
// far each place departs from that: what a lump is recognised by. The light is
// far away compared with the head, so the same tilt looks the same everywhere:
// a lump tilts the surface, and its flanks look like those places of the head
// that are tilted as they are.
type relit struct {
	w, h int
	cell float64                   // mm
	px   int                       // patch px per cell
	at   []surface                 // per cell
	tone [tilts * tilts][3]float32 // what is expected at a tilt, by nx and ny
	last *site                     // see siteOf
}

// surface is what is known of one cell.
type surface struct {
	on       bool
	z        float64    // mm towards the camera
	n        [3]float64 // unit normal, z towards the camera
	want     [3]float32 // tone expected at that tilt
	residual [3]float32 // tone minus what the coat should show
}

const (
	tilts  = 49   // of the grid in each direction, odd
	cellMM = 0.08 // a lump of a millimetre is a dozen cells wide
)

// relight averages the head into cells and learns the tone at each tilt.
func (f *film) relight() (*relit, error) {
	l, s := f.look, f.look.shape
	height, err := f.heights()
	if err != nil {
		return nil, err
	}
	r := &relit{px: max(1, int(math.Round(cellMM/f.mm)))}
	r.cell = float64(r.px) * f.mm
	r.w, r.h = s.w/r.px, s.h/r.px
	r.at = make([]surface, r.w*r.h)
	sum, weight := [3]cv.Plane{}, cv.NewPlane(tilts, tilts)
	for k := range sum {
		sum[k] = cv.NewPlane(tilts, tilts)
	}
	for y := range r.h {
		for x := range r.w {
			c := &r.at[y*r.w+x]
			i := (y*r.px+r.px/2)*s.w + x*r.px + r.px/2
			if s.depth.Pix[i] < float32(2*r.px+2) || f.notCoat[i] || height.Pix[i] <= 0 || l.onCollar(i) {
				continue
			}
			dx := float64(height.Pix[i+r.px]-height.Pix[i-r.px]) / float64(2*r.px)
			dy := float64(height.Pix[i+r.px*s.w]-height.Pix[i-r.px*s.w]) / float64(2*r.px)
			long := math.Sqrt(1 + dx*dx + dy*dy)
			c.on = true
			c.z = float64(height.Pix[i]) * f.mm
			c.n = [3]float64{-dx / long, -dy / long, 1 / long}
			var n float32
			var want [3]float32
			for v := range r.px {
				for u := range r.px {
					j := (y*r.px+v)*s.w + x*r.px + u
					if s.head.Pix[j] == 0 {
						continue
					}
					n++
					for k := range want {
						want[k] += f.coat.expected[k].Pix[j]
						c.residual[k] += f.coat.residual[k].Pix[j]
					}
				}
			}
			j := tilt(c.n[1])*tilts + tilt(c.n[0])
			weight.Pix[j]++
			for k := range want {
				c.residual[k] /= n
				sum[k].Pix[j] += want[k] / n
			}
		}
	}
	return r, r.spread(sum, weight)
}

func tilt(n float64) int { return int(math.Round((n + 1) / 2 * (tilts - 1))) }

// spread fills the gaps between the tilts that the head shows from their
// neighbours, near ones first.
func (r *relit) spread(sum [3]cv.Plane, weight cv.Plane) error {
	for _, sigma := range [4]float64{0.8, 1.6, 3.2, 6.4} {
		norm, err := cv.Gaussian(weight, sigma)
		if err != nil {
			return err
		}
		for k := range sum {
			mean, err := cv.Gaussian(sum[k], sigma)
			if err != nil {
				return err
			}
			for j := range r.tone {
				if r.tone[j][k] == 0 && norm.Pix[j] > 0.02 {
					r.tone[j][k] = mean.Pix[j] / norm.Pix[j]
				}
			}
		}
	}
	for i := range r.at {
		if c := &r.at[i]; c.on {
			c.want = r.look(c.n[0], c.n[1])
		}
	}
	return nil
}

// look is the tone at a tilt, between the grid's.
func (r *relit) look(nx, ny float64) [3]float32 {
	u, v := (nx+1)/2*(tilts-1), (ny+1)/2*(tilts-1)
	x, y := min(max(int(u), 0), tilts-2), min(max(int(v), 0), tilts-2)
	a, b := float32(u-float64(x)), float32(v-float64(y))
	j := y*tilts + x
	var out [3]float32
	for k := range out {
		top := r.tone[j][k] + a*(r.tone[j+1][k]-r.tone[j][k])
		low := r.tone[j+tilts][k] + a*(r.tone[j+tilts+1][k]-r.tone[j+tilts][k])
		out[k] = top + b*(low-top)
	}
	return out
}

// heights is the body's surface over the plane of its axis, px: that of a body
// of revolution with its outline. 0 off the body.
func (f *film) heights() (cv.Plane, error) {
	l, s := f.look, f.look.shape
	body := image.NewGray(s.head.Rect)
	for i, v := range s.head.Pix {
		if v != 0 && !l.onCollar(i) {
			body.Pix[i] = 255
		}
	}
	z := cv.NewPlane(s.w, s.h)
	lo, hi := extents(body, l.axis)
	for i, v := range body.Pix {
		if v == 0 {
			continue
		}
		x, y := float64(i%s.w), float64(i/s.w)
		k := int(math.Round(l.axis.along(x, y)))
		if t := l.axis.across(x, y); t > lo[k] && t < hi[k] {
			z.Pix[i] = float32(math.Sqrt((t - lo[k]) * (hi[k] - t)))
		}
	}
	smooth, err := cv.Gaussian(z, 0.06*s.radius)
	if err != nil {
		return cv.Plane{}, err
	}
	for i, v := range body.Pix {
		if v == 0 {
			smooth.Pix[i] = 0
		}
	}
	return smooth, nil
}
