package inspect

import (
	"math"

	"jigloupe/calib/cv"
)

// coat is what the paint should look like at each pixel of a head: its colour
// at that viewing angle, times the slow change of the light across the head.
// All values are logarithms of ratios to card in full light, as in tones.
type coat struct {
	expected [3]cv.Plane  // 0 outside the head
	residual [3]cv.Plane  // tones − expected, while it is learnt
	spread   float64      // robust standard deviation of the green residual
	byAngle  [3][]float32 // the coat's colour in classes of viewing angle
}

// angleStep is the width of the angle classes the coat's colour is taken in.
const (
	angleStep    = 4.0 // degrees
	angleClasses = 23
)

// learnCoat takes the coat's colour from the head itself. Up to a third of it
// may be bare, glaring or in shadow: medians do not mind. Ignore marks pixels
// to leave out.
func learnCoat(l *look, ignore []bool) (*coat, error) {
	s, t := l.shape, l.tones
	use := make([]bool, s.w*s.h)
	for i, d := range s.depth.Pix {
		use[i] = d >= 2 && l.angles.Pix[i] >= 0 && !ignore[i]
	}
	c := &coat{}
	for k := range c.byAngle {
		c.byAngle[k] = angleMedians(t.plane[k].Pix, l.angles.Pix, use)
	}
	c.mendMiddle()
	for k := range c.expected {
		c.expected[k], c.residual[k] = cv.NewPlane(s.w, s.h), cv.NewPlane(s.w, s.h)
		for i, v := range s.head.Pix {
			if v != 0 {
				c.expected[k].Pix[i] = atAngle(c.byAngle[k], float64(l.angles.Pix[i]))
				c.residual[k].Pix[i] = t.plane[k].Pix[i] - c.expected[k].Pix[i]
			}
		}
	}
	// The light's slow change across the head, robustly: what is far from the
	// first estimate has no say in the second.
	weight := make([]bool, s.w*s.h)
	for round := range 3 {
		for i, ok := range use {
			weight[i] = ok && (round == 0 && c.sameHue(t, i) || round > 0 && c.typical(i))
		}
		if err := c.follow(t, weight, 0.28*s.radius); err != nil {
			return nil, err
		}
	}
	var dev []float64
	for i, ok := range use {
		if ok && i%3 == 0 {
			dev = append(dev, math.Abs(float64(c.residual[1].Pix[i])))
		}
	}
	if len(dev) == 0 {
		return nil, errNoPiece
	}
	c.spread = nth(dev, len(dev)/2) / 0.6745
	c.residual = [3]cv.Plane{}
	return c, nil
}

// mendMiddle takes the coat's colour in the middle of the head from around it
// where the middle is suddenly grey. Few pixels are seen at small angles, so a
// bare patch there can be most of them; a coat's own colour hardly changes so
// near to the normal, since its shift goes with the cosine of the angle.
func (c *coat) mendMiddle() {
	const apart = 3 // classes, more than the soft edge of a patch
	for k := angleClass(36); k >= 0; k-- {
		here, there := c.hueAt(k), c.hueAt(k+apart)
		change := math.Hypot(here[0]-there[0], here[1]-there[1])
		if change < oddHue || math.Hypot(here[0], here[1]) > 0.6*math.Hypot(there[0], there[1]) {
			continue
		}
		for plane := range c.byAngle {
			for j := range k + apart {
				c.byAngle[plane][j] = c.byAngle[plane][k+apart]
			}
		}
		return
	}
}

// oddHue is a change of hue, as a log ratio, that is no coat's own over a few
// degrees or a fraction of a millimetre.
const oddHue = 0.3

// hueAt is the log ratio of red and of blue to green in a class of angles.
func (c *coat) hueAt(k int) [2]float64 {
	g := c.byAngle[1][k]
	return [2]float64{float64(c.byAngle[0][k] - g), float64(c.byAngle[2][k] - g)}
}

// sameHue tells whether a pixel has about the hue expected of it, however light.
func (c *coat) sameHue(t *tones, i int) bool {
	u, v := t.hue(i)
	g := c.expected[1].Pix[i]
	du, dv := float64(u-c.expected[0].Pix[i]+g), float64(v-c.expected[2].Pix[i]+g)
	return math.Hypot(du, dv) < oddHue
}

// typical tells whether a pixel is near what is expected of it in all channels.
func (c *coat) typical(i int) bool {
	for k := range c.residual {
		if r := c.residual[k].Pix[i]; r > 0.35 || r < -0.35 {
			return false
		}
	}
	return true
}

// follow adds to the expectation the local mean of what is left of the pixels in use.
func (c *coat) follow(t *tones, use []bool, sigma float64) error {
	means, err := cv.LocalMeans(c.residual, use, sigma)
	if err != nil {
		return err
	}
	mean, share := [3][]float32{make([]float32, t.w), make([]float32, t.w), make([]float32, t.w)}, make([]float32, t.w)
	for y := range t.h {
		means.Row(y, 0.02, &mean, share)
		for k := range mean {
			seen, expected, residual := t.plane[k].Pix[y*t.w:][:t.w], c.expected[k].Pix[y*t.w:][:t.w], c.residual[k].Pix[y*t.w:][:t.w]
			for x, e := range expected {
				if e != 0 {
					expected[x] = e + mean[k][x]
					residual[x] = seen[x] - expected[x]
				}
			}
		}
	}
	return nil
}

// angleMedians is the median of the values in each class of viewing angle;
// empty classes take the value of the nearest full one.
func angleMedians(values, angles []float32, use []bool) []float32 {
	classes := make([][]float32, angleClasses)
	for i, ok := range use {
		if ok {
			k := angleClass(float64(angles[i]))
			classes[k] = append(classes[k], values[i])
		}
	}
	out := make([]float32, angleClasses)
	last := -1
	for k, c := range classes {
		if len(c) < 20 {
			if last >= 0 {
				out[k] = out[last]
			}
			continue
		}
		out[k] = nth(c, len(c)/2)
		for j := last + 1; last < 0 && j < k; j++ {
			out[j] = out[k]
		}
		last = k
	}
	return out
}

// angleClass is the class of a viewing angle in degrees.
func angleClass(angle float64) int { return min(int(angle/angleStep), angleClasses-1) }

// atAngle interpolates between the middles of the classes.
func atAngle(classes []float32, angle float64) float32 {
	p := angle/angleStep - 0.5
	k := min(max(int(math.Floor(p)), 0), len(classes)-2)
	f := float32(min(max(p-float64(k), 0), 1))
	return classes[k] + f*(classes[k+1]-classes[k])
}
