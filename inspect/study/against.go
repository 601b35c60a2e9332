package study

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"jigloupe/inspect"
)

// Against is a coat's colour set against a reference, angle by angle. The doubt
// is that of the photos, so it is about these pieces and not about the powder:
// for that, Compare takes several pieces as the sample.
type Against struct {
	ByAngle []AngleAgainst `json:"by_angle"`
	Says    string         `json:"says"`
}

// AngleAgainst is the difference at one viewing angle.
type AngleAgainst struct {
	ViewingDeg float64    `json:"viewing_deg"`
	DeltaE00   float64    `json:"delta_e00"` // without what doubt alone would add
	U          float64    `json:"u"`
	Interval   [2]float64 `json:"interval"`  // 95 %
	Lightness  float64    `json:"lightness"` // L* of the coat minus that of the reference
	Chroma     float64    `json:"chroma"`    // C* likewise
	Hue        float64    `json:"hue"`       // ΔH*ab, the size of the difference in hue
}

// mostly says in which way the colours differ most.
func (a AngleAgainst) mostly() string {
	switch l, c := math.Abs(a.Lightness), math.Abs(a.Chroma); {
	case a.Hue > max(l, c):
		return "in hue"
	case l >= c && a.Lightness > 0:
		return fmt.Sprintf("lighter, by %.1f L*", l)
	case l >= c:
		return fmt.Sprintf("darker, by %.1f L*", l)
	case a.Chroma > 0:
		return fmt.Sprintf("more colourful, by %.1f C*", c)
	default:
		return fmt.Sprintf("less colourful, by %.1f C*", c)
	}
}

// beyondDoubt is how many of its uncertainties a difference must have at one
// angle to be called real: with eight angles looked at, three leave one false
// alarm in 50 comparisons of equal coats.
const beyondDoubt = 3

// SetAgainst compares the angles that both curves have.
func SetAgainst(coat, reference *inspect.Travel) (Against, error) {
	if coat == nil || reference == nil {
		return Against{}, errors.New("one of the two has no measured colour")
	}
	curves := [][]inspect.TravelBin{coat.Curve, reference.Curve}
	angles := sharedAngles(curves...)
	if len(angles) == 0 {
		return Against{}, errors.New("the two have no viewing angle in common")
	}
	var out Against
	var differ []string
	worst, widest := -1, 0
	for k, deg := range angles {
		a, _ := at(coat.Curve, deg)
		b, _ := at(reference.Curve, deg)
		d := AngleAgainst{ViewingDeg: deg}
		d.DeltaE00, d.U, d.Interval = inspect.Apart(b, a)
		d.Lightness, d.Chroma = a.L-b.L, math.Hypot(a.A, a.B)-math.Hypot(b.A, b.B)
		d.Hue = math.Sqrt(max(0, (a.A-b.A)*(a.A-b.A)+(a.B-b.B)*(a.B-b.B)-d.Chroma*d.Chroma))
		out.ByAngle = append(out.ByAngle, d)
		if d.Interval[1] > out.ByAngle[widest].Interval[1] {
			widest = k
		}
		if d.DeltaE00 > beyondDoubt*d.U {
			differ = append(differ, fmt.Sprintf("%.0f°", deg))
			if worst < 0 || d.DeltaE00 > out.ByAngle[worst].DeltaE00 {
				worst = k
			}
		}
	}
	switch w := out.ByAngle[max(worst, 0)]; {
	case worst < 0:
		out.Says = fmt.Sprintf("No difference from the reference beyond the photos' doubt; one of up to ΔE00 %.1f could hide in it.", out.ByAngle[widest].Interval[1])
	default:
		where := "at all angles"
		if len(differ) < len(angles) {
			where = "seen at " + strings.Join(differ, ", ")
		}
		out.Says = fmt.Sprintf("Differs from the reference %s, most at %.0f°: ΔE00 %.1f ± %.1f, mostly %s.", where, w.ViewingDeg, w.DeltaE00, 2*w.U, w.mostly())
	}
	if coat.Light != reference.Light || coat.Light == "unknown" {
		out.Says += " The two were not shown to be shot in the same kind of light, so it can be the light's."
	}
	return out, nil
}
