package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// shape is the segmented piece in the pixels of its patch.
type shape struct {
	w, h   int
	head   *image.Gray // the painted head with its collar
	lip    *image.Gray // part of the head beyond the end of its coat
	wire   *image.Gray // hook and eye beside the head
	depth  cv.Plane    // distance to the outline of the head, px, inside the head
	clear  cv.Plane    // distance to the wire that comes out of the head, px, as far as wireClear
	centre image.Point // of the largest circle inside the head
	radius float64     // of that circle, px
	gauge  float64     // half the thickness of the wire, px
	wired  bool        // the gauge was measured: there is wire in view
	apart  *cv.Blob    // see partApart
}

// splitHead parts the head from wire and eye: the head is what a disc thicker
// than the wire can reach (morphological opening), with its sharp corners.
//
// An eye in front of the head can be a hole in the piece, and the head then seem
// smaller than it is: it is filled and the head split again. So is bare metal that
// looks like card in shadow: what is left beside it may be as thin as wire.
func splitHead(t *tones, edge cv.Plane, piece solid) (*shape, error) {
	s, err := splitSolid(t, edge, piece)
	if err != nil {
		return nil, err
	}
	filled, err := s.fillGaps(t, piece.mask)
	if err != nil || !filled && float64(slices.Max(s.depth.Pix)) < 1.05*s.radius {
		return s, err
	}
	for i, v := range s.head.Pix {
		piece.mask.Pix[i] |= v
	}
	if piece, err = solidOf(piece.mask); err != nil {
		return nil, err
	}
	return splitSolid(t, edge, piece)
}

// solid is a piece with the largest circle in it.
type solid struct {
	mask   *image.Gray
	depth  cv.Plane // distance to its outline, px
	peak   int      // pixel in the circle's middle
	radius float64  // px
}

func solidOf(mask *image.Gray) (s solid, err error) {
	s.mask = mask
	if s.depth, err = cv.Distance(mask); err != nil {
		return s, err
	}
	for i, d := range s.depth.Pix {
		if d > s.depth.Pix[s.peak] {
			s.peak = i
		}
	}
	if s.radius = float64(s.depth.Pix[s.peak]); s.radius > float64(max(s.depth.Width, s.depth.Height)) {
		return s, errNoPiece // all is piece, and has no outline to be any way from
	}
	return s, nil
}

// splitSolid splits a piece that no eye makes a hole in.
func splitSolid(t *tones, edge cv.Plane, solid solid) (*shape, error) {
	s := &shape{w: t.w, h: t.h, centre: image.Pt(solid.peak%t.w, solid.peak/t.w), radius: solid.radius}
	piece := solid.mask
	var err error
	if s.wire, err = wireMask(t, edge, piece, s.radius); err != nil {
		return nil, err
	}
	if s.gauge, s.wired, err = wireGauge(s.wire, solid.depth, s.radius); err != nil {
		return nil, err
	}
	if piece, s.lip, err = addRim(t, piece, s.centre, s.radius); err != nil {
		return nil, err
	}
	if s.head, err = s.thick(t, edge, piece, solid.peak); err != nil {
		return nil, err
	}
	if s.head, err = fillHoles(s.head); err != nil {
		return nil, err
	}
	s.offHook()
	for i, p := range piece.Pix {
		s.wire.Pix[i] = (s.wire.Pix[i] | p) &^ s.head.Pix[i]
	}
	if err = s.rejoin(t); err != nil {
		return nil, err
	}
	thin := image.NewGray(piece.Rect)
	for i, p := range piece.Pix {
		thin.Pix[i] = p &^ s.head.Pix[i]
	}
	runs, blobs, err := cv.Runs(thin)
	if err != nil {
		return nil, err
	}
	for i := range thin.Pix {
		thin.Pix[i] = 255
	}
	for _, r := range runs {
		if s.long(blobs[r.Label-1]) {
			r.Fill(thin, 0)
		}
	}
	if s.clear, err = cv.Near(thin, wireClear*s.gauge+1); err != nil {
		return nil, err
	}
	if s.apart, err = s.partApart(t); err != nil {
		return nil, err
	}
	s.depth, err = cv.Distance(s.head)
	return s, err
}

// discRadius is that of the disc that tells head from wire: it is thicker than wire.
func (s *shape) discRadius() float64 {
	return min(max(1.35*s.gauge+1, 0.14*s.radius), 0.45*s.radius)
}

// long tells whether a thin part is as large as a piece of hook or an eye; tips
// of lips and lumps are smaller.
func (s *shape) long(b cv.Blob) bool { return float64(b.Area) > 20*s.gauge*s.gauge }

// thick is what a disc thicker than the wire reaches in a piece and all that is
// stuck to it: corners and lips that the disc is too round for, and lumps. From
// where the wire comes out, the strongest edge parts the two.
func (s *shape) thick(t *tones, edge cv.Plane, piece *image.Gray, seed int) (*image.Gray, error) {
	radius := s.discRadius()
	dist, err := cv.Distance(piece)
	if err != nil {
		return nil, err
	}
	reach, err := fromCore(dist, radius, seed)
	if err != nil {
		return nil, err
	}
	thin := image.NewGray(piece.Rect)
	for i, d := range reach.Pix {
		if piece.Pix[i] != 0 && float64(d) > corner*radius {
			thin.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(thin)
	if err != nil {
		return nil, err
	}
	wire := func(i int) bool { return labels[i] > 0 && s.long(blobs[labels[i]-1]) }
	marks := make([]uint8, len(reach.Pix))
	offWire := image.NewGray(piece.Rect)
	for i, d := range reach.Pix {
		offWire.Pix[i] = 255
		switch {
		case wire(i):
			marks[i], offWire.Pix[i] = wireMark, 0
		case piece.Pix[i] == 0:
			marks[i] = cardMark
		case float64(d) <= 0.9*radius:
			marks[i] = pieceMark
		}
	}
	const aside = 0.35 // radii from the wire to its sides
	beside, err := cv.Near(offWire, aside*radius+1)
	if err != nil {
		return nil, err
	}
	own := s.coatLike(t, labels, blobs, reach, radius)
	head := image.NewGray(piece.Rect)
	for i, l := range flood(edge, marks) {
		d := float64(reach.Pix[i])
		switch {
		case wire(i), l == wireMark && float64(beside.Pix[i]) <= aside*radius: // the wire goes on straight: to its sides are lips
		case piece.Pix[i] != 0 && (d <= corner*radius || own[labels[i]]):
			head.Pix[i] = 255
		}
	}
	return blobAt(head, s.centre)
}

// corner is how far from its centre, in radii, a disc's part of a head reaches: a
// right angle reaches √2.
const corner = 1.2

// coatLike tells of each small part beyond the reach of the disc whether it has
// the colour of the head beside it: a lump or a lip, and not the part of an eye
// that shows behind the head.
func (s *shape) coatLike(t *tones, labels []int32, blobs []cv.Blob, reach cv.Plane, radius float64) []bool {
	const sameHue, lighter = 0.5, 1.2 // log ratios: a lump faces another way than the rim it stands on
	beside := int(0.4*radius) + 1
	var there, here [3][][]float32
	for k := range there {
		there[k], here[k] = make([][]float32, len(blobs)+1), make([][]float32, len(blobs)+1)
	}
	for i, l := range labels {
		if l == 0 || float64(blobs[l-1].Area) > 6*s.gauge*s.gauge {
			continue
		}
		for k := range there {
			there[k][l] = append(there[k][l], t.plane[k].Pix[i])
		}
		for _, j := range [4]int{i - beside, i + beside, i - beside*s.w, i + beside*s.w} {
			if j >= 0 && j < len(labels) && labels[j] == 0 && reach.Pix[j] > 0 && float64(reach.Pix[j]) <= radius {
				for k := range here {
					here[k][l] = append(here[k][l], t.plane[k].Pix[j])
				}
			}
		}
	}
	out := make([]bool, len(blobs)+1)
	for l := range out {
		if len(here[0][l]) == 0 {
			continue
		}
		var d [3]float64
		for k := range d {
			d[k] = float64(nth(there[k][l], len(there[k][l])/2) - nth(here[k][l], len(here[k][l])/2))
		}
		out[l] = math.Hypot(d[0]-d[1], d[2]-d[1]) < sameHue && math.Abs(d[1]) < lighter
	}
	return out
}

// wireGauge estimates half the thickness of the wire: the ridges of the
// distance map over all thin parts, whose height is one and the same along hook
// and eye. Without wire in view it is taken as common practice has it, no
// source.
func wireGauge(wire *image.Gray, piece cv.Plane, radius float64) (gauge float64, seen bool, err error) {
	dist, err := cv.Distance(wire)
	if err != nil {
		return 0, false, err
	}
	least := float32(max(2, 0.03*radius)) // below are the fringes of shadows
	var ridge []float64
	for _, p := range [2]cv.Plane{dist, piece} {
		w, h := p.Width, p.Height
		for y := 1; y < h-1; y++ {
			for x := 1; x < w-1; x++ {
				i := y*w + x
				d := p.Pix[i]
				if d < least || float64(d) > 0.25*radius {
					continue
				}
				if d >= p.Pix[i-1] && d >= p.Pix[i+1] && d >= p.Pix[i-w] && d >= p.Pix[i+w] {
					ridge = append(ridge, float64(d))
				}
			}
		}
	}
	if len(ridge) < 10 {
		return 0.12 * radius, false, nil
	}
	slices.Sort(ridge)
	return ridge[len(ridge)*2/3], true, nil
}

// opening keeps what a disc of the given radius reaches inside a mask with the
// given distance map, in the part connected to pixel seed.
func opening(dist cv.Plane, radius float64, seed int) (*image.Gray, error) {
	reach, err := fromCore(dist, radius, seed)
	if err != nil {
		return nil, err
	}
	out := image.NewGray(image.Rect(0, 0, dist.Width, dist.Height))
	for i, d := range reach.Pix {
		if dist.Pix[i] > 0 && float64(d) <= radius {
			out.Pix[i] = 255
		}
	}
	return out, nil
}

// fromCore is how far each pixel is from where the middle of a disc of the given
// radius can be inside a mask with the given distance map, in the part connected
// to pixel seed; beyond a corner's reach it is only known to be more.
func fromCore(dist cv.Plane, radius float64, seed int) (cv.Plane, error) {
	m := image.NewGray(image.Rect(0, 0, dist.Width, dist.Height))
	for i, d := range dist.Pix {
		if float64(d) > radius {
			m.Pix[i] = 255
		}
	}
	runs, _, err := cv.Runs(m)
	if err != nil {
		return cv.Plane{}, err
	}
	core := int32(0)
	for _, r := range runs {
		if int(r.At) <= seed && seed < int(r.At+r.Len) {
			core = r.Label
		}
	}
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	for _, r := range runs {
		if r.Label == core {
			r.Fill(m, 0)
		}
	}
	return cv.Near(m, corner*radius+1)
}

// blobAt returns the connected part of the mask at or nearest to a point, nil
// when the mask is empty.
func blobAt(mask *image.Gray, near image.Point) (*image.Gray, error) {
	runs, blobs, err := cv.Runs(mask)
	if err != nil || len(blobs) == 0 {
		return nil, err
	}
	w := mask.Rect.Dx()
	best, bestD := int32(0), math.MaxInt
	for _, r := range runs {
		x, y := int(r.At)%w, int(r.At)/w
		dx, dy := min(max(near.X, x), x+int(r.Len)-1)-near.X, y-near.Y
		if d := dx*dx + dy*dy; d < bestD {
			best, bestD = r.Label, d
		}
	}
	out := image.NewGray(mask.Rect)
	for _, r := range runs {
		if r.Label == best {
			r.Fill(out, 255)
		}
	}
	return out, nil
}

// fillHoles closes every gap that does not reach the border of the picture.
func fillHoles(mask *image.Gray) (*image.Gray, error) {
	inv := image.NewGray(mask.Rect)
	for i, v := range mask.Pix {
		inv.Pix[i] = 255 - v
	}
	runs, blobs, err := cv.Runs(inv)
	if err != nil {
		return nil, err
	}
	edge := make([]bool, len(blobs)+1)
	for _, b := range blobs {
		edge[b.Label] = b.Bounds.Min.X == 0 || b.Bounds.Min.Y == 0 || b.Bounds.Max.X == mask.Rect.Dx() || b.Bounds.Max.Y == mask.Rect.Dy()
	}
	out := inv
	for i := range out.Pix {
		out.Pix[i] = 255
	}
	for _, r := range runs {
		if edge[r.Label] {
			r.Fill(out, 0)
		}
	}
	return out, nil
}
