package inspect

import (
	"image"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
	"jigloupe/inspect/scene"
)

// A collar behind a bare band that looks like card is taken for wire: it is seen
// to be apart, since the hook goes on from it. An eye filled with paint, from which
// nothing goes on, is none, and a hook has no room for a disc.
func TestPartApart(test *testing.T) {
	const w, h = 260, 120
	for _, c := range []struct {
		name   string
		from   int // px, where the part begins; the head ends at 100
		part   int // px wide
		grey   bool
		beyond int // px that wire reaches beyond the part
		apart  bool
	}{
		{"collar", 110, 30, false, 90, true},
		{"eye filled with paint", 110, 30, false, 0, false},
		{"hook", 110, 8, false, 90, false},
		{"something else", 150, 30, false, 70, false},
		{"clip of bare metal", 110, 30, true, 90, false},
	} {
		s := &shape{w: w, h: h, wire: image.NewGray(image.Rect(0, 0, w, h)), centre: image.Pt(60, 60), radius: 40, gauge: 3.5}
		s.head = image.NewGray(s.wire.Rect)
		for i := range s.head.Pix {
			if sq(float64(i%w-60))+sq(float64(i/w-60)) < sq(40) {
				s.head.Pix[i] = 255
			}
		}
		level := cv.NewPlane(w, h)
		red := cv.NewPlane(w, h)
		for i := range red.Pix {
			if x := i % w; x < 105 || !c.grey {
				red.Pix[i] = 1
			}
		}
		t := &tones{w: w, h: h, plane: [3]cv.Plane{red, level, level}}
		for y := range h {
			off := max(y-60, 60-y)
			for x := c.from; x < c.from+30+c.beyond; x++ {
				if x < c.from+30 && 2*off < c.part || 2*off < 8 {
					s.wire.Pix[y*w+x] = 255
				}
			}
		}
		b, err := s.partApart(t)
		if err != nil || (b != nil) != c.apart {
			test.Errorf("%s: apart %v, %v; want %v", c.name, b, err, c.apart)
		}
	}
}

// What lies apart is no collar where the eye is, though it is filled with the coat.
func TestEyeIsNotApart(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, marigold)
	spec.Pieces[0].Wire.RingMM, spec.Pieces[0].Wire.EyeFilled = 1.6, 1
	p, truth := shoot(t, spec)
	l, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	eye := truth.Eyes[0]
	for _, c := range []struct {
		name  string
		x, y  float64
		apart bool
	}{
		{"the eye", eye.X, eye.Y, false},
		{"the other side", l.toPhoto(float64(l.shape.centre.X), 0).X, 2*l.toPhoto(0, float64(l.shape.centre.Y)).Y - eye.Y, true},
	} {
		x, y := l.toPatch(image.Pt(int(c.x), int(c.y)))
		l.shape.apart = &cv.Blob{X: x, Y: y}
		if err := l.knowApart(); err != nil || (l.shape.apart != nil) != c.apart {
			t.Errorf("%s: apart %v, %v", c.name, l.shape.apart != nil, err)
		}
	}
}

// A lip behind a bare band is the head's, band and all; a gilt hook of the coat's hue
// and an eye filled with its paint are not.
func TestRejoin(test *testing.T) {
	const w, h = 260, 120
	for _, c := range []struct {
		name       string
		long, wide int  // px, of what has the coat's hue, from 108 on; the head ends at 100
		beyond     int  // px that wire reaches beyond it
		white      bool // coat, told by its level
		joined     bool
	}{
		{"lip", 10, 60, 90, false, true},
		{"lip, and nothing beyond", 10, 60, 0, false, false},
		{"gilt hook", 90, 8, 0, false, false},
		{"eye filled with paint", 30, 30, 40, false, false},
		{"lip of a white coat", 10, 60, 90, true, true},
		{"bright hook beside a white coat", 90, 8, 0, true, false},
	} {
		s := &shape{w: w, h: h, centre: image.Pt(60, 60), radius: 40, gauge: 3.5}
		s.head, s.wire = image.NewGray(image.Rect(0, 0, w, h)), image.NewGray(image.Rect(0, 0, w, h))
		level, red := cv.NewPlane(w, h), cv.NewPlane(w, h)
		for i := range s.head.Pix {
			x, off := i%w, max(i/w-60, 60-i/w)
			if sq(float64(x-60))+sq(float64(off)) < sq(40) {
				s.head.Pix[i], red.Pix[i] = 255, 1
			} else if x >= 100 && x < 108+c.long && 2*off < c.wide || x < 108+c.long+c.beyond && x >= 100 && 2*off < 8 {
				s.wire.Pix[i] = 255
				if x >= 108 && x < 108+c.long && 2*off < c.wide {
					red.Pix[i] = 1
				}
			}
		}
		planes := [3]cv.Plane{red, level, level}
		if c.white {
			planes = [3]cv.Plane{red, red, red}
		}
		if err := s.rejoin(&tones{w: w, h: h, plane: planes}); err != nil {
			test.Fatal(err)
		}
		band, lip, hook := 60*w+104, 60*w+112, 60*w+108+c.long+3
		if joined := s.head.Pix[band] != 0 && s.head.Pix[lip] != 0 && s.wire.Pix[lip] == 0; joined != c.joined || s.head.Pix[hook] != 0 {
			test.Errorf("%s: joined %v, want %v; the hook beyond joined: %v", c.name, joined, c.joined, s.head.Pix[hook] != 0)
		}
	}
}
