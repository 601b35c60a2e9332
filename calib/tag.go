package calib

import (
	"image"
	"math"
	"slices"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"

	"jigloupe/calib/cv"
)

// A Tag is a printed QR code (ISO/IEC 18004, version 2 to 6) found in a photo,
// made by TagModules: other codes say nothing.
type Tag struct {
	Name    string
	SideMM  float64       // of the code, as printed
	Corners [4][2]float64 // of the code in photo px, clockwise as it reads, from its top left

	modules int           // along a side
	fit     homography    // photo px to modules
	spread  [8][8]float64 // covariance of fit's first eight numbers
	cover   []bool        // per block of step photo px: hidden by the sheet the code is printed on
	step    int
	wide    int // blocks in a row of cover
}

// Covers tells whether the sheet that the tag is printed on hides the place in
// the photo, given in px.
func (t *Tag) Covers(x, y float64) bool {
	i, j := int(x)/t.step, int(y)/t.step
	return x >= 0 && y >= 0 && i < t.wide && j*t.wide+i < len(t.cover) && t.cover[j*t.wide+i]
}

// Tags finds the printed tags in the photo. Reduced is the whole photo at about
// 500 px, such as GreyCard.Reduced, nil to make it anew. Codes of 4 px a module
// and more are found from any side, tilted up to 30° (TestTagScale); photos without
// bright sheets cost next to nothing.
func (p *Photo) Tags(reduced *Linear) ([]Tag, error) {
	if reduced == nil {
		step := max(1, (max(p.Width, p.Height)+reducedSide-1)/reducedSide)
		reduced = p.Linear(image.Rect(0, 0, p.Width, p.Height), step)
	}
	labels, sheets, err := brightSheets(reduced)
	if err != nil {
		return nil, err
	}
	var tags []Tag
	for _, s := range sheets {
		b := image.Rectangle{s.Bounds.Min.Mul(reduced.Step), s.Bounds.Max.Mul(reduced.Step)}
		t, err := p.tagIn(b.Inset(-max(3, b.Dx()/12)))
		if err != nil {
			return nil, err
		}
		if t != nil && !slices.ContainsFunc(tags, func(o Tag) bool { return o.Covers(t.Corners[0][0], t.Corners[0][1]) }) {
			t.coverSheet(reduced, labels, s)
			tags = append(tags, *t)
		}
	}
	return tags, nil
}

// brightSheets are the places that are brighter than what lies around them, as
// white paper on a grey card is, and thick enough for a code; the largest first.
func brightSheets(reduced *Linear) ([]int32, []cv.Blob, error) {
	const (
		brighter = 1.35 // than the mean around; print and paper together are 2 to 3 times as bright as the card
		least    = 12   // px
		most     = 8    // sheets looked at
	)
	g := &greys{reduced.Width, reduced.Height, make([]float32, reduced.Width*reduced.Height)}
	for i := range g.pix {
		g.pix[i] = reduced.Pix[3*i+1]
	}
	bright := image.NewGray(image.Rect(0, 0, g.w, g.h))
	for i, mean := range g.means(max(g.w, g.h) / 8) {
		if g.pix[i] > brighter*mean {
			bright.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(bright)
	if err != nil {
		return nil, nil, err
	}
	blobs = slices.DeleteFunc(blobs, func(b cv.Blob) bool {
		short, long := min(b.Bounds.Dx(), b.Bounds.Dy()), max(b.Bounds.Dx(), b.Bounds.Dy())
		return short < least || long > 4*short || 8*b.Area < short*long
	})
	slices.SortStableFunc(blobs, func(a, b cv.Blob) int { return b.Area - a.Area })
	return labels, blobs[:min(most, len(blobs))], nil
}

// tagIn looks for one code in a part of the photo.
func (p *Photo) tagIn(r image.Rectangle) (*Tag, error) {
	r = r.Intersect(image.Rect(0, 0, p.Width, p.Height))
	const side = 420 // px: of 45 modules, quiet zone and name included, 9 each
	lin := p.Linear(r, max(1, min(maxStep, max(r.Dx(), r.Dy())/side)))
	g := &greys{lin.Width, lin.Height, make([]float32, lin.Width*lin.Height)}
	for i := range g.pix {
		g.pix[i] = lin.Pix[3*i] + lin.Pix[3*i+1] + lin.Pix[3*i+2]
	}
	finders, err := g.finders()
	if err != nil {
		return nil, err
	}
	for _, three := range corners(finders) {
		for _, n := range three.sides() {
			t := g.read(three, n)
			if t == nil {
				continue
			}
			t.toPhoto(float64(r.Min.X), float64(r.Min.Y), float64(lin.Step))
			return t, nil
		}
	}
	return nil, nil
}

// greys is a part of a photo as one number per pixel, in linear light.
type greys struct {
	w, h int
	pix  []float32
}

// at is the level at a place given in pixels, the middle of the first at 0.5.
func (g *greys) at(x, y float64) float64 {
	x, y = min(max(x-0.5, 0), float64(g.w)-1.001), min(max(y-0.5, 0), float64(g.h)-1.001)
	i, j := int(x), int(y)
	u, v := x-float64(i), y-float64(j)
	k := j*g.w + i
	right, down := min(i+1, g.w-1)-i, (min(j+1, g.h-1)-j)*g.w
	return (1-v)*((1-u)*float64(g.pix[k])+u*float64(g.pix[k+right])) +
		v*((1-u)*float64(g.pix[k+down])+u*float64(g.pix[k+down+right]))
}

// A finder is one of the three rings with a filled square in them that mark a
// code's corners, named as in ISO/IEC 18004.
type finder struct {
	x, y float64 // its middle
	size float64 // side of the ring's upright box, px
}

// finders are dark rings with a dark core three sevenths their size.
func (g *greys) finders() ([]finder, error) {
	dark := image.NewGray(image.Rect(0, 0, g.w, g.h))
	around := g.means(max(g.w, g.h) / 9)
	for i, v := range g.pix {
		if v < 0.8*around[i] {
			dark.Pix[i] = 255
		}
	}
	_, blobs, err := cv.Runs(dark)
	if err != nil {
		return nil, err
	}
	blobs = slices.DeleteFunc(blobs, func(b cv.Blob) bool {
		w, h := b.Bounds.Dx(), b.Bounds.Dy()
		return b.Area < 5 || w > 2*h || h > 2*w
	})
	if len(blobs) > 2000 {
		return nil, nil // wood or cloth
	}
	var found []finder
	for _, ring := range blobs {
		size := float64(ring.Bounds.Dx()+ring.Bounds.Dy()) / 2
		for _, core := range blobs {
			inner := float64(core.Bounds.Dx()+core.Bounds.Dy()) / 2 / size
			area := float64(core.Area) / float64(ring.Area) // 9 of 24 modules
			if inner > 0.28 && inner < 0.6 && area > 0.15 && area < 0.9 && core.Bounds.In(ring.Bounds) &&
				math.Hypot(core.X-ring.X, core.Y-ring.Y) < size/10 {
				found = append(found, finder{core.X + 0.5, core.Y + 0.5, size})
			}
		}
	}
	return found, nil
}

// means is the mean level within reach of each pixel.
func (g *greys) means(reach int) []float32 {
	sum := make([]float64, (g.w+1)*(g.h+1))
	for y := range g.h {
		row := 0.0
		for x := range g.w {
			row += float64(g.pix[y*g.w+x])
			sum[(y+1)*(g.w+1)+x+1] = sum[y*(g.w+1)+x+1] + row
		}
	}
	out := make([]float32, g.w*g.h)
	for y := range g.h {
		y0, y1 := max(0, y-reach), min(g.h, y+reach+1)
		for x := range g.w {
			x0, x1 := max(0, x-reach), min(g.w, x+reach+1)
			out[y*g.w+x] = float32((sum[y1*(g.w+1)+x1] - sum[y0*(g.w+1)+x1] - sum[y1*(g.w+1)+x0] + sum[y0*(g.w+1)+x0]) / float64((x1-x0)*(y1-y0)))
		}
	}
	return out
}

// three are the finders at a code's top left, top right and bottom left.
type three [3]finder

// corners picks from the finders those that can be the corners of a code.
func corners(finders []finder) []three {
	var out []three
	for i, a := range finders {
		for j, b := range finders {
			for k, c := range finders {
				if i == j || j == k || i == k {
					continue
				}
				bx, by, cx, cy := b.x-a.x, b.y-a.y, c.x-a.x, c.y-a.y
				lb, lc := math.Hypot(bx, by), math.Hypot(cx, cy)
				small, large := min(a.size, b.size, c.size), max(a.size, b.size, c.size)
				if large > 1.5*small || max(lb, lc) > 1.5*min(lb, lc) || min(lb, lc) < 1.2*small ||
					bx*cy-by*cx < 0.8*lb*lc { // turned the right way, and near a right angle
					continue
				}
				out = append(out, three{a, b, c})
			}
		}
		if len(out) > 20 {
			break
		}
	}
	return out
}

// sides are the numbers of modules a side can have, the likeliest first.
func (t three) sides() []int {
	bx, by, cx, cy := t[1].x-t[0].x, t[1].y-t[0].y, t[2].x-t[0].x, t[2].y-t[0].y
	lb, lc := math.Hypot(bx, by), math.Hypot(cx, cy)
	size := (t[0].size + t[1].size + t[2].size) / 3
	module := size / 7 / ((math.Abs(bx) + math.Abs(by)) / lb) // a turned square has a larger upright box
	n := (lb+lc)/2/module + 7
	likeliest := 17 + 4*int(math.Round((n-17)/4))
	var out []int
	for _, d := range []int{0, 4, -4} {
		if s := likeliest + d; s >= 25 && s <= 41 {
			out = append(out, s)
		}
	}
	return out
}

// read samples and decodes the code with n modules a side, nil when there is none.
func (g *greys) read(t three, n int) *Tag {
	far := float64(n) - 3.5
	x4, y4 := g.alignment(t, n)
	at := float64(n) - 6.5
	fit, ok := throughFour(
		[4][2]float64{{t[0].x, t[0].y}, {t[1].x, t[1].y}, {t[2].x, t[2].y}, {x4, y4}},
		[4][2]float64{{3.5, 3.5}, {far, 3.5}, {3.5, far}, {at, at}})
	if !ok {
		return nil
	}
	bits, ok := g.sample(fit, n)
	if !ok {
		return nil
	}
	tag := &Tag{modules: n}
	text, ok := textOf(bits)
	if !ok {
		return nil
	}
	if tag.Name, tag.SideMM, ok = readTag(text); !ok {
		return nil
	}
	for range 3 {
		if fit, tag.spread, ok = g.refine(fit, bits); !ok {
			return nil
		}
	}
	tag.fit = fit
	return tag
}

// alignment finds the small ring near the code's fourth corner: black around
// white around black, five modules wide.
func (g *greys) alignment(t three, n int) (x, y float64) {
	span := float64(n) - 7
	ux, uy := (t[1].x-t[0].x)/span, (t[1].y-t[0].y)/span // a module to the right
	vx, vy := (t[2].x-t[0].x)/span, (t[2].y-t[0].y)/span // and down
	score := func(u, v float64) float64 {
		s := 0.0
		for j := -2; j <= 2; j++ {
			for i := -2; i <= 2; i++ {
				level := 0.0
				for k := range 4 { // near its corners, so that the best place is not anywhere within a module
					a, b := u+float64(i)+0.7*float64(k%2)-0.35, v+float64(j)+0.7*float64(k/2)-0.35
					level += g.at(t[0].x+a*ux+b*vx, t[0].y+a*uy+b*vy) / 4
				}
				switch max(i, -i, j, -j) {
				case 0:
					s -= 4 * level // one black module against eight white and sixteen black
				case 1:
					s += 2.5 * level
				default:
					s -= level
				}
			}
		}
		return s
	}
	u, v := span-3, span-3
	for _, grid := range []struct{ reach, step float64 }{{1.75, 0.25}, {0.2, 0.05}} {
		best, bu, bv := math.Inf(-1), u, v
		for du := -grid.reach; du <= grid.reach; du += grid.step {
			for dv := -grid.reach; dv <= grid.reach; dv += grid.step {
				if s := score(u+du, v+dv); s > best {
					best, bu, bv = s, u+du, v+dv
				}
			}
		}
		u, v = bu, bv
	}
	return t[0].x + u*ux + v*vx, t[0].y + u*uy + v*vy
}

// sample reads the modules, true where dark: darker than the middle between the
// extremes around.
func (g *greys) sample(fit homography, n int) ([][]bool, bool) {
	back, ok := fit.inverse()
	if !ok {
		return nil, false
	}
	level := make([]float64, n*n)
	for j := range n {
		for i := range n {
			for k := range 9 {
				x, y := back.apply(float64(i)+0.5+0.2*float64(k%3-1), float64(j)+0.5+0.2*float64(k/3-1))
				level[j*n+i] += g.at(x, y) / 9
			}
		}
	}
	bits := make([][]bool, n)
	for j := range n {
		bits[j] = make([]bool, n)
		for i := range n {
			lo, hi := math.Inf(1), math.Inf(-1)
			for b := max(0, j-4); b < min(n, j+5); b++ {
				for a := max(0, i-4); a < min(n, i+5); a++ {
					lo, hi = min(lo, level[b*n+a]), max(hi, level[b*n+a])
				}
			}
			bits[j][i] = level[j*n+i] < (lo+hi)/2
		}
	}
	return bits, true
}

// textOf reads the text of a code, corrected for wrong modules.
func textOf(bits [][]bool) (string, bool) {
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_CHARACTER_SET: "UTF-8"}
	r, err := decoder.NewDecoder().DecodeBoolMap(bits, hints)
	if err != nil {
		return "", false
	}
	return r.GetText(), true
}
