package inspect

import "math"

// shadowHue is the range of colours the card takes in its shadows, as log
// ratios of red and blue to green. The middle of the range drifts with the
// level: the camera's tone curve bends each channel by itself, and a vivid head
// lights its own shadow. Where light of two colours mixes, a shadow of the one
// is tinted by the other, to both sides of the middle.
type shadowHue struct {
	midRed, midBlue [shadowBins]float32 // by level
	red, blue       float32             // unit vector along which tints lie
	lo, hi          float32             // range along it
}

const shadowBins = 24

var (
	blackTone, fullTone = math.Log(toe), math.Log(1 + toe)
	toBin               = (shadowBins - 1) / (fullTone - blackTone)
)

// shadowBin sorts a log level into equal steps from black to full light.
func shadowBin(tone float32) int {
	return max(0, min(shadowBins-1, int((float64(tone)-blackTone)*toBin)))
}

// off is how far a pixel's colour is from any shade of the card, as a log
// ratio.
func (s *shadowHue) off(t *tones, i int) float32 {
	u, v := s.tint(t, i)
	k := min(max(u*s.red+v*s.blue, s.lo), s.hi)
	u, v = u-k*s.red, v-k*s.blue
	return float32(math.Sqrt(float64(u*u + v*v)))
}

// foreign tells whether a pixel has a hue that card has in no shadow, by more
// than a log ratio of tolerance; three steps of an 8-bit photo count for more in
// the dark.
func (s *shadowHue) foreign(t *tones, i int, tolerance float64) bool {
	if u, v := s.tint(t, i); float64(u*u+v*v) < tolerance*tolerance {
		return false // no shade is farther off than the middle of the range
	}
	off := float64(s.off(t, i))
	return off > tolerance && off > tolerance+0.015/math.Exp(float64(t.plane[1].Pix[i]))
}

// tint is the colour of a pixel relative to the middle of the range.
func (s *shadowHue) tint(t *tones, i int) (u, v float32) {
	u, v = t.hue(i)
	k := shadowBin(t.plane[1].Pix[i])
	return u - s.midRed[k], v - s.midBlue[k]
}

// learnShadow takes the range from pixels known to be card and lets it run on
// by half its length for the deeper shadows that were not reached.
func learnShadow(t *tones, card []bool) *shadowHue {
	s := &shadowHue{}
	shaded := float32(math.Log(0.95 + toe))
	bin := make([]uint8, len(card))
	var count [shadowBins]int
	var tells []int32 // those of them that are in shade or tinted
	for i, ok := range card {
		if ok {
			tone := t.plane[1].Pix[i]
			bin[i] = uint8(shadowBin(tone))
			count[bin[i]]++
			if u, v := t.hue(i); tone < shaded || u*u+v*v > 0.05*0.05 {
				tells = append(tells, int32(i))
			}
		}
	}
	var red, blue [shadowBins][]float32
	for k, n := range count {
		red[k], blue[k] = make([]float32, 0, n), make([]float32, 0, n)
	}
	for i, ok := range card {
		if ok {
			u, v := t.hue(i)
			k := bin[i]
			red[k], blue[k] = append(red[k], u), append(blue[k], v)
		}
	}
	s.midRed, s.midBlue = drift(red), drift(blue)

	var uu, uv, vv float64
	us, vs := make([]float32, len(tells)), make([]float32, len(tells))
	for k, i := range tells {
		u, v := s.tint(t, int(i))
		uu, uv, vv = uu+float64(u*u), uv+float64(u*v), vv+float64(v*v)
		us[k], vs[k] = u, v
	}
	if len(us) < 100 || uv >= 0 {
		return s // lamps differ from warm to cool: another axis is a coat's, not a shadow's
	}
	angle := math.Atan2(2*uv, uu-vv) / 2
	s.red, s.blue = float32(math.Cos(angle)), float32(math.Sin(angle))
	for i := range us {
		us[i] = us[i]*s.red + vs[i]*s.blue
	}
	s.lo = min(0, 1.5*nth(us, len(us)/200))
	s.hi = max(0, 1.5*nth(us, len(us)-1-len(us)/200))
	return s
}

// drift is the median of each bin from light to dark. A bin with few pixels is
// not believed: it takes what the one before has, and the change from bin to
// bin is held to 0.08, since a few pixels of a head's dim rim may be among them.
func drift(bins [shadowBins][]float32) (mid [shadowBins]float32) {
	var last float32
	for k := shadowBins - 1; k >= 0; k-- {
		if len(bins[k]) >= 40 {
			last += min(max(nth(bins[k], len(bins[k])/2)-last, -0.08), 0.08)
		}
		mid[k] = last
	}
	return mid
}
