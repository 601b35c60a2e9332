package scene

import (
	"image"
	"math"
)

// Camera turns the light into a photo. The zero value is a perfect one: neutral
// under the light in the middle of the frame, a perfect diffuser there just
// white, sRGB without a tone curve, sharp and free of noise.
type Camera struct {
	Exposure  float64 // gain on linear light; 0 is 1
	Gains     RGB     // white balance off neutral; zero is 1, 1, 1
	Tone      float64 // strength of an S-shaped tone curve on encoded values, −1 to 1; 0 is none
	Lift      float64 // lightens the middle: encoded values to the power of 1/(1 + Lift), before the S
	Vivid     float64 // by how much colours are more vivid than they are, on linear light; 0.2 is a phone's
	Vignette  float64 // loss of light in the corners, 0 to 1
	BlurPx    float64 // standard deviation of the lens blur
	FullWell  float64 // electrons that make white: the shot noise; 0 is no noise
	ReadNoise float64 // in electrons
	Sharpen   float64 // unsharp mask on encoded values; 0.5 is a phone's
}

// frame is a picture in linear light.
type frame struct {
	w, h  int
	perPx float64
	pix   []float32 // RGB by pixel
}

func newFrame(w, h int, perPx float64) *frame {
	return &frame{w, h, perPx, make([]float32, 3*w*h)}
}

// mm is a place of the photo on the card, from the middle of the frame; px is
// the way back. Pixel centres are at half numbers.
func (f *frame) mm(x, y float64) (float64, float64) {
	return (x - float64(f.w)/2) * f.perPx, (y - float64(f.h)/2) * f.perPx
}

func (f *frame) px(p vec) (float64, float64) {
	return p.x/f.perPx + float64(f.w)/2, p.y/f.perPx + float64(f.h)/2
}

func (f *frame) set(x, y int, c RGB) {
	i := 3 * (y*f.w + x)
	f.pix[i], f.pix[i+1], f.pix[i+2] = float32(c[0]), float32(c[1]), float32(c[2])
}

func (f *frame) get(x, y int) RGB {
	i := 3 * (y*f.w + x)
	return RGB{float64(f.pix[i]), float64(f.pix[i+1]), float64(f.pix[i+2])}
}

// shoot makes the photo. light is the irradiance the camera is balanced for.
func (c Camera) shoot(f *frame, light RGB, seed uint64) *image.NRGBA {
	f.blur(c.BlurPx)
	gain, tone := c.gains(light), c.curve()
	half := hypot(float64(f.w), float64(f.h)) / 2
	f.eachRow(func(y int) {
		for x := range f.w {
			far := hypot(float64(x)+0.5-float64(f.w)/2, float64(y)+0.5-float64(f.h)/2) / half
			vignette := float32(1 - c.Vignette*far*far)
			i := 3 * (y*f.w + x)
			for ch := range 3 {
				v := f.pix[i+ch] * float32(gain[ch]) * vignette
				if c.FullWell > 0 {
					electrons := max(float64(v), 0) * c.FullWell
					sd := math.Sqrt(electrons + c.ReadNoise*c.ReadNoise)
					v += float32(sd / c.FullWell * gauss(mixBits(seed^uint64(i+ch)*0x2545f4914f6cdd1d)))
				}
				f.pix[i+ch] = v
			}
			c.enliven(f.pix[i : i+3])
			for ch := range 3 {
				f.pix[i+ch] = tone.at(f.pix[i+ch])
			}
		}
	})
	if c.Sharpen > 0 {
		soft := &frame{f.w, f.h, f.perPx, append([]float32(nil), f.pix...)}
		soft.blur(1.2)
		for i, v := range f.pix {
			f.pix[i] = v + float32(c.Sharpen)*(v-soft.pix[i])
		}
	}
	out := image.NewNRGBA(image.Rect(0, 0, f.w, f.h))
	f.eachRow(func(y int) {
		for x := range f.w {
			i := y*f.w + x
			for ch := range 3 {
				out.Pix[4*i+ch] = uint8(min(255, max(0, float64(f.pix[3*i+ch])*255+0.5)))
			}
			out.Pix[4*i+3] = 255
		}
	})
	return out
}

// enliven moves a pixel away from the grey of its own luminance.
func (c Camera) enliven(pix []float32) {
	if c.Vivid == 0 {
		return
	}
	grey := 0.2126*pix[0] + 0.7152*pix[1] + 0.0722*pix[2] // IEC 61966-2-1
	for ch := range pix {
		pix[ch] += float32(c.Vivid) * (pix[ch] - grey)
	}
}

func (c Camera) gains(light RGB) RGB {
	g := RGB{1, 1, 1}
	if c.Gains != (RGB{}) {
		g = c.Gains
	}
	if c.Exposure != 0 {
		g = g.scale(c.Exposure)
	}
	for ch := range g {
		g[ch] /= light[ch]
	}
	return g
}

// curve is a camera's curve from linear light to encoded values, as a table: a
// power for each of nine million numbers is slow.
type curve [1<<14 + 1]float32

// curve is the sRGB curve of IEC 61966-2-1 and the camera's own tone curve.
func (c Camera) curve() *curve {
	t := new(curve)
	for i := range t {
		v := float64(i) / float64(len(t)-1)
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		v = math.Pow(v, 1/(1+c.Lift))
		t[i] = float32(v - c.Tone*math.Sin(2*math.Pi*v)/(2*math.Pi))
	}
	return t
}

func (t *curve) at(linear float32) float32 {
	x := linear * float32(len(t)-1)
	switch {
	case !(x > 0):
		return 0
	case x >= float32(len(t)-1):
		return 1
	}
	i := int(x)
	return t[i] + (t[i+1]-t[i])*(x-float32(i))
}

// blur is a Gaussian of the given standard deviation in px; the frame's edge
// pixels stand for what lies beyond it.
func (f *frame) blur(sd float64) {
	if sd <= 0 {
		return
	}
	n := int(math.Ceil(3.5 * sd))
	kernel := make([]float32, n+1)
	sum := 0.0
	for i := -n; i <= n; i++ {
		sum += math.Exp(-float64(i*i) / (2 * sd * sd))
	}
	for i := range kernel {
		kernel[i] = float32(math.Exp(-float64(i*i)/(2*sd*sd)) / sum)
	}
	tmp := make([]float32, len(f.pix))
	f.eachRow(func(y int) {
		row, out := f.pix[3*y*f.w:3*(y+1)*f.w], tmp[3*y*f.w:3*(y+1)*f.w]
		wide := make([]float32, 3*(f.w+2*n))
		for x := -n; x < f.w+n; x++ {
			copy(wide[3*(x+n):3*(x+n)+3], row[3*min(max(x, 0), f.w-1):])
		}
		for i, v := range wide[3*n : 3*(n+f.w)] {
			out[i] = v * kernel[0]
		}
		for k := 1; k <= n; k++ {
			a, b := wide[3*(n-k):], wide[3*(n+k):]
			for i := range out {
				out[i] += kernel[k] * (a[i] + b[i])
			}
		}
	})
	f.eachRow(func(y int) {
		at := func(y int) []float32 {
			y = min(max(y, 0), f.h-1)
			return tmp[3*y*f.w : 3*(y+1)*f.w]
		}
		out := f.pix[3*y*f.w : 3*(y+1)*f.w]
		for i, v := range at(y) {
			out[i] = v * kernel[0]
		}
		for k := 1; k <= n; k++ {
			a, b := at(y-k), at(y+k)
			for i := range out {
				out[i] += kernel[k] * (a[i] + b[i])
			}
		}
	})
}
