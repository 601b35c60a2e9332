package calib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf16"
)

var errDamagedICC = errors.New("damaged colour profile")

// readICC reads a matrix/TRC profile of ICC.1:2022 (version 4) or ICC.1:2001-04
// (version 2). Errors wrap errDamagedICC when the profile cannot be made sense
// of, and ErrUnsupported when it is a good one of another kind.
//
// The primaries of such profiles are under D50. They are brought to D65 from
// their own sum, so that equal channels are neutral whatever the rounding.
func readICC(icc []byte) (*profile, error) {
	if len(icc) < 132 || string(icc[36:40]) != "acsp" {
		return nil, errDamagedICC
	}
	switch space := string(icc[16:20]); space {
	case "RGB ":
	case "GRAY":
		return nil, errNoColour
	case "CMYK":
		return nil, errCMYK
	default:
		return nil, fmt.Errorf("%w: colour space %q", errDamagedICC, space)
	}
	tags := iccTags(icc)
	_, table := tags["A2B0"]
	if _, hasMatrix := tags["rXYZ"]; table && !hasMatrix {
		return nil, fmt.Errorf("%w: its colour profile is a table; export it as sRGB", ErrUnsupported)
	}
	p := &profile{name: iccName(tags["desc"])}
	var m matrix
	for k, channel := range []string{"r", "g", "b"} {
		xyz := tags[channel+"XYZ"]
		if len(xyz) < 20 || string(xyz[:4]) != "XYZ " {
			return nil, errDamagedICC
		}
		for i := range 3 {
			m[i][k] = fixed16(xyz[8+4*i:])
		}
		curve, err := iccCurve(tags[channel+"TRC"])
		if err != nil {
			return nil, err
		}
		p.curves[k] = curve
	}
	white := m.apply([3]float64{1, 1, 1})
	if d50 := d50.xyz(); math.Abs(white[0]-d50[0])+math.Abs(white[1]-d50[1])+math.Abs(white[2]-d50[2]) > 0.3 {
		return nil, fmt.Errorf("%w: its primaries do not add up to white", errDamagedICC)
	}
	p.toSRGB = srgbSpace.toXYZ().inverse().mul(adapt(white, d65.xyz())).mul(m)
	if !p.toSRGB.sensible() {
		return nil, errDamagedICC
	}
	return p.recognised(), nil
}

// iccTags returns the tags of a profile by signature. Those that lie beyond its
// end are left out.
func iccTags(icc []byte) map[string][]byte {
	tags := map[string][]byte{}
	n := uint64(binary.BigEndian.Uint32(icc[128:]))
	for i := uint64(0); i < n && 132+12*i+12 <= uint64(len(icc)); i++ {
		e := icc[132+12*i:]
		from, size := uint64(binary.BigEndian.Uint32(e[4:])), uint64(binary.BigEndian.Uint32(e[8:]))
		if from+size <= uint64(len(icc)) {
			tags[string(e[:4])] = icc[from : from+size]
		}
	}
	return tags
}

// iccCurve reads a curveType or parametricCurveType, ICC.1:2022 10.6 and 10.18.
func iccCurve(tag []byte) (func(float64) float64, error) {
	if len(tag) < 12 {
		return nil, errDamagedICC
	}
	var curve func(float64) float64
	switch string(tag[:4]) {
	case "curv":
		n := uint64(binary.BigEndian.Uint32(tag[8:]))
		if 12+2*n > uint64(len(tag)) {
			return nil, errDamagedICC
		}
		curve = tableCurve(tag[12 : 12+2*n])
	case "para":
		var err error
		if curve, err = parametricCurve(tag); err != nil {
			return nil, err
		}
	default:
		return nil, errDamagedICC
	}
	// A tone curve rises from about black. One that does not would turn light into nonsense.
	last := math.Inf(-1)
	for i := range 256 {
		y := curve(float64(i) / 255)
		if !(y >= last-1e-6) || y < -0.1 || y > 1.1 {
			return nil, fmt.Errorf("%w: its tone curve falls or leaves the range of light", errDamagedICC)
		}
		last = y
	}
	if last < 0.5 {
		return nil, fmt.Errorf("%w: its tone curve does not reach white", errDamagedICC)
	}
	return curve, nil
}

// tableCurve interpolates between equally spaced 16-bit values; none is the
// identity, one a gamma in 1/256.
func tableCurve(table []byte) func(float64) float64 {
	n := len(table) / 2
	at := func(i int) float64 { return float64(binary.BigEndian.Uint16(table[2*i:])) }
	switch n {
	case 0:
		return gammaCurve(1)
	case 1:
		return gammaCurve(at(0) / 256)
	}
	return func(x float64) float64 {
		pos := x * float64(n-1)
		i := min(int(pos), n-2)
		f := pos - float64(i)
		return (at(i)*(1-f) + at(i+1)*f) / 65535
	}
}

// parametricCurve reads function types 0 to 4 of ICC.1:2022 table 68; names of
// the parameters are the standard's.
func parametricCurve(tag []byte) (func(float64) float64, error) {
	counts := [...]int{1, 3, 4, 5, 7}
	kind := int(binary.BigEndian.Uint16(tag[8:]))
	if kind >= len(counts) || len(tag) < 12+4*counts[kind] {
		return nil, errDamagedICC
	}
	var v [7]float64
	for i := range counts[kind] {
		v[i] = fixed16(tag[12+4*i:])
	}
	g, a, b, c, d, e, f := v[0], v[1], v[2], v[3], v[4], v[5], v[6]
	switch kind {
	case 0:
		a, d = 1, math.Inf(-1)
	case 1:
		c, d, e, f = 0, -b/a, 0, 0
	case 2:
		c, d, e, f = 0, -b/a, c, c
	case 3:
		e, f = 0, 0
	}
	return func(x float64) float64 {
		if x >= d {
			return math.Pow(max(a*x+b, 0), g) + e
		}
		return c*x + f
	}, nil
}

// fixed16 reads an s15Fixed16Number.
func fixed16(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// iccName reads the description of a profile: text of version 2, or the first
// of the translations of version 4.
func iccName(desc []byte) string {
	name := ""
	switch {
	case len(desc) >= 12 && string(desc[:4]) == "desc":
		n := uint64(binary.BigEndian.Uint32(desc[8:]))
		if 12+n <= uint64(len(desc)) {
			name = string(desc[12 : 12+n])
		}
	case len(desc) >= 28 && string(desc[:4]) == "mluc":
		n, from := uint64(binary.BigEndian.Uint32(desc[20:])), uint64(binary.BigEndian.Uint32(desc[24:]))
		if from+n <= uint64(len(desc)) {
			units := make([]uint16, n/2)
			for i := range units {
				units[i] = binary.BigEndian.Uint16(desc[int(from)+2*i:])
			}
			name = string(utf16.Decode(units))
		}
	}
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' { // a foreign file's text reaches people's terminals and pages
			return -1
		}
		return r
	}, name)
	if name = strings.TrimSpace(name); name == "" || len(name) > 80 {
		return "an unnamed ICC profile"
	}
	return "ICC profile " + name
}
