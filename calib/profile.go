package calib

import (
	"fmt"
	"math"
)

// A profile says what the numbers of a photo mean in light.
type profile struct {
	name   string
	curves [3]func(float64) float64 // encoded to linear, both in [0, 1]
	toSRGB matrix                   // linear light to linear light in sRGB primaries
}

// Three colour spaces that photos are commonly in.
var (
	sRGB      = newProfile("sRGB", srgbToLinear, srgbSpace)                                                       // IEC 61966-2-1
	displayP3 = newProfile("Display P3", srgbToLinear, p3Space)                                                   // SMPTE EG 432-1 with the curve of sRGB
	adobeRGB  = newProfile("Adobe RGB", func(x float64) float64 { return math.Pow(x, 563.0/256) }, adobeRGBSpace) // IEC 61966-2-5
)

// assumedName is said of photos that name no colour space.
const assumedName = "sRGB (assumed: the file names none)"

const damagedProfileNote = "The embedded colour profile is damaged; sRGB is assumed, and colours may be off."

func newProfile(name string, curve func(float64) float64, s space) *profile {
	return &profile{name, [3]func(float64) float64{curve, curve, curve}, s.toSRGB()}
}

// namedProfile is p under the name by which a file calls it.
func namedProfile(p *profile, name string) *profile {
	q := *p
	q.name = name
	return &q
}

// recognised returns the common space that p is, to the rounding of profiles,
// or p itself.
func (p *profile) recognised() *profile {
	for _, known := range []*profile{sRGB, displayP3, adobeRGB} {
		if p.like(known) {
			return known
		}
	}
	return p
}

// Profiles round their primaries to 1/65536, and makers adapt them to D50 in
// slightly different ways; curves come as tables of 16 bits. Both differences
// stay below 0.1 ΔE00.
const (
	sameMatrix = 0.002
	sameCurve  = 0.0004
)

func (p *profile) like(known *profile) bool {
	for i := range p.toSRGB {
		for j := range p.toSRGB[i] {
			if math.Abs(p.toSRGB[i][j]-known.toSRGB[i][j]) > sameMatrix {
				return false
			}
		}
	}
	for i := range 256 {
		x := float64(i) / 255
		for k := range p.curves {
			if math.Abs(p.curves[k](x)-known.curves[k](x)) > sameCurve {
				return false
			}
		}
	}
	return true
}

// codedProfile returns the space of the code points of ITU-T H.273 that HEIC,
// AVIF and PNG files carry.
func codedProfile(primaries, transfer int) (*profile, error) {
	var s space
	switch primaries {
	case 1, 2: // BT.709, unspecified
		s = srgbSpace
	case 9:
		s = rec2020Space
	case 12:
		s = p3Space
	default:
		return nil, fmt.Errorf("%w: colour primaries of code %d; export it as sRGB", ErrUnsupported, primaries)
	}
	curve := srgbToLinear
	name := ""
	switch transfer {
	case 2, 13: // unspecified, sRGB
	case 1, 6, 14, 15: // BT.709 and its kin
		curve, name = rec709ToLinear, "BT.709 curve"
	case 4:
		curve, name = gammaCurve(2.2), "gamma 2.2"
	case 5:
		curve, name = gammaCurve(2.8), "gamma 2.8"
	case 8:
		curve, name = gammaCurve(1), "linear"
	case 16, 18:
		return nil, fmt.Errorf("%w: high dynamic range; switch it off in the camera or export the photo as sRGB", ErrUnsupported)
	default:
		return nil, fmt.Errorf("%w: transfer curve of code %d; export it as sRGB", ErrUnsupported, transfer)
	}
	p := newProfile("", curve, s)
	switch {
	case name != "":
		p.name = map[int]string{1: "BT.709", 2: "BT.709", 9: "BT.2020", 12: "P3"}[primaries] + " primaries, " + name
	case primaries == 9:
		p.name = "BT.2020 primaries, sRGB curve"
	case primaries == 12:
		p.name = displayP3.name
	case primaries == 2 && transfer == 2:
		p.name = assumedName
	default:
		p.name = sRGB.name
	}
	return p, nil
}

// rec709ToLinear undoes the camera curve of ITU-R BT.709.
func rec709ToLinear(x float64) float64 {
	if x < 0.081 {
		return x / 4.5
	}
	return math.Pow((x+0.099)/1.099, 1/0.45)
}

func gammaCurve(gamma float64) func(float64) float64 {
	return func(x float64) float64 { return math.Pow(x, gamma) }
}

// gammaProfile is what PNG's gAMA and cHRM chunks describe; primaries may be
// nil. It is nil when they make no sense.
func gammaProfile(fileGamma float64, primaries *space) *profile {
	s := srgbSpace
	if primaries != nil {
		s = *primaries
	}
	p := newProfile(fmt.Sprintf("gamma %.2f (from the file's gAMA)", 1/fileGamma), gammaCurve(1/fileGamma), s)
	if math.Abs(fileGamma-0.45455) < 0.0005 { // what PNG says to write for sRGB
		p = newProfile("", srgbToLinear, s)
		if p.like(sRGB) {
			return sRGB
		}
		p.name = "sRGB curve (from the file's gAMA)"
	}
	if fileGamma < 0.1 || fileGamma > 2 || !p.toSRGB.sensible() {
		return nil
	}
	return p
}

// sensible tells a matrix to sRGB of real primaries from the result of damaged
// data: even the widest working spaces stay below 4 in every element.
func (m matrix) sensible() bool {
	for _, row := range m {
		for _, x := range row {
			if !(math.Abs(x) < 8) { // also of what is not a number
				return false
			}
		}
	}
	return true
}

// srgbPrimaries tells whether the matrix changes nothing.
func (p *profile) srgbPrimaries() bool {
	for i, row := range p.toSRGB {
		for j, x := range row {
			want := 0.0
			if i == j {
				want = 1
			}
			if math.Abs(x-want) > 1e-9 {
				return false
			}
		}
	}
	return true
}
