package inspect

import (
	"math"
)

// film is the painted surface of one head under the question whether it is
// smooth.
type film struct {
	look    *look
	coat    *coat
	notCoat []bool   // the eye, and what else is no coat
	mm      float64  // per patch px
	root    rimPoint // where the hook leaves the head
	sized   bool     // mm is known; else it is what a head of ordinary size would have
	blur    float64  // standard deviation of what blurs the photo, patch px
}

// ordinaryHeadMM is the width of a head across its largest circle, for the
// widths of filters when the scale is unknown: common practice, no source.
const ordinaryHeadMM = 7.0

// measureRelief finds what departs from a smooth film, and the places of which it can't
// be told whether they do. Scale is mm per patch px, 0 when unknown; sharpness is the
// photo's blur, photo px.
func measureRelief(l *look, c *coat, notCoat []bool, scale, sharpness float64) (faults, doubtful []ReliefFault, r *Relief, err error) {
	f := &film{look: l, coat: c, notCoat: notCoat, mm: scale, sized: scale > 0, blur: sharpness / float64(l.Step)}
	if !f.sized {
		f.mm = ordinaryHeadMM / (2 * l.shape.radius)
	}
	r = &Relief{Deviation: []Sway{}}
	found, err := f.measureOutline(r)
	if err != nil {
		return nil, nil, nil, err
	}
	faults = append([]ReliefFault{}, found...)
	lit, err := f.relight()
	if err != nil {
		return nil, nil, nil, err
	}
	candidates := lit.candidates(soughtLumps, soughtCraters)
	tones, err := lit.toned()
	if err != nil {
		return nil, nil, nil, err
	}
	lumps, doubtful, err := f.measureLumps(tones, candidates[0], faults)
	if err != nil {
		return nil, nil, nil, err
	}
	r.addLumps(lumps)
	faults = append(faults, lumps...)
	craters := f.measureCraters(lit, candidates[1], faults)
	faults = append(faults, craters...)
	if found, err = f.measurePinholes(r, craters); err != nil {
		return nil, nil, nil, err
	}
	faults = append(faults, found...)
	return faults, doubtful, r, nil
}

// size fills in the measures of a fault, in mm only when the scale is known.
func (f *film) size(fault *ReliefFault, diameter, height, u float64) {
	fault.DiameterPx = diameter / f.mm * float64(f.look.Step)
	if f.sized {
		fault.DiameterMM, fault.HeightMM, fault.U = &diameter, &height, &u
	}
}

// overlaps tells whether two faults cover the same place.
func (a ReliefFault) overlaps(b ReliefFault) bool {
	return math.Hypot(a.X-b.X, a.Y-b.Y) < (a.DiameterPx+b.DiameterPx)/2
}
