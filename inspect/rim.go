package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// addRim widens a mask to the outermost edge around it. The strongest edge is
// not always the last one: a bare lip of metal can look much like card in the
// head's shadow, and a glossy rim reflects the card, so the coat ends at a
// strong edge and the head at a weak one a little farther out. Along rays from
// the outline the last edge is taken that stands out from what lies beyond it,
// where its neighbours agree: a shadow's fringe does not stand out, a hair does
// not agree.
//
// Lip is what was added at an end of the head, where it is more than a glossy
// rim: no coat reaches there.
func addRim(t *tones, mask *image.Gray, centre image.Point, radius float64) (wide, lip *image.Gray, err error) {
	lip = image.NewGray(mask.Rect)
	line, err := cv.Outline(mask)
	if err != nil || len(line) < 20 {
		return mask, lip, err
	}
	n := len(line)
	normals := outwardNormals(line)
	rim := max(4, 0.035*radius) // a glossy rim is that narrow
	shift := make([]float64, n)
	for k, p := range line {
		reach := rim
		dx, dy := float64(p.X-centre.X), float64(p.Y-centre.Y)
		if away := math.Hypot(dx, dy); away > 1.25*radius && dx*normals[k][0]+dy*normals[k][1] > 0.5*away {
			reach = 0.2 * radius // the end of a collar: lips of bare metal
		}
		shift[k] = lastEdge(t, p, normals[k], int(reach))
	}
	out := image.NewGray(mask.Rect)
	copy(out.Pix, mask.Pix)
	const arc = 7 // px to either side that must agree
	for k := range line {
		var near []float64
		for d := -arc; d <= arc; d++ {
			near = append(near, shift[(k+d+n)%n])
		}
		slices.Sort(near)
		far := near[arc]
		agree := 0
		for _, v := range near {
			if math.Abs(v-far) <= 2.5 {
				agree++
			}
		}
		if far <= 0 || agree < arc+1 {
			continue
		}
		for s := 0.0; s <= far; s += 0.5 {
			x, y := float64(line[k].X)+s*normals[k][0], float64(line[k].Y)+s*normals[k][1]
			for dy := 0; dy <= 1; dy++ {
				for dx := 0; dx <= 1; dx++ {
					if q := image.Pt(int(x)+dx, int(y)+dy); q.In(out.Rect) {
						i := q.Y*out.Stride + q.X
						out.Pix[i] = 255
						if far > rim && mask.Pix[i] == 0 {
							lip.Pix[i] = 255
						}
					}
				}
			}
		}
	}
	return out, lip, nil
}

// lastEdge is how far out along the normal the last edge lies that stands out,
// 0 when there is none beyond the outline itself.
func lastEdge(t *tones, p image.Point, normal [2]float64, reach int) float64 {
	const beyond = 8 // px past an edge that tell whether it stands out
	grad := make([]float64, reach+beyond+1)
	var last [3]float64
	for s := -1; s <= reach+beyond+1; s++ {
		x, y := p.X+int(math.Round(float64(s)*normal[0])), p.Y+int(math.Round(float64(s)*normal[1]))
		if x < 1 || y < 1 || x >= t.w-1 || y >= t.h-1 {
			return 0
		}
		i := y*t.w + x
		for k := range t.plane {
			v := float64(t.plane[k].Pix[i])
			if s > 0 && s <= len(grad) {
				grad[s-1] = max(grad[s-1], math.Abs(v-last[k]))
			}
			last[k] = v
		}
	}
	const least = 0.03 // log level per px: below, noise and shading
	for s := reach; s >= 2; s-- {
		g := grad[s]
		if g < least || g < grad[s-1] || g < grad[s+1] {
			continue
		}
		after := 0.0
		for _, v := range grad[s+4 : min(s+4+beyond-3, len(grad))] {
			after = max(after, v)
		}
		if g > 2.5*after {
			return float64(s)
		}
	}
	return 0
}

// outwardNormals are the unit normals of a closed line of pixels, smoothed.
func outwardNormals(line []image.Point) [][2]float64 {
	n := len(line)
	const span = 6 // px along the line that give its direction
	area := 0
	for k, p := range line {
		q := line[(k+1)%n]
		area += p.X*q.Y - q.X*p.Y
	}
	sign := 1.0
	if area < 0 {
		sign = -1
	}
	out := make([][2]float64, n)
	for k := range line {
		a, b := line[(k-span+n)%n], line[(k+span)%n]
		x, y := unit(float64(b.X-a.X), float64(b.Y-a.Y))
		out[k] = [2]float64{sign * y, -sign * x}
	}
	return out
}
