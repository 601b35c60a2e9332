package inspect

import (
	"math"
	"slices"
)

// offHook takes from the head a hook that is seen end on: its shank and its point lie side
// by side and are wider than wire is, so they passed for head. They go on from a step in
// the head's width, away from its middle, for a radius and more, and for three times their
// own width and more. Of 578 drawn heads, collars and tips do for 1.9 at most; five hooks
// that passed for head did for 4.2 and more.
func (s *shape) offHook() {
	const (
		long   = 3   // widths
		step   = 1.2 // times as wide before it as behind it
		astray = 0.1 // of the band, wider: the shadow beside it
	)
	bin := max(2, 0.04*s.radius) // px along the band that its width is taken over
	x, y := float64(s.centre.X), float64(s.centre.Y)
	far, dx, dy := 0.0, 0.0, 0.0
	for i, v := range s.head.Pix {
		if v == 0 {
			continue
		}
		if u, w := float64(i%s.w)-x, float64(i/s.w)-y; u*u+w*w > far*far {
			far, dx, dy = math.Hypot(u, w), u, w
		}
	}
	if far <= s.radius {
		return
	}
	at := func(i int) int { return int(math.Floor(((float64(i%s.w)-x)*dx + (float64(i/s.w)-y)*dy) / far / bin)) }
	widths := make([]float64, int(far/bin)+1)
	for i, v := range s.head.Pix {
		if v == 0 {
			continue
		}
		if k := at(i); k >= 0 && k < len(widths) {
			widths[k] += 1 / bin
		}
	}
	for k := len(widths) - 4; k > int(0.5*s.radius/bin); k-- { // the last step: of hook and collar together the first is the collar's
		band := slices.Clone(widths[k+1:])
		slices.Sort(band)
		width := band[int((1-astray)*float64(len(band)))]
		if before := (widths[k-1] + widths[k]) / 2; before < step*width || float64(len(band))*bin < max(long*width, s.radius) {
			continue
		}
		for k+1 < len(widths) && widths[k+1] > (1+astray)*width {
			k++
		}
		for i, v := range s.head.Pix {
			if v != 0 && at(i) > k {
				s.head.Pix[i], s.lip.Pix[i] = 0, 0
			}
		}
		s.gauge = max(s.gauge, band[len(band)/2]/4) // of two wires at most
		return
	}
}
