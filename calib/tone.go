package calib

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Tone undoes what a camera does to a picture after the sensor: it bends its
// tones and makes its colours more vivid. It holds for one camera with one set of
// settings. The zero value changes nothing.
type Tone struct {
	// Bend are the amplitudes of sines: a value v encoded for sRGB, 0 to 1, becomes
	// v + Σ Bend[j]·sin((j+1)πv)/((j+1)π).
	Bend []float64 `toml:"bend" json:"bend"`
	// Mix takes reflectance in sRGB primaries to truer reflectance, less 1 on the
	// diagonal; each row sums to 0, so greys stay grey.
	Mix [3][3]float64 `toml:"mix" json:"mix"`
}

// Fit says how a Tone was found.
type Fit struct {
	Patches       int     `toml:"patches" json:"patches"`
	DeltaE00      float64 `toml:"delta_e00" json:"delta_e00"`                 // mean over the patches, each predicted by a fit to all others
	WorstDeltaE00 float64 `toml:"worst_delta_e00" json:"worst_delta_e00"`     // of these
	Without       float64 `toml:"delta_e00_without" json:"delta_e00_without"` // mean when nothing is undone
}

// ErrFewPatches means that too little can be learnt from the set-up photo.
var ErrFewPatches = errors.New("fewer than two patches are free of clipping")

var plain Tone

// FitTone fits a Tone to the patches of a set-up photo whose card has the given
// reflectance. Bends of one to four sines are tried, with many patches each with
// and without a mix, all held back towards none; that one is taken whose colours are nearest to the
// references when each patch is predicted from the others. It must bring them at
// least a tenth nearer than none does; otherwise the Tone is the zero value, which
// says that this camera bends nothing.
func FitTone(p *Photo, patches []Patch, reflectance float64) (Tone, Fit, error) {
	var use []*Patch
	for i := range patches {
		if !patches[i].Clipped {
			use = append(use, &patches[i])
		}
	}
	if len(use) < 2 {
		return Tone{}, Fit{}, ErrFewPatches
	}
	off := func(t *Tone, s *Patch) float64 { return DeltaE2000(s.Reference, t.of(s, p, reflectance)) }
	fit := Fit{Patches: len(use)}
	worstWithout := 0.0
	for _, s := range use {
		d := off(&plain, s)
		fit.Without, worstWithout = fit.Without+d/float64(len(use)), max(worstWithout, d)
	}
	fit.DeltaE00 = math.Inf(1)
	var best Tone
	mixes := []bool{false, true}
	if len(use) < 12 { // greys say nothing of it
		mixes = mixes[:1]
	}
	for bends := 1; bends <= min(4, len(use)-1); bends++ {
		for _, mix := range mixes {
			mean, worst := 0.0, 0.0
			for k := range use {
				others := append(append([]*Patch{}, use[:k]...), use[k+1:]...)
				t := fitTone(p, others, reflectance, bends, mix)
				d := off(&t, use[k])
				mean, worst = mean+d/float64(len(use)), max(worst, d)
			}
			if t := fitTone(p, use, reflectance, bends, mix); mean < fit.DeltaE00 && t.monotone() {
				best, fit.DeltaE00, fit.WorstDeltaE00 = t, mean, worst
			}
		}
	}
	if !(fit.DeltaE00 < 0.9*fit.Without) {
		fit.DeltaE00, fit.WorstDeltaE00 = fit.Without, worstWithout
		return Tone{}, fit, nil
	}
	return best, fit, nil
}

// How far the numbers of a Tone may be expected from 0, one standard deviation,
// and how well a target keeps to its published colours, as ΔE: by our own
// judgement. They hold the fit back where the patches say little.
const (
	bendSpread  = 0.3
	mixSpread   = 0.15
	patchSpread = 1.0
)

// fitTone is the least-squares fit, by Gauss and Newton's method.
func fitTone(p *Photo, patches []*Patch, reflectance float64, bends int, mix bool) Tone {
	n := bends
	if mix {
		n += 6
	}
	x := make([]float64, n)
	rows := 3*len(patches) + n
	residuals := func(x []float64) []float64 {
		t := toneOf(x, bends)
		r := make([]float64, 0, rows)
		for _, s := range patches {
			got, want := t.of(s, p, reflectance), s.Reference
			// strong colours count less, as in CIE94: ΔE00 itself has jumps
			w := 1 / (1 + 0.045*want.Chroma()) / patchSpread
			r = append(r, (got.L-want.L)/patchSpread, w*(got.A-want.A), w*(got.B-want.B))
		}
		for k, v := range x {
			spread := mixSpread
			if k < bends {
				spread = bendSpread
			}
			r = append(r, v/spread)
		}
		return r
	}
	for range 6 {
		r := residuals(x)
		jacobian := mat.NewDense(rows, n, nil)
		for k := range n {
			const d = 1e-5
			moved := append([]float64(nil), x...)
			moved[k] += d
			for i, v := range residuals(moved) {
				jacobian.Set(i, k, (v-r[i])/d)
			}
		}
		var step mat.VecDense
		if step.SolveVec(jacobian, mat.NewVecDense(rows, r)) != nil {
			break
		}
		for k := range x {
			x[k] -= step.AtVec(k)
		}
	}
	return toneOf(x, bends)
}

// toneOf makes a Tone of its free numbers: the bends, then those of the mix
// beside the diagonal.
func toneOf(x []float64, bends int) Tone {
	t := Tone{Bend: append([]float64(nil), x[:bends]...)}
	if len(x) == bends {
		return t
	}
	k := bends
	for i := range 3 {
		for j := range 3 {
			if i != j {
				t.Mix[i][j] = x[k]
				t.Mix[i][i] -= x[k]
				k++
			}
		}
	}
	return t
}

// of is the colour of a patch after the tone is undone.
func (t *Tone) of(s *Patch, p *Photo, reflectance float64) Lab {
	var level, card [3]float64
	for k := range level {
		level[k], card[k] = t.straighten(s.level[k]), t.straighten(s.card[k])
	}
	level, card = p.linearSRGB(level), p.linearSRGB(card)
	for k := range level {
		level[k] *= reflectance / card[k]
	}
	c := t.unmix(level)
	return LinearRGB{c[0], c[1], c[2]}.Lab()
}

func (p *Photo) linearSRGB(own [3]float64) [3]float64 {
	var out [3]float64
	for i := range out {
		for j := range own {
			out[i] += float64(p.toSRGB[i][j]) * own[j]
		}
	}
	return out
}

// straighten undoes the bend of linear light in the file's own primaries.
func (t *Tone) straighten(linear float64) float64 {
	if len(t.Bend) == 0 {
		return linear
	}
	v := linearToSRGB(min(max(linear, 0), 1))
	w := v
	for j, b := range t.Bend {
		k := float64(j+1) * math.Pi
		w += b * math.Sin(k*v) / k
	}
	return srgbToLinear(min(max(w, 0), 1))
}

// unmix undoes the mix of reflectances in sRGB primaries.
func (t *Tone) unmix(r [3]float64) [3]float64 {
	out := r
	for i := range out {
		for j := range r {
			out[i] += t.Mix[i][j] * r[j]
		}
	}
	return out
}

// unmixPixel is unmix in place.
func (t *Tone) unmixPixel(r []float32) {
	c := t.unmix([3]float64{float64(r[0]), float64(r[1]), float64(r[2])})
	r[0], r[1], r[2] = float32(c[0]), float32(c[1]), float32(c[2])
}

// monotone tells whether a lighter tone stays a lighter one.
func (t *Tone) monotone() bool {
	last := 0.0
	for i := 1; i <= 255; i++ {
		w := linearToSRGB(t.straighten(srgbToLinear(float64(i) / 255)))
		if !(w >= last+0.1/255) { // not a number is none either
			return false
		}
		last = w
	}
	return true
}

// Valid tells whether a Tone from a file can be used.
func (t *Tone) Valid() bool {
	for _, row := range t.Mix {
		for _, v := range row {
			if !(math.Abs(v) <= 2) {
				return false
			}
		}
	}
	return len(t.Bend) <= 8 && t.monotone()
}

// Straighten undoes the tone in all that is read from the photo afterwards.
func (p *Photo) Straighten(t Tone) {
	for k := range p.tables {
		table := make([]uint64, len(p.tables[k]))
		for i, packed := range p.tables[k] {
			linear := float64(packed&lightMask) / lightOne
			table[i] = packed&^lightMask | uint64(t.straighten(linear)*lightOne+0.5)
		}
		p.tables[k] = table
	}
	p.tone = &t
}

// How steep a camera's curve is at the card, relative to that of sRGB, less 1:
// cameras make pictures for the eye, steeper than the scene is. That those of
// phones lie between a tenth flatter and two fifths steeper is our own judgement.
const (
	flattest  = -0.1
	steepest  = 0.4
	usualBend = (flattest + steepest) / 2
)

const mostLift = 0.1 // the amplitude of a Bend that lifts or lowers what surrounds the card in lightness

// UsualTone undoes the curve of a camera of which nothing is known: the middle of
// the range that such curves lie in. A correction by the expected value is what is
// known best of an effect that surely has a sign (JCGM 100:2008, 3.2.3).
func UsualTone() Tone { return Tone{Bend: []float64{0, -bendAtCard(usualBend)}} }

// bendAtCard is the second amplitude of a Bend that is steeper at an 18 % card.
func bendAtCard(steeper float64) float64 {
	return steeper / math.Cos(2*math.Pi*linearToSRGB(CardReflectance))
}

// UnknownTone is how far colours may be off when nothing is known of the camera's
// tone curve and the usual one is undone: the root mean square ΔE00 over the
// 24-patch target of cameras whose curve is as steep as UsualTone says and lifts or
// lowers the card's surroundings by up to a thirtieth.
func UnknownTone() float64 {
	sum, n := 0.0, 0
	undo := UsualTone()
	for k := range 5 {
		steep := flattest + (steepest-flattest)*float64(k)/4
		for _, lift := range []float64{-mostLift, 0, mostLift} {
			camera := Tone{Bend: []float64{lift, bendAtCard(steep)}}
			seen := func(v float64) float64 { return undo.straighten(camera.straighten(v)) }
			for _, want := range target24 {
				c := want.LinearRGB()
				card := CardReflectance / seen(CardReflectance)
				d := DeltaE2000(want, LinearRGB{card * seen(c.R), card * seen(c.G), card * seen(c.B)}.Lab())
				sum, n = sum+d*d, n+1
			}
		}
	}
	return math.Sqrt(sum / float64(n))
}

// OtherTones are what a colour would have come out as had the usual tone been undone
// for a camera whose curve is one standard deviation steeper than the usual one, and
// for one that lifts the card's surroundings by one: within their ranges all curves
// are taken to be equally likely (JCGM 100:2008, 4.3.7). The card is taken to be
// exposed as 18 %.
func OtherTones(c Lab) [2]Lab {
	undo, lin := UsualTone(), c.LinearRGB()
	cameras := [2]Tone{
		{Bend: []float64{0, bendAtCard(usualBend + (steepest-flattest)/math.Sqrt(12))}},
		{Bend: []float64{mostLift / math.Sqrt(3), bendAtCard(usualBend)}},
	}
	var out [2]Lab
	for k, camera := range cameras {
		seen := func(v float64) float64 { return undo.straighten(camera.straighten(v)) }
		card := CardReflectance / seen(CardReflectance)
		out[k] = LinearRGB{card * seen(lin.R), card * seen(lin.G), card * seen(lin.B)}.Lab()
	}
	return out
}

// Straightened is reflectance, as Reflect makes it, after a tone is undone that
// the card's light was not fitted under. The bend is taken as one of linear sRGB,
// whatever the file's own primaries are: close enough for a curve only guessed. Use
// tells the pixels that are wanted; all others become 0.
func (c *GreyCard) Straightened(lin *Linear, t Tone, use func(i int) bool) *Linear {
	const cell = 16 // px of lin with one light
	const fine = 1 << 12
	var table [fine + 2]float32
	for i := range table {
		table[i] = float32(t.straighten(float64(i) / fine))
	}
	straight := func(v float32) float32 {
		x := min(max(v, 0), 1) * fine
		k := int(x)
		return table[k] + (x-float32(k))*(table[k+1]-table[k])
	}
	out := *lin
	out.Pix = make([]float32, len(lin.Pix))
	for y := range lin.Height {
		var light, gain [3]float32
		lit := -1 // the cell that they are of
		for x := range lin.Width {
			if !use(y*lin.Width + x) {
				continue
			}
			if x/cell != lit {
				lit = x / cell
				for k, e := range c.Light(float64(lin.Rect.Min.X+(lit*cell+cell/2)*lin.Step), float64(lin.Rect.Min.Y+y*lin.Step)) {
					light[k], gain[k] = float32(e), float32(c.Reflectance)/straight(float32(c.Reflectance*e))
				}
			}
			i := 3 * (y*lin.Width + x)
			for k, e := range light {
				out.Pix[i+k] = gain[k] * straight(lin.Pix[i+k]*e)
			}
			t.unmixPixel(out.Pix[i : i+3])
		}
	}
	return &out
}
