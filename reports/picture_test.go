package reports

import (
	"image"
	"image/color"
	"math"
	"path/filepath"
	"testing"

	"github.com/disintegration/imaging"

	"jigloupe/inspect"
)

func open(t *testing.T, dir string, ph inspect.Photo) image.Image {
	t.Helper()
	m, err := imaging.Open(filepath.Join(dir, ph.Picture.File))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func away(a, b color.Color) float64 {
	r, g, bl, _ := a.RGBA()
	r2, g2, b2, _ := b.RGBA()
	return math.Hypot(math.Hypot(float64(r)-float64(r2), float64(g)-float64(g2)), float64(bl)-float64(b2)) / 257
}

func TestDrawMarksFaultsAndHidesNone(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	for _, ph := range []inspect.Photo{r.Pieces[1].Photos[0], r.Pieces[2].Photos[0], r.Pieces[5].Photos[0]} {
		before := imaging.Clone(open(t, dir, ph)) // as exact colours as Draw has
		after := Draw(before, ph)
		if after.Bounds() != before.Bounds() {
			t.Fatalf("%s: drawn picture is %v, want %v", ph.File, after.Bounds(), before.Bounds())
		}
		for _, m := range faults(&ph) {
			// The fault itself, where nothing may be drawn but another fault's mark.
			x, y := int(m.at.X), int(m.at.Y)
			if ph.File != "K06_1.jpg" && away(before.At(x, y), after.At(x, y)) > 0 {
				t.Errorf("%s, fault %d: its middle is drawn over", ph.File, m.number)
			}
			// Up, down, left and right the mark is met; a diamond has its corners there.
			reach := m.ring(6.84) // 1 % of 684 px
			if m.class == "relief" {
				reach *= 1.3
			}
			if !m.sure {
				continue // dashed: there may be a gap
			}
			for _, d := range circle(m.at, reach, 4) {
				near := 1e9
				for dx := -2; dx <= 2; dx++ {
					for dy := -2; dy <= 2; dy++ {
						near = min(near, away(after.At(int(d.X)+dx, int(d.Y)+dy), tint(m.class)))
					}
				}
				if near > 40 {
					t.Errorf("%s, fault %d: no mark at (%.0f, %.0f)", ph.File, m.number, d.X, d.Y)
				}
			}
		}
	}
}

func TestLabelsHideNothing(t *testing.T) {
	dir := t.TempDir()
	for _, p := range trial(t, dir).Pieces {
		for _, ph := range p.Photos {
			if ph.Picture == nil {
				continue
			}
			var tags []image.Rectangle
			for _, l := range marked(&ph).Lines {
				if len(l.Class) < 8 || l.Class[:8] != "fill tag" {
					continue
				}
				b := image.Rectangle{Min: image.Pt(1e6, 1e6), Max: image.Pt(-1e6, -1e6)}
				for _, q := range l.Pts {
					b.Min = image.Pt(min(b.Min.X, int(q.X)), min(b.Min.Y, int(q.Y)))
					b.Max = image.Pt(max(b.Max.X, int(q.X)), max(b.Max.Y, int(q.Y)))
				}
				if !b.In(image.Rect(0, 0, ph.Picture.Width, ph.Picture.Height)) {
					t.Errorf("%s: label %v leaves the picture", ph.File, b)
				}
				for _, o := range tags {
					if b.Inset(4).Overlaps(o) { // pointed ends may touch
						t.Errorf("%s: labels %v and %v overlap", ph.File, b, o)
					}
				}
				for _, m := range faults(&ph) {
					if image.Pt(int(m.at.X), int(m.at.Y)).In(b) {
						t.Errorf("%s: label %v hides fault %d", ph.File, b, m.number)
					}
				}
				tags = append(tags, b)
			}
			want := len(ph.BareSpots) + len(ph.ReliefFaults) + len(ph.ClearedSpots) + len(ph.ClearedRelief)
			if ph.EyeAt != nil {
				want++
			}
			if len(tags) != want {
				t.Errorf("%s: %d labels, want %d with that of the eye", ph.File, len(tags), want)
			}
		}
	}
}

func TestScaleBarIsRoundAndTrue(t *testing.T) {
	ph := trial(t, t.TempDir()).Pieces[0].Photos[0]
	d := marked(&ph)
	for _, l := range d.Lines {
		if l.Class == "scale" {
			// 684 px wide at 0.021/0.9 mm a px is 15.96 mm: the largest round length within 30 % is 2 mm.
			if got, want := l.Pts[2].X-l.Pts[1].X, 2*0.9/0.021; math.Abs(got-want) > 1e-9 {
				t.Errorf("the bar is %.2f px long, want %.2f", got, want)
			}
		}
	}
	if w := d.Words[len(d.Words)-1]; w.Text != "2 mm" {
		t.Errorf("the bar says %q, want %q", w.Text, "2 mm")
	}
	withoutScale(&ph)
	for _, l := range marked(&ph).Lines {
		if l.Class == "scale" {
			t.Error("a photo without a scale has a scale bar")
		}
	}
}

func TestWindowStaysInThePicture(t *testing.T) {
	ph := inspect.Photo{Picture: &inspect.Picture{Width: 684, Height: 576, Scale: 1}}
	all := image.Rect(0, 0, 684, 576)
	for _, at := range []inspect.Point{{X: 1, Y: 1}, {X: 683, Y: 575}, {X: 340, Y: 1}, {X: 340, Y: 300}} {
		w := mark{at: at, r: 20}.window(&ph)
		if !w.In(all) || w.Dx() != 140 || w.Dy() != 140 { // 3.5 radii either way
			t.Errorf("window about %v is %v, want 140 px square within %v", at, w, all)
		}
	}
	if w := (mark{at: pt(300, 300), r: 900}).window(&ph); w != all {
		t.Errorf("window of a huge fault is %v, want the whole picture", w)
	}
}
