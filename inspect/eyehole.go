package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// An eyeLook is the part of a photo that the eye can be in, on a grid of its own
// and in mm: next to nothing hangs on how well the head's outline was found.
type eyeLook struct {
	patch
	tones  *tones
	mm     float64     // of a px of this grid
	x, y   float64     // of the middle of the head
	radius float64     // of the largest circle in it
	hook   [2]float64  // the way from its middle to where the hook leaves it, 1 long; 0 when no wire is seen
	head   *image.Gray // the head as it was found
	hue    *shadowHue  // of the card
	lamps  lamps
	bright float32 // log level that the card does not reach
	grey   bool    // the coat has no hue or brightness that the card hasn't
}

const (
	// usualRadius of a head, in mm, stands in where a photo has no scale: heads
	// are 6 to 9 mm across (common practice, no source).
	usualRadius = 3.75
	// eyeReach is how far, in mm, the far side of an eye can be from the middle of
	// a head: up to 4.5 to the surface, 1 of stem, 4 of ring, and some room for a
	// middle that was not found well.
	eyeReach = 11
	// eyeGrid is the most that a px of the grid may be, in mm: the thinnest wire,
	// 0.5 mm, is then 5 px thick.
	eyeGrid = 0.1
)

func newEyeLook(l *look, mmPerPx float64) (*eyeLook, error) {
	s := l.shape
	if mmPerPx == 0 {
		mmPerPx = usualRadius / (s.radius * float64(l.Step))
	}
	step := max(1, int(eyeGrid/mmPerPx))
	at := l.toPhoto(float64(s.centre.X), float64(s.centre.Y))
	reach := max(eyeReach/mmPerPx, 30) // a mistyped scale must leave something to look at
	lin := l.photo.Linear(image.Rect(int(at.X-reach), int(at.Y-reach), int(at.X+reach), int(at.Y+reach)), step)
	l.card.Reflect(lin)
	n := &eyeLook{patch: patch{lin, l.card.Reflectance}, mm: mmPerPx * float64(lin.Step)}
	n.x, n.y = n.toPatch(image.Pt(int(at.X), int(at.Y)))
	n.radius = s.radius * float64(l.Step) / float64(lin.Step)
	if s.wired {
		n.hook[0], n.hook[1] = unit(l.root[0]-float64(s.centre.X), l.root[1]-float64(s.centre.Y))
	}
	var err error
	var edge cv.Plane
	if n.tones, edge, err = tonesAndEdges(n.patch, 0.7); err != nil { // the least that tames noise and keeps a wire's edges
		return nil, err
	}
	n.head = image.NewGray(image.Rect(0, 0, n.tones.w, n.tones.h))
	for i := range n.head.Pix {
		at := n.toPhoto(float64(i%n.tones.w), float64(i/n.tones.w))
		x, y := l.toPatch(image.Pt(int(at.X), int(at.Y)))
		if q := image.Pt(int(x+0.5), int(y+0.5)); q.In(s.head.Rect) {
			n.head.Pix[i] = s.head.Pix[q.Y*s.head.Stride+q.X]
		}
	}
	return n, n.learnCard(edge, l.card.Residual)
}

// learnCard finds out what colours the card has in light and shadow.
func (n *eyeLook) learnCard(edge cv.Plane, noise float64) error {
	full, err := n.tones.fullLight(noise)
	if err != nil {
		return err
	}
	const gentle = 0.08 // log level per px, as in locate: the px are about as large
	reached := n.tones.reach(edge, full, gentle)
	n.hue, n.lamps = learnShadow(n.tones, reached), lampsOn(n.tones, reached)
	n.bright = float32(math.Log(1.2 + 4*noise + toe))
	disc, unlike := n.disc(), 0
	for _, i := range disc {
		if !n.cardLike(i) {
			unlike++
		}
	}
	n.grey = 2*unlike < len(disc)
	return nil
}

// disc are the pixels of the head's middle, well within the smallest head, 6 mm
// across; every third of them tells enough.
func (n *eyeLook) disc() (at []int) {
	const radius = 2.4 // mm
	for i := 0; i < n.tones.w*n.tones.h; i += 3 {
		if math.Hypot(float64(i%n.tones.w)-n.x, float64(i/n.tones.w)-n.y) < radius/n.mm {
			at = append(at, i)
		}
	}
	return at
}

// cardLike tells whether a pixel may be card, in light or shadow. The head as it
// was found may hold some of its shadow, so it has a say only where colour has
// none.
func (n *eyeLook) cardLike(i int) bool {
	return !(n.grey && n.head.Pix[i] != 0) && n.tones.plane[1].Pix[i] < n.bright && !n.hue.foreign(n.tones, i, 0.25)
}

// index is the pixel at a place, if there is one.
func (n *eyeLook) index(x, y float64) (int, bool) {
	q := image.Pt(int(math.Floor(x+0.5)), int(math.Floor(y+0.5)))
	return q.Y*n.tones.w + q.X, q.In(n.head.Rect)
}

// cardAround is the share of card in a line round a ring, clear of its blur.
func (n *eyeLook) cardAround(r *ring) float64 {
	card := 0
	for _, p := range r.around(2 * rungs) {
		d := 0.35*r.long + 1.35*r.half
		if i, ok := n.index(p.x+d*p.nx, p.y+d*p.ny); ok && n.cardLike(i) {
			card++
		}
	}
	return float64(card) / (2 * rungs)
}

// A pixel of the hole goes to card or to paint when one is this many times
// likelier than the other; when a third of the pixels go to neither, the hole was
// not seen. By common sense: four to one.
const (
	clearOdds   = 4.0
	mostUnclear = 1.0 / 3
)

// EyeOpenPct is the share of the hole, in %, that must be open: with less, the eye
// counts as blocked. By common sense: a line passes half a hole.
const EyeOpenPct = 50

// eyeU is the standard uncertainty of the open share, in %: the RMS error on 22
// partly filled eyes among those of TestEyes was 11 %.
const eyeU = 12

// through tells what is to be seen through a ring: card, as it looks around the
// ring, or a film of paint, which has the colours that the head has. How likely
// a colour is to be either is read off the pixels around the ring and those of
// the head's middle (kernel densities), with some room for shadows and tilts
// that neither of them shows.
func (n *eyeLook) through(r *ring) (EyeState, *EyeHole, string) {
	t := n.tones
	var hole []int
	card, coat, head := n.kernel(), n.kernel(), n.kernel()
	for _, i := range n.disc() {
		coat.add(i)
	}
	for i := range t.plane[1].Pix {
		x, y := float64(i%t.w), float64(i/t.w)
		switch around := r.outside(x, y); {
		case r.inside(x, y) < middlePart:
			hole = append(hole, i)
		case around < 1.25 || around > 1.9:
		case n.cardLike(i):
			card.add(i)
		default:
			head.add(i)
		}
	}
	behind := 1 - n.cardAround(r)
	if behind < 0.25 { // a head that covers so little of the surroundings ends short of the hole
		behind = 0
	}
	const (
		likely   = 0.8 // that a colour is among those seen
		darkness = 2.7 // log levels from deep shadow to the card in full light
		levels   = 4.5 // log levels from the darkest paint to glare
	)
	open, filled := 0, 0
	for _, i := range hole {
		asCard := likely * card.at(i)
		if t.plane[1].Pix[i] < n.bright {
			wide := card.hueWidth(i)
			asCard += (1 - likely) / darkness * gauss(float64(n.hue.off(t, i))/wide) / (2 * math.Pi * wide * wide)
		}
		asCoat := likely*coat.at(i) + (1-likely)/levels*coat.byHue(i)
		asHead := 0.0
		if behind > 0 {
			asHead = head.at(i)
		}
		switch {
		case asCard > clearOdds*max(asCoat, asHead):
			open++
		case asCoat > clearOdds*max(asCard, asHead):
			filled++
		}
	}
	clear := float64(open + filled)
	if clear >= (1-mostUnclear)*float64(len(hole)) && clear > 0 {
		h := &EyeHole{100 * wholeHole(float64(open)/clear), eyeU}
		switch {
		case h.OpenPct >= EyeOpenPct:
			return EyeOpen, h, ""
		case behind < 0.5: // or it may be the head itself that shows, and the ring a lamp's mirror image
			return EyeBlocked, h, ""
		}
	}
	if behind > 0 {
		return EyeUnseen, nil, noteBehind
	}
	return EyeUnseen, nil, noteAlike
}

// middlePart of a hole's radius is looked at: clear of the wire and its blur.
const middlePart = 0.7

// wholeHole is the open share of a hole from that of its middle part, if the film
// in it ends in a straight line.
func wholeHole(share float64) float64 {
	if share == 0 || share == 1 {
		return share
	}
	// part of a disc of radius 1 on one side of a line
	segment := func(x float64) float64 { return (math.Acos(-x) + x*math.Sqrt(1-x*x)) / math.Pi }
	lo, hi := -1.0, 1.0
	for range 30 {
		if x := (lo + hi) / 2; segment(x) < share {
			lo = x
		} else {
			hi = x
		}
	}
	return segment(middlePart * lo)
}

func gauss(z float64) float64 { return math.Exp(-z * z / 2) }

// A kernel tells how dense colours lie among sample pixels, per unit of log level
// and of the two hues (kernel density estimate with Gaussian kernels).
type kernel struct {
	t                *tones
	level, red, blue []float64
}

func (n *eyeLook) kernel() *kernel { return &kernel{t: n.tones} }

func (k *kernel) colour(i int) (level, red, blue float64) {
	u, v := k.t.hue(i)
	return float64(k.t.plane[1].Pix[i]), float64(u), float64(v)
}

func (k *kernel) add(i int) {
	l, u, v := k.colour(i)
	k.level, k.red, k.blue = append(k.level, l), append(k.red, u), append(k.blue, v)
}

// hueWidth is the standard deviation of the kernel in hue: what noise, and three
// steps of an 8-bit photo in the dark, do to a log ratio.
func (k *kernel) hueWidth(i int) float64 {
	return 0.1 + 0.015/math.Exp(float64(k.t.plane[1].Pix[i]))
}

// at is the density of pixels like i.
func (k *kernel) at(i int) float64 {
	const levelWidth = 0.12 // log level: shading from one px to the next
	l, u, v := k.colour(i)
	w, sum := k.hueWidth(i), 0.0
	for j := range k.level {
		if q := sq((l-k.level[j])/levelWidth) + (sq(u-k.red[j])+sq(v-k.blue[j]))/(w*w); q < 16 {
			sum += math.Exp(-q / 2)
		}
	}
	return sum / float64(max(1, len(k.level))) / (math.Pow(2*math.Pi, 1.5) * levelWidth * w * w)
}

// byHue is the density of pixels with the hue of i, whatever their level.
func (k *kernel) byHue(i int) float64 {
	_, u, v := k.colour(i)
	w, sum := k.hueWidth(i), 0.0
	for j := range k.level {
		if q := (sq(u-k.red[j]) + sq(v-k.blue[j])) / (w * w); q < 16 {
			sum += math.Exp(-q / 2)
		}
	}
	return sum / float64(max(1, len(k.level))) / (2 * math.Pi * w * w)
}
