package scene

import (
	"image"
	"image/color"
	"math"

	"jigloupe/calib"
)

// Card is the grey card. It lies flat, its middle at X, Y mm from the middle of
// the frame.
type Card struct {
	Reflectance       float64 // 0 is 0.18
	WidthMM, HeightMM float64 // 0 fills the frame
	X, Y, TurnDeg     float64 // as a Piece's
}

// Flat is a printed sheet lying on the ground, such as a tag or a colour target.
type Flat struct {
	Picture       image.Image // its reflectance, encoded as sRGB
	WidthMM       float64
	X, Y, TurnDeg float64 // of its middle, as a Piece's
	// TiltDeg turns it out of the plane of the photo about its middle, so that the
	// side towards TowardDeg, as Light.AzimuthDeg, comes nearer: a plain card
	// shows no tilt, so a tilted Flat stands for a tilted card.
	TiltDeg, TowardDeg float64
	DistanceMM         float64 // of the camera, for its perspective; 0 is far away
}

// PrintedTag is a tag as toner on paper shows it, cut out with its border.
func PrintedTag(name string, sideMM float64) (Flat, error) {
	modules, err := calib.TagModules(name, sideMM)
	if err != nil {
		return Flat{}, err
	}
	m := calib.TagPicture(modules)
	for i, v := range m.Pix {
		m.Pix[i] = 60 // toner reflects 4.5 %
		if v != 0 {
			m.Pix[i] = 230 // paper 79 %
		}
	}
	return Flat{Picture: m, WidthMM: sideMM * float64(m.Rect.Dx()) / float64(len(modules))}, nil
}

// Target24 is the 24-patch target on its dark ground.
func Target24(widthMM float64) Flat { return Patches(calib.Target24(), 6, widthMM) }

// Patches are squares of flat colour on a dark ground, so many in a row. A square
// and a gap are nine dots wide, and there is a gap all around. Colours that sRGB
// cannot show are clipped to it.
func Patches(colours []calib.Lab, across int, widthMM float64) Flat {
	const square, gap = 8, 1
	down := (len(colours) + across - 1) / across
	m := image.NewNRGBA64(image.Rect(0, 0, across*(square+gap)+gap, down*(square+gap)+gap))
	paint := func(r image.Rectangle, c calib.LinearRGB) {
		dot := color.NRGBA64{encoded(c.R), encoded(c.G), encoded(c.B), 0xffff}
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.SetNRGBA64(x, y, dot)
			}
		}
	}
	paint(m.Rect, calib.LinearRGB{R: 0.04, G: 0.04, B: 0.04})
	for i, lab := range colours {
		x, y := gap+i%across*(square+gap), gap+i/across*(square+gap)
		paint(image.Rect(x, y, x+square, y+square), lab.LinearRGB())
	}
	return Flat{Picture: m, WidthMM: widthMM}
}

// encoded applies the sRGB curve of IEC 61966-2-1.
func encoded(linear float64) uint16 {
	v := min(max(linear, 0), 1)
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint16(0xffff*v + 0.5)
}

// Table is what the card lies on.
type Table string

const (
	WoodTable  Table = "wood"
	WhiteTable Table = "white"
	DarkTable  Table = "dark"
	BlueTable  Table = "blue"
)

// ground is the card and table ready for drawing.
type ground struct {
	card   *Card
	table  Table
	grey   float64
	cos    float64
	sin    float64
	seed   uint64
	flats  []Flat
	specks []speck
	perPx  float64
	around RGB // mean reflectance, for what the piece sees of it
}

// speck is a dust grain or, when long, a hair lying on the ground.
type speck struct {
	path  []vec
	r     float64 // mm
	shade float64 // reflectance
	cover float64
}

func (s *Spec) ground() *ground {
	g := &ground{card: s.Card, flats: s.Flats, table: s.Table, seed: s.Seed ^ 0x51ab, perPx: s.MMPerPx}
	if g.card != nil {
		g.grey = g.card.Reflectance
		if g.grey == 0 {
			g.grey = 0.18
		}
		g.sin, g.cos = math.Sincos(radians(g.card.TurnDeg))
	}
	g.around = g.reflectance(0, 0)
	if len(s.Pieces) > 0 {
		g.around = g.reflectance(s.Pieces[0].X, s.Pieces[0].Y)
	}
	d := dice(s.Seed + 77)
	w, h := s.sizeMM()
	for range s.Specks {
		k := speck{r: d.between(0.015, 0.06), shade: d.between(0.03, 0.6), cover: d.between(0.4, 0.9)}
		p := vec{d.between(-w/2, w/2), d.between(-h/2, h/2), 0}
		k.path = []vec{p, p.plus(d.between(0, 0.1), vec{d.between(-1, 1), d.between(-1, 1), 0})}
		g.specks = append(g.specks, k)
	}
	for range s.Hairs {
		k := speck{r: d.between(0.012, 0.025), shade: d.between(0.05, 0.5), cover: d.between(0.5, 0.9)}
		p, turn := vec{d.between(-w/2, w/2), d.between(-h/2, h/2), 0}, d.between(0, 6.28)
		bend := d.between(-0.35, 0.35)
		for range 14 {
			k.path = append(k.path, p)
			p = p.add(vec{0.25 * math.Cos(turn), 0.25 * math.Sin(turn), 0})
			turn += bend
			bend += d.between(-0.12, 0.12)
		}
		g.specks = append(g.specks, k)
	}
	return g
}

// inside is how far inside the card's edge a place is in mm, negative outside.
func (g *ground) inside(x, y float64) float64 {
	c := g.card
	if c == nil {
		return -1e9
	}
	if c.WidthMM == 0 {
		return 1e9
	}
	x, y = x-c.X, y-c.Y
	u, v := x*g.cos-y*g.sin, y*g.cos+x*g.sin
	return min(c.WidthMM/2-math.Abs(u), c.HeightMM/2-math.Abs(v))
}

// reflectance of the ground at a place, dust aside.
func (g *ground) reflectance(x, y float64) RGB {
	in := g.inside(x, y)/g.perPx + 0.5
	if in >= 1 {
		return g.cardAt(x, y)
	}
	t := g.tableAt(x, y)
	if in <= 0 {
		// the card's thickness shades the table beside it a little
		return t.scale(1 - 0.35*math.Exp(in*g.perPx/0.3))
	}
	return t.scale(0.65).mix(g.cardAt(x, y), in)
}

// cardAt is the card with its fine tooth: about 1 % RMS over a few hundredths of a mm.
func (g *ground) cardAt(x, y float64) RGB {
	v := g.grey * (1 + 0.02*grain(g.seed, vec{x, y, 0}, max(0.06, g.perPx)).x)
	return RGB{v, v, v}
}

func (g *ground) tableAt(x, y float64) RGB {
	fine := grain(g.seed, vec{x, y, 3}, max(0.08, g.perPx)).x
	switch g.table {
	case WhiteTable:
		v := 0.82 + 0.02*fine
		return RGB{v, v, v * 1.01}
	case DarkTable:
		v := 0.035 * (1 + 0.1*fine)
		return RGB{v, v, v}
	case BlueTable:
		return RGB{0.05, 0.12, 0.3}.scale(1 + 0.04*fine)
	}
	slow := grain(g.seed, vec{x * 0.06, y, 1}, 5)
	mid := grain(g.seed, vec{x * 0.1, y, 2}, 0.7)
	ring := math.Sin(2*math.Pi*(y+4*slow.x)/3.1) + 0.6*mid.x
	return RGB{0.44, 0.25, 0.12}.scale(0.9 + 0.16*ring + 0.05*fine)
}

// draw fills the frame with the ground as the light and the shadows show it.
func (g *ground) draw(f *frame, l *lamps, cast *castShadow) {
	f.eachRow(func(y int) {
		for x := range f.w {
			mx, my := f.mm(float64(x)+0.5, float64(y)+0.5)
			f.set(x, y, g.reflectance(mx, my).mul(cast.light(l, mx, my)))
		}
	})
	for _, s := range g.flats {
		s.draw(f, l, cast)
	}
	for _, s := range g.specks {
		box := image.Rectangle{}
		for _, p := range s.path {
			px, py := f.px(p)
			r := s.r/f.perPx + 2
			box = box.Union(image.Rect(int(px-r), int(py-r), int(px+r)+1, int(py+r)+1))
		}
		box = box.Intersect(image.Rect(0, 0, f.w, f.h))
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				mx, my := f.mm(float64(x)+0.5, float64(y)+0.5)
				d := 1e9
				for i := 1; i < len(s.path); i++ {
					d = min(d, segmentDistance(vec{mx, my, 0}, s.path[i-1], s.path[i]))
				}
				if cover := s.cover * clamp(0.5+(s.r-d)/f.perPx, 0, 1); cover > 0 {
					light := cast.light(l, mx, my).scale(s.shade)
					f.set(x, y, f.get(x, y).mix(light, cover))
				}
			}
		}
	}
}

// draw lays the sheet on the frame, each pixel the mean of a few places on it.
func (s *Flat) draw(f *frame, l *lamps, cast *castShadow) {
	size := s.Picture.Bounds()
	perDot := s.WidthMM / float64(size.Dx())
	reach := 1.3 * math.Hypot(float64(size.Dx()), float64(size.Dy())) * perDot / 2 // perspective widens it a little
	left, top := f.px(vec{s.X - reach, s.Y - reach, 0})
	right, bottom := f.px(vec{s.X + reach, s.Y + reach, 0})
	box := image.Rect(int(left), int(top), int(right)+1, int(bottom)+1).Intersect(image.Rect(0, 0, f.w, f.h))
	place := s.places()
	rows(box.Dy(), func(j int) {
		y := box.Min.Y + j
		for x := box.Min.X; x < box.Max.X; x++ {
			var sum RGB
			on := 0.0
			const n = 4
			for k := range n * n {
				u, v := place(f.mm(float64(x)+(float64(k%n)+0.5)/n, float64(y)+(float64(k/n)+0.5)/n))
				at := image.Pt(
					size.Min.X+int(math.Floor(u/perDot+float64(size.Dx())/2)),
					size.Min.Y+int(math.Floor(v/perDot+float64(size.Dy())/2)))
				if at.In(size) {
					r, g, b, _ := s.Picture.At(at.X, at.Y).RGBA()
					sum = sum.add(RGB{linear(r), linear(g), linear(b)})
					on++
				}
			}
			if on > 0 {
				mx, my := f.mm(float64(x)+0.5, float64(y)+0.5)
				lit := sum.scale(1 / on).mul(cast.light(l, mx, my))
				f.set(x, y, f.get(x, y).mix(lit, on/(n*n)))
			}
		}
	})
}

// places returns the map from mm in the photo to mm on the sheet, right and down
// from its middle.
func (s *Flat) places() func(mx, my float64) (u, v float64) {
	sin, cos := math.Sincos(radians(s.TurnDeg))
	st, ct := math.Sincos(radians(s.TiltDeg))
	sa, ca := math.Sincos(radians(s.TowardDeg))
	// the sheet's two directions, tilted: what of them lies along (ca, −sa) is
	// shortened and rises
	tilted := func(x, y float64) vec {
		along := x*ca - y*sa
		return vec{x + along*(ct-1)*ca, y - along*(ct-1)*sa, along * st}
	}
	a, b := tilted(cos, -sin), tilted(sin, cos)
	near := 0.0 // per mm of height, a place looks larger by this share
	if s.DistanceMM > 0 {
		near = 1 / s.DistanceMM
	}
	return func(mx, my float64) (float64, float64) {
		// mx·(1 − near·z) = X + u·a.x + v·b.x with z = u·a.z + v·b.z, and so for my
		a11, a12 := a.x+mx*near*a.z, b.x+mx*near*b.z
		a21, a22 := a.y+my*near*a.z, b.y+my*near*b.z
		dx, dy := mx-s.X, my-s.Y
		det := a11*a22 - a12*a21
		return (dx*a22 - dy*a12) / det, (dy*a11 - dx*a21) / det
	}
}

// linear undoes the sRGB curve of IEC 61966-2-1 of a 16-bit value.
func linear(v uint32) float64 {
	x := float64(v) / 0xffff
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}
