package inspect

import (
	"math"

	"jigloupe/calib/cv"
)

// A band of a picture is rows of places, side by side, over which an edge is followed:
// how strong edges are there.
type band [][]float32

// bandOf reads a band from coherent edges; at is where a place of a row is.
func bandOf(edge cv.Plane, rows, places int, at func(row, place int) (x, y float64)) band {
	b := make(band, rows)
	for k := range b {
		b[k] = make([]float32, places)
		for r := range b[k] {
			fx, fy := at(k, r)
			if x, y := int(math.Round(fx)), int(math.Round(fy)); x >= 0 && y >= 0 && x < edge.Width && y < edge.Height {
				b[k][r] = edge.Pix[y*edge.Width+x]
			}
		}
	}
	return b
}

// follow is the line of least cost through the rows, a place in each, which costs the
// less the stronger the edges along it are; longer is by how much a line is that goes
// from a place to one in the next row, aside by no more than turn, than one that goes straight.
// It is found by dynamic programming.
func (b band) follow(longer func(place, aside int) float64) []int {
	const turn = 3         // places a row: as much as a line drawn three times as long as wide needs
	const strongest = 0.02 // cost of the strongest edge, 1 without any: it keeps a line short
	places := len(b[0])
	by := make([][turn + 1]float32, places)
	for r := range by {
		for d := range by[r] {
			by[r][d] = float32(longer(r, d))
		}
	}
	sum, next := make([]float32, places), make([]float32, places)
	from := make([][]int16, len(b))
	for k, row := range b {
		from[k] = make([]int16, places)
		for r, strength := range row {
			cost := strongest + (1-strongest)/(1+strength*strength/4)
			best, least := 0, float32(math.Inf(1))
			for d := max(0, r-turn); d <= min(places-1, r+turn); d++ {
				if s := sum[d] + cost*by[r][max(d-r, r-d)]; s < least {
					best, least = d, s
				}
			}
			next[r], from[k][r] = least, int16(best)
		}
		sum, next = next, sum
	}
	r := 0
	for d := range sum {
		if sum[d] < sum[r] {
			r = d
		}
	}
	line := make([]int, len(b))
	for k := len(b) - 1; k >= 0; k-- {
		line[k] = r
		r = int(from[k][r])
	}
	return line
}
