//go:build gocv_specific_modules

package cv

import (
	"encoding/binary"
	"fmt"
	"image"
	"math"
	"runtime"
	"sync"

	"gocv.io/x/gocv"
)

// What is known of a pixel before a picture is parted.
const (
	Unknown = 0
	Inside  = 1 // surely
	Outside = 2
)

// A Parting parts a picture of three 8-bit features per pixel in two, so that either
// side is alike in itself and the line between them is short and runs along
// edges (C. Rother, V. Kolmogorov and A. Blake, "GrabCut", ACM Trans. Graph.
// 23(3), 309–314, 2004, doi:10.1145/1015706.1015720). It does what OpenCV's grabCut
// does, in less time: pixels whose side is known have no part in the search for the
// line, and each search goes on from where the last one ended.
type Parting struct {
	w, h    int
	colours []vector // that occur
	colour  []int32  // of each pixel, which of them
	known   []uint8
	line    *minCut
}

// NewParting takes the features, row by row, and what is known of each pixel.
func NewParting(features []uint8, known *image.Gray) *Parting {
	p := &Parting{w: known.Rect.Dx(), h: known.Rect.Dy(), known: known.Pix, colour: make([]int32, len(known.Pix))}
	index := map[[3]uint8]int32{}
	for i := range p.colour {
		f := [3]uint8(features[3*i:])
		k, met := index[f]
		if !met {
			k = int32(len(p.colours))
			index[f] = k
			p.colours = append(p.colours, vector{float64(f[0]), float64(f[1]), float64(f[2])})
		}
		p.colour[i] = k
	}
	p.line = newMinCut(p.w, p.h)
	p.tie()
	return p
}

// smoothness is γ of the paper, which found it by trying: what a border of one pixel
// costs between two that are alike, against the logarithm of how likely a colour is.
const smoothness = 50

// tie links neighbouring pixels, the closer the more they are alike.
func (p *Parting) tie() {
	unlike := 0.0
	p.pairs(func(_, _, _ int, square float64) { unlike += square })
	beta := 0.0
	if n := 4*p.w*p.h - 3*p.w - 3*p.h + 2; unlike > 0 {
		beta = 1 / (2 * unlike / float64(n))
	}
	pull := [3]float64{Inside: 1, Outside: -1}
	p.pairs(func(i, j, d int, square float64) {
		tie := smoothness * math.Exp(-beta*square)
		if d == upLeft || d == upRight {
			tie /= math.Sqrt2
		}
		switch a, b := p.known[i], p.known[j]; {
		case a == Unknown && b == Unknown:
			p.line.link(i, d, tie)
		case a == Unknown:
			p.line.pull(i, pull[b]*tie)
		case b == Unknown:
			p.line.pull(j, pull[a]*tie)
		}
	})
}

// pairs calls do for each pixel and each neighbour before it, with the direction to that
// one and the square of the distance between their colours.
func (p *Parting) pairs(do func(i, j, direction int, square float64)) {
	for i := range p.colour {
		x, y := i%p.w, i/p.w
		c := p.colours[p.colour[i]]
		for _, d := range [4]int{left, upLeft, up, upRight} {
			u, v := x+steps[d].X, y+steps[d].Y
			if u < 0 || u >= p.w || v < 0 {
				continue
			}
			j := v*p.w + u
			to := p.colours[p.colour[j]]
			r, g, b := c[0]-to[0], c[1]-to[1], c[2]-to[2]
			do(i, j, d, r*r+g*g+b*b)
		}
	}
}

// Cut parts the picture. Perhaps tells which of the pixels that are not known may be
// inside. There must be some of either side. Seed casts the dice by which what is alike
// is first grouped.
func (p *Parting) Cut(perhaps []bool, rounds, seed int) (*image.Gray, error) {
	in := make([]bool, len(p.known))
	for i, known := range p.known {
		in[i] = known == Inside || known == Unknown && perhaps[i]
	}
	group, err := p.groups(in, seed)
	if err != nil {
		return nil, err
	}
	sides := [2]*mixture{{}, {}}
	for i, k := range p.colour {
		sides[side(in[i])].add(group[i], p.colours[k], 1)
	}
	drawn := make([]float64, len(p.colours))
	for range rounds {
		sides = p.learn(in, sides)
		for k, c := range p.colours {
			drawn[k] = sides[1].log(c) - sides[0].log(c)
		}
		for i, known := range p.known {
			if known == Unknown {
				p.line.set(i, drawn[p.colour[i]])
			}
		}
		p.line.find()
		for i, known := range p.known {
			if known == Unknown {
				in[i] = p.line.inside(i)
			}
		}
	}
	out := image.NewGray(image.Rect(0, 0, p.w, p.h))
	for i, v := range in {
		if v {
			out.Pix[i] = 255
		}
	}
	return out, nil
}

// side is 1 inside and 0 outside.
func side(in bool) int {
	if in {
		return 1
	}
	return 0
}

// learn learns the colours of both sides, each in the groups of a mixture for it.
func (p *Parting) learn(in []bool, old [2]*mixture) [2]*mixture {
	var sides [2]*mixture
	for s := range sides {
		old[s].learn()
		n := make([]int, len(p.colours))
		for i, k := range p.colour {
			if side(in[i]) == s {
				n[k]++
			}
		}
		sides[s] = &mixture{}
		for k, n := range n {
			if n > 0 {
				sides[s].add(old[s].likeliest(p.colours[k]), p.colours[k], n)
			}
		}
		sides[s].learn()
	}
	return sides
}

// tenRounds ends the grouping. OpenCV never frees one, so there is one for all.
var tenRounds = sync.OnceValue(func() gocv.TermCriteria { return gocv.NewTermCriteria(gocv.MaxIter, 10, 0) })

// groups groups what is alike on each side.
func (p *Parting) groups(in []bool, seed int) ([]uint8, error) {
	// OpenCV's dice belong to the thread and start where the last call left them
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	gocv.SetRNGSeed(seed)
	group := make([]uint8, len(in))
	for s := range 2 {
		if err := p.groupsOf(in, s, group); err != nil {
			return nil, fmt.Errorf("cut: %w", err)
		}
	}
	return group, nil
}

// groupsOf groups those on one side.
func (p *Parting) groupsOf(in []bool, s int, group []uint8) error {
	colours := NewPlane(3, len(in))
	n := 0
	for i, k := range p.colour {
		if side(in[i]) == s {
			c := p.colours[k]
			colours.Pix[3*n], colours.Pix[3*n+1], colours.Pix[3*n+2] = float32(c[0]), float32(c[1]), float32(c[2])
			n++
		}
	}
	if n == 1 { // of a single row OpenCV groups the columns
		return nil
	}
	colours.Height, colours.Pix = n, colours.Pix[:3*n]
	data, err := colours.mat()
	if err != nil {
		return err
	}
	defer data.Close()
	labels, centres := gocv.NewMat(), gocv.NewMat()
	defer labels.Close()
	defer centres.Close()
	const spreadCentres gocv.KMeansFlags = 2 // KMEANS_PP_CENTERS; gocv has the names of 1 and 2 exchanged
	gocv.KMeans(data, min(groupsOfSide, n), &labels, tenRounds(), 1, spreadCentres, &centres)
	of := labels.ToBytes()
	if len(of) != 4*n {
		return ErrEmpty
	}
	k := 0
	for i := range group {
		if side(in[i]) == s {
			group[i] = uint8(binary.NativeEndian.Uint32(of[4*k:]))
			k++
		}
	}
	return nil
}
