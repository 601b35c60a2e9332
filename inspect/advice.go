package inspect

import "strings"

// What usually causes a fault and what to try about it: common practice, no
// source. Where it involves heat, bare lead or dust, it says so there.
const (
	adviceEdge = "Thin spots on sharp edges usually come from one quick dip or too little heat: heat a little longer or dip twice, and do not knock the piece while it is hot and the powder soft. " + bareLead
	adviceFace = "A bare patch on a smooth face usually comes from grease, a fingerprint or a touch while the powder was soft: clean the casting, hold it by the hook only and heat it evenly. " + bareLead
	adviceLump = "Lumps usually come from too much preheat or packed powder: heat a few seconds less, and fluff the powder without breathing its dust or having a flame near it."
	adviceSag  = "Sags and cones usually come from too much preheat or too thick a film: heat less, dip quicker, and hang the piece so that it cannot run."
	adviceHole = "Pinholes usually come from gas or damp under the film: dry the powder, warm the bare casting through before the dip, well below the melting point of lead, and cure as the powder's maker says."
	adviceEye  = "Clear it with a pin while the film is soft, minding the heat, or after the cure with a drill bit turned by hand; the shavings hold lead, so wipe them up damp."

	bareLead = "Wash your hands after touching bare lead."
)

// adviceBare is about a bare spot, nil when the bare area has no spot in it
// that is large enough to be told apart.
func adviceBare(s *BareSpot) string {
	if s != nil && s.Where == "face" {
		return adviceFace
	}
	return adviceEdge
}

// highest is the relief fault that stands highest where its place begins so,
// "on the face" or "on the outline", and the photo that shows it; nil when the
// height of none is known.
func (p *Piece) highest(place string) (file string, fault *ReliefFault) {
	for k := range p.Photos {
		ph := &p.Photos[k]
		for j := range ph.ReliefFaults {
			f := &ph.ReliefFaults[j]
			if f.HeightMM != nil && strings.HasPrefix(f.Place, place) && (fault == nil || *f.HeightMM > *fault.HeightMM) {
				file, fault = ph.File, f
			}
		}
	}
	return file, fault
}

// adviceDark is how to find out what a dark spot shows.
func adviceDark(s *BareSpot) string {
	switch s.Shows {
	case MetalOrGloss:
		return "Photograph it from another side, so that this edge faces the camera."
	case MetalOrTint:
		return "Photograph it in light of one colour, as in a tent."
	case MetalOrCard:
		return "Photograph it on a plain white or black sheet with the grey card beside it."
	}
	return "Photograph it once more with only the lamp moved, so that this side is lit."
}

// holed is the photo with the most pinholes and, after a comma, where most of
// them are.
func (p *Piece) holed() (file, where string) {
	most := 0
	for _, ph := range p.Photos {
		places, holes, best := map[string]int{}, 0, ""
		for _, f := range ph.ReliefFaults {
			if f.Kind != "pinhole" {
				continue
			}
			holes++
			places[f.Place]++
			if places[f.Place] > places[best] {
				best = f.Place
			}
		}
		if holes > most {
			most, file, where = holes, ph.File, ", most of them "+best
		}
	}
	return file, where
}

// blockedIn is the photo that shows the eye blocked.
func (p *Piece) blockedIn() string {
	for _, ph := range p.Photos {
		if ph.Eye == EyeBlocked {
			return ph.File
		}
	}
	return ""
}
