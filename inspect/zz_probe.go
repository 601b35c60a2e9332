package inspect

import (
	"fmt"
	"math"

	"jigloupe/calib"
)

func Probe(file string, pts [][2]int) {
	p, err := calib.Open(file)
	if err != nil {
		panic(err)
	}
	l, err := lookAt(p, 0.18)
	if err != nil {
		panic(err)
	}
	c, err := learnCoat(l, make([]bool, len(l.angles.Pix)))
	if err != nil {
		panic(err)
	}
	b := measureBareness(l, c)
	fmt.Println(file, "R", l.shape.radius, "step", l.Step)
	for j := 0; j < angleClasses; j += 2 {
		fmt.Printf("  %2.0f°: %.2f %.2f %.2f\n", (float64(j)+.5)*angleStep, math.Exp(float64(c.byAngle[0][j]))-toe, math.Exp(float64(c.byAngle[1][j]))-toe, math.Exp(float64(c.byAngle[2][j]))-toe)
	}
	for _, pt := range pts {
		x, y := (pt[0]-l.Rect.Min.X)/l.Step, (pt[1]-l.Rect.Min.Y)/l.Step
		i := y*l.shape.w + x
		q := func(k int) float64 { return math.Exp(float64(l.tones.plane[k].Pix[i])) - toe }
		w := func(k int) float64 { return math.Exp(float64(c.expected[k].Pix[i])) - toe }
		lo, hi := l.angleRange(i)
		fmt.Printf("  %v head %d depth %.0f angle %.0f (%.0f-%.0f) collar %v q %.2f %.2f %.2f want %.2f %.2f %.2f a %.2f n %.2f limit %.2f missing %v\n", pt, l.shape.head.Pix[i], l.shape.depth.Pix[i], l.angles.Pix[i], lo, hi, l.onCollar(i), q(0), q(1), q(2), w(0), w(1), w(2), b.opacity.Pix[i], b.neutral.Pix[i], b.limit.Pix[i], b.missing(i))
	}
}
