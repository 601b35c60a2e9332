package scene

import (
	"image"
	"math"
)

// The classes of Truth.Mask.
const (
	ClassGround  = 0 // card or table
	ClassPainted = 1 // head and collar
	ClassBare    = 2 // head and collar where the coat hides less than half
	ClassWire    = 3 // hook, eye and the film in a blocked eye
)

// Truth is what is really in a photo. Places are in px from the top left corner
// of the photo, pixel centres at half numbers.
type Truth struct {
	Usable      bool        `json:"usable"`
	Defect      string      `json:"defect"` // why not; "" when usable
	MMPerPx     float64     `json:"mm_per_px"`
	Mask        *image.Gray `json:"-"` // a class per pixel, of what its centre shows
	HeadBox     [4]int      `json:"head_bbox"`
	HeadAreaPx  int         `json:"head_area_px"`
	HeadAreaMM2 float64     `json:"head_area_mm2"`
	BareAreaPct float64     `json:"bare_area_pct"` // of the visible head
	BareSpots   []BareSpot  `json:"bare_spots"`
	Relief      []Mark      `json:"relief"`
	OutlineMM   float64     `json:"outline_mm"` // farthest the outline stands out of the plain casting's
	Eyes        []Eye       `json:"eyes"`       // one per piece with a wire
	// paint on the wire beyond the collar and from the hook's point, of the last piece
	ShankPaintMM float64 `json:"shank_paint_mm"`
	PointPaintMM float64 `json:"point_paint_mm"`

	// Box is the head's box; the fields below cover it, row by row.
	Box image.Rectangle `json:"-"`
	// ViewingDeg is the angle between the plain casting's normal and the line
	// of sight, NaN off the head.
	ViewingDeg []float32 `json:"-"`
	// Body and Glare add up to what the camera sees of the head, as reflectance
	// factors in linear sRGB against a perfect diffuser lying on the open card at
	// that place: before blur, noise and the camera's curves. Glare is what the
	// clear top mirrors.
	Body, Glare []RGB     `json:"-"`
	Opacity     []float32 `json:"-"` // of the coat, NaN off the head
}

// BareSpot is a connected part of the bare head as the photo shows it.
type BareSpot struct {
	X          float64 `json:"x"`
	Y          float64 `json:"y"`
	AreaPx     int     `json:"area_px"`
	AreaMM2    float64 `json:"area_mm2"`
	DiameterMM float64 `json:"diameter_mm"` // of the circle of equal area
	Opacity    float64 `json:"opacity"`     // the least
	Where      string  `json:"where"`       // edge or face
	Shows      string  `json:"shows"`       // metal, white base or black base
}

// Mark is a Relief as the photo shows it.
type Mark struct {
	Kind      Kind    `json:"kind"`
	X         float64 `json:"x"`
	Y         float64 `json:"y"`
	WidthMM   float64 `json:"width_mm"`
	HeightMM  float64 `json:"height_mm"`
	OutlineMM float64 `json:"outline_mm"` // how far it stands out of the outline; 0 when it does not reach it
	Visible   bool    `json:"visible"`    // its middle faces the camera and nothing hides it, or it stands out of the outline
}

// Eye is the line-tie eye as the photo shows it.
type Eye struct {
	State    string  `json:"eye"` // open, partly or blocked
	OpenPart float64 `json:"open_part"`
	Visible  bool    `json:"visible"` // the photo shows into the hole
	X        float64 `json:"x"`
	Y        float64 `json:"y"`
	HoleMM   float64 `json:"hole_mm"`
}

func newTruth(s *Spec) Truth {
	return Truth{MMPerPx: s.MMPerPx, Mask: image.NewGray(image.Rect(0, 0, s.Width, s.Height))}
}

// At is where in the fields of Box a pixel is, −1 outside.
func (t *Truth) At(x, y int) int {
	if !(image.Point{X: x, Y: y}).In(t.Box) {
		return -1
	}
	return (y-t.Box.Min.Y)*t.Box.Dx() + x - t.Box.Min.X
}

// record takes over what one piece's drawing found.
func (t *Truth) record(d *drawing) {
	var head image.Rectangle
	wide := d.box.Dx()
	for k, c := range d.dots {
		p := d.box.Min.Add(image.Pt(k%wide, k/wide))
		if c.class != ClassGround {
			t.Mask.Pix[p.Y*t.Mask.Stride+p.X] = c.class
		}
		if c.class == ClassPainted || c.class == ClassBare {
			head = head.Union(image.Rectangle{p, p.Add(image.Pt(1, 1))})
		}
	}
	t.grow(head)
	bare := map[image.Point]*dot{}
	for k := range d.dots {
		c := &d.dots[k]
		if c.class != ClassPainted && c.class != ClassBare {
			continue
		}
		p := d.box.Min.Add(image.Pt(k%wide, k/wide))
		i := t.At(p.X, p.Y)
		t.HeadAreaPx++
		light := d.light.onCard(d.mm(float64(p.X)+0.5, float64(p.Y)+0.5))
		for ch := range 3 {
			t.Body[i][ch], t.Glare[i][ch] = c.body[ch]/light[ch], c.glare[ch]/light[ch]
		}
		t.ViewingDeg[i], t.Opacity[i] = float32(c.viewing), float32(c.opacity)
		if c.class == ClassBare {
			bare[p] = c
		}
	}
	t.spots(bare, d.model)
	m := d.model
	for _, k := range append(append(append([]mark(nil), m.marks...), m.pits...), m.specks...) {
		x, y := d.px(m.toPhoto(k.at))
		seen := Mark{Kind: k.Kind, X: x, Y: y, WidthMM: k.WidthMM, HeightMM: k.HeightMM}
		seen.Visible = m.toWorld(k.out).z > 0.1 && t.At(int(x), int(y)) >= 0 &&
			(t.class(int(x), int(y)) == ClassPainted || t.class(int(x), int(y)) == ClassBare)
		t.Relief = append(t.Relief, seen)
	}
	t.outline(d)
	if m.hook.WidthMM > 0 {
		t.Eyes = append(t.Eyes, d.eye())
		t.ShankPaintMM, t.PointPaintMM = m.hook.ShankPaintMM, m.hook.PointPaintMM
	}
}

func (t *Truth) class(x, y int) uint8 { return t.Mask.GrayAt(x, y).Y }

var nan32 = float32(math.NaN())

// grow widens the fields to cover box too.
func (t *Truth) grow(box image.Rectangle) {
	old := *t
	t.Box = t.Box.Union(box)
	n := t.Box.Dx() * t.Box.Dy()
	t.ViewingDeg, t.Opacity = make([]float32, n), make([]float32, n)
	t.Body, t.Glare = make([]RGB, n), make([]RGB, n)
	for i := range n {
		t.ViewingDeg[i], t.Opacity[i] = nan32, nan32
	}
	for y := old.Box.Min.Y; y < old.Box.Max.Y; y++ {
		from, to, wide := old.At(old.Box.Min.X, y), t.At(old.Box.Min.X, y), old.Box.Dx()
		copy(t.ViewingDeg[to:], old.ViewingDeg[from:from+wide])
		copy(t.Opacity[to:], old.Opacity[from:from+wide])
		copy(t.Body[to:], old.Body[from:from+wide])
		copy(t.Glare[to:], old.Glare[from:from+wide])
	}
}

// onEdge says whether a place is on a sharp edge of the casting: a lip, the
// collar's end or the rim of a flat side.
func (c *casting) onEdge(p vec) bool {
	for _, x := range c.lips {
		if math.Abs(p.x-x) < 0.4 && hypot(p.y, p.z) > c.neck+0.1 {
			return true
		}
	}
	switch {
	case c.CollarMM > 0 && p.x > c.end()-0.3:
		return true
	case c.Style == Bullet && p.x > c.back-0.5 && hypot(p.y, p.z) > c.big*0.75:
		return true
	case c.Style == Coin && hypot(p.x, p.z) > c.big-0.7 && math.Abs(p.y) > 0.42*c.big-0.7:
		return true
	}
	return false
}

// spots joins the bare pixels that touch, corners included.
func (t *Truth) spots(bare map[image.Point]*dot, m *model) {
	for y := t.Box.Min.Y; y < t.Box.Max.Y; y++ {
		for x := t.Box.Min.X; x < t.Box.Max.X; x++ {
			first := image.Pt(x, y)
			if bare[first] == nil {
				continue
			}
			s, sharp, based := BareSpot{Opacity: 1, Where: "face", Shows: "metal"}, 0, 0
			todo := []image.Point{first}
			take := func(p image.Point) {
				c := bare[p]
				delete(bare, p)
				s.AreaPx++
				s.X, s.Y = s.X+float64(p.X)+0.5, s.Y+float64(p.Y)+0.5
				s.Opacity = min(s.Opacity, c.opacity)
				if m.cast.onEdge(c.p) {
					sharp++
				}
				if c.based {
					based++
				}
			}
			take(first)
			for len(todo) > 0 {
				p := todo[len(todo)-1]
				todo = todo[:len(todo)-1]
				for k := range 9 {
					if q := p.Add(image.Pt(k%3-1, k/3-1)); bare[q] != nil {
						take(q)
						todo = append(todo, q)
					}
				}
			}
			n := float64(s.AreaPx)
			s.X, s.Y = s.X/n, s.Y/n
			s.AreaMM2 = n * t.MMPerPx * t.MMPerPx
			s.DiameterMM = 2 * math.Sqrt(s.AreaMM2/math.Pi)
			if 2*sharp > s.AreaPx {
				s.Where = "edge"
			}
			if 2*based > s.AreaPx {
				s.Shows = string(m.Base) + " base"
			}
			t.BareSpots = append(t.BareSpots, s)
		}
	}
}

// outline measures how far the head's outline stands out of the plain casting's,
// over the whole head and at each mark.
func (t *Truth) outline(d *drawing) {
	m := d.model
	first := len(t.Relief) - len(m.marks) - len(m.pits) - len(m.specks)
	wide := d.box.Dx()
	for k, c := range d.dots {
		i, j := k%wide, k/wide
		if c.class != ClassPainted && c.class != ClassBare || i == 0 || j == 0 || i == wide-1 || j == d.box.Dy()-1 {
			continue
		}
		rim := false
		for _, o := range [4]int{-1, 1, -wide, wide} {
			rim = rim || d.dots[k+o].class == ClassGround
		}
		if !rim {
			continue
		}
		x, y := d.mm(float64(d.box.Min.X+i)+0.5, float64(d.box.Min.Y+j)+0.5)
		out := m.outside(x, y)
		t.OutlineMM = max(t.OutlineMM, out)
		for n := range m.marks {
			if foot, _ := m.marks[n].foot(c.p); foot < 1 {
				r := &t.Relief[first+n]
				r.OutlineMM = max(r.OutlineMM, out)
				r.Visible = r.Visible || out > 0.05
			}
		}
	}
}

// outside is how far a place of the photo lies outside the plain casting's
// outline, negative or 0 inside.
func (m *model) outside(x, y float64) float64 {
	near := math.Inf(1)
	for z := m.top; z > 0; {
		d := m.cast.distance(m.toPiece(vec{x, y, z}))
		near = min(near, d)
		if d <= 0 {
			break
		}
		z -= max(0.3*d, 0.02)
	}
	return near
}

// eye looks for the ring's hole in the drawing.
func (d *drawing) eye() Eye {
	h := &d.model.hook
	x, y := d.px(d.model.toPhoto(h.ring))
	e := Eye{State: "partly", OpenPart: 1 - h.EyeFilled, X: x, Y: y, HoleMM: h.RingMM}
	switch {
	case h.EyeFilled < 0.1:
		e.State = "open"
	case h.EyeFilled > 0.9:
		e.State = "blocked"
	}
	// the hole is seen when the ring is turned to the camera, lies in the photo
	// and no part of the head is in front of it
	e.Visible = math.Abs(d.model.ay.z) > 0.4
	for i := range 8 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 8)
		p := d.model.toPhoto(h.ring.add(vec{h.ringR * s, 0, h.ringR * c}))
		px, py := d.px(p)
		at, ok := d.model.hitHead(p.x, p.y)
		if ok && at.z > p.z+h.r || px < 0 || py < 0 || px >= float64(d.w) || py >= float64(d.h) {
			e.Visible = false
		}
	}
	return e
}

// finish adds up and says whether the photo can be judged.
func (t *Truth) finish(s *Spec) {
	t.HeadAreaMM2 = float64(t.HeadAreaPx) * t.MMPerPx * t.MMPerPx
	bare := 0
	for _, s := range t.BareSpots {
		bare += s.AreaPx
	}
	t.HeadBox = [4]int{t.Box.Min.X, t.Box.Min.Y, t.Box.Dx(), t.Box.Dy()}
	cut := t.Box.Min.X == 0 || t.Box.Min.Y == 0 || t.Box.Max.X == s.Width || t.Box.Max.Y == s.Height
	if t.HeadAreaPx > 0 {
		t.BareAreaPct = 100 * float64(bare) / float64(t.HeadAreaPx)
	}
	t.Defect = s.defect(t, cut)
	t.Usable = t.Defect == ""
}

// The bounds of a usable photo are common sense, no source. The smallest head at
// the coarsest scale worth grading, 6 mm at 0.06 mm per px, is 100 px across; a
// blur of 0.08 mm leaves half of the depth of a pinhole of 0.2 mm; beyond the
// exposures a pale coat clips or the card drowns in noise.
const (
	leastHeadPx   = 80
	mostBlurMM    = 0.08
	mostExposure  = 2.2
	leastExposure = 0.2
)

func (s *Spec) defect(t *Truth, cut bool) string {
	exposure := s.Camera.Exposure
	if exposure == 0 {
		exposure = 1
	}
	switch {
	case s.Card == nil:
		return "no card"
	case len(s.Pieces) == 0:
		return "no piece"
	case len(s.Pieces) > 1:
		return "two pieces"
	case cut || t.HeadAreaPx == 0:
		return "cut off"
	case min(t.HeadBox[2], t.HeadBox[3]) < leastHeadPx:
		return "too small"
	case s.Camera.BlurPx*s.MMPerPx > mostBlurMM:
		return "blur"
	case exposure > mostExposure:
		return "overexposed"
	case exposure < leastExposure:
		return "underexposed"
	}
	return ""
}

// AngleMean is the mean over the painted head's pixels within 5° of a viewing
// angle.
type AngleMean struct {
	ViewingDeg float64 `json:"viewing_deg"`
	Px         int     `json:"px"`
	Body       RGB     `json:"body"` // reflectance factor without glare
}

// Curve is the true colour by viewing angle in bins of 10°, in bins with pixels
// only; bare pixels are left out.
func (t *Truth) Curve() []AngleMean {
	var bins [9]AngleMean
	for i, deg := range t.ViewingDeg {
		if !(deg < 90) || t.Opacity[i] < 0.5 {
			continue
		}
		b := &bins[int(deg/10)]
		b.Px++
		b.Body = b.Body.add(t.Body[i])
	}
	var curve []AngleMean
	for k, b := range bins {
		if b.Px > 0 {
			curve = append(curve, AngleMean{float64(10*k + 5), b.Px, b.Body.scale(1 / float64(b.Px))})
		}
	}
	return curve
}
