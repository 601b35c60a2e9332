package inspect

import (
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// printedTag is a tag of 12 mm lying at x, y mm.
func printedTag(t testing.TB, piece string, x, y float64) scene.Flat {
	t.Helper()
	tag, err := scene.PrintedTag(piece, 12)
	if err != nil {
		t.Fatal(err)
	}
	tag.X, tag.Y = x, y
	return tag
}

// A tag's scale and tilt must be right within twice their uncertainty, whatever
// the blur, tilt, size, turn and light, and no error may hide in an uncertainty
// larger than a printer's.
func TestTagScale(t *testing.T) {
	t.Parallel()
	squint := scene.OneLamp(40, 50, 4200)
	squint.FallOff = 3
	for _, c := range []struct {
		name                    string
		perPx, blur, tilt, turn float64
		light                   scene.Light
		piece                   string
	}{
		{"plain", 0.05, 0.8, 0, 0, scene.Tent(5600), "A03"},
		{"turned by 33°", 0.05, 0.8, 0, 33, scene.Tent(5600), "A03"},
		{"turned by 161°", 0.05, 0.8, 0, 161, scene.Tent(5600), "A03"},
		{"blurred by 0.3 of a module", 0.05, 3, 0, 12, scene.Tent(5600), "A03"},
		{"4 px a module", 0.12, 0.8, 0, 12, scene.Tent(5600), "A03"},
		{"tilted by 5°", 0.05, 0.8, 5, 12, scene.Tent(5600), "A03"},
		{"tilted by 12°", 0.05, 0.8, 12, 12, scene.Tent(5600), "A03"},
		{"tilted by 30°", 0.05, 0.8, 30, 75, scene.Tent(5600), "A03"},
		{"one lamp, falling off 3:1", 0.05, 0.8, 3, 12, squint, "A03"},
		{"warm and cold light", 0.05, 0.8, 3, 12, scene.Window(40), "A03"},
		{"a long name in other letters", 0.05, 0.8, 0, 190, scene.Tent(5600), "größtes Stück, 2. Wahl"},
	} {
		s := onCard(scene.Ball, marigold)
		s.Pieces, s.Width, s.Height, s.MMPerPx, s.Light, s.Camera.BlurPx = nil, 600, 450, c.perPx, c.light, c.blur
		tag := printedTag(t, c.piece, 1, 0.5)
		tag.TurnDeg, tag.TiltDeg, tag.TowardDeg, tag.DistanceMM = c.turn, c.tilt, 70, 150
		s.Flats = []scene.Flat{tag}
		p, _ := shoot(t, s)
		tags, err := p.Tags(nil)
		if err != nil || len(tags) != 1 {
			t.Errorf("%s: %d tags found, %v", c.name, len(tags), err)
			continue
		}
		if tags[0].Name != c.piece || tags[0].SideMM != 12 {
			t.Errorf("%s: reads %q, %v mm", c.name, tags[0].Name, tags[0].SideMM)
		}
		z := tags[0].Size()
		off := z.SidePx*c.perPx/12 - 1
		t.Logf("%s: scale off by %.3f %%, u %.3f %%; tilt %.1f° ± %.1f°", c.name, 100*off, 100*z.U/z.SidePx, z.TiltDeg, z.TiltUDeg)
		if !(math.Abs(off) <= 2*z.U/z.SidePx && z.U/z.SidePx < 0.003) {
			t.Errorf("%s: a side is %.2f ± %.2f px, want %.2f, known to 0.3 %%", c.name, z.SidePx, z.U, 12/c.perPx)
		}
		if d := math.Abs(z.TiltDeg - c.tilt); d > 2*z.TiltUDeg || z.TiltUDeg > 4 {
			t.Errorf("%s: tilted by %.1f° ± %.1f°, want %.0f°, known to 4°", c.name, z.TiltDeg, z.TiltUDeg, c.tilt)
		}
	}
}

// A tag beside the piece changes neither what is taken for the head nor the light
// found on the card, though it is the brightest and thickest thing, cut from its
// sheet with a wide margin, and the light falls off 3:1.
func TestTagIsNotThePiece(t *testing.T) {
	t.Parallel()
	s := onCard(scene.Ball, marigold)
	s.Width, s.Height, s.MMPerPx, s.Camera.BlurPx = 640, 480, 0.07, 1.5
	s.Light.FallOff, s.Light.FallOffDeg = 3, 200
	s.Pieces[0].X, s.Pieces[0].TurnDeg = -1.5, 200 // the hook points to the left
	p, _ := shoot(t, s)
	plain, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	paper := image.NewGray(image.Rect(0, 0, 1, 1))
	paper.Pix[0] = 230
	tag := printedTag(t, "A03", 11.5, 0.5)
	s.Flats = []scene.Flat{{Picture: paper, WidthMM: tag.WidthMM + 2, X: tag.X, Y: tag.Y}, tag}
	p, _ = shoot(t, s)
	tagged, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	if plain.Rect != tagged.Rect || overlapOf(plain.shape.head, tagged.shape.head) < 0.99 {
		t.Errorf("without a tag the head lies in %v, beside one in %v", plain.Rect, tagged.Rect)
	}
	for _, at := range [][2]float64{{30, 30}, {620, 20}, {320, 300}, {30, 450}, {610, 450}} {
		a, b := plain.card.Light(at[0], at[1]), tagged.card.Light(at[0], at[1])
		for k := range a {
			if r := b[k] / a[k]; math.Abs(r-1) > 0.01 {
				t.Errorf("the tag changes the light at %v by %.1f %%", at, 100*(r-1))
			}
		}
	}
}

// writeShot puts a photo into a folder.
func writeShot(t *testing.T, dir, name string, s scene.Spec) {
	t.Helper()
	picture, _ := scene.Render(s)
	if err := os.WriteFile(filepath.Join(dir, name), encoded(picture), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The tag against what else is said of a photo: its name, the sheets, a second tag.
func TestTagAgainst(t *testing.T) {
	t.Parallel()
	s := onCard(scene.Ball, marigold)
	s.Width, s.Height, s.MMPerPx = 900, 600, 0.04
	s.Pieces[0].X, s.Pieces[0].TurnDeg = -3, 80 // the hook points to the photo's top
	s.Flats = []scene.Flat{printedTag(t, "A03", 10, -3)}
	two := s
	two.Flats = append(slices.Clone(s.Flats), printedTag(t, "A04", -10, -3))
	dir := t.TempDir()
	writeShot(t, dir, "one.png", s)
	writeShot(t, dir, "two.png", two)
	for _, c := range []struct {
		name   string
		f      BatchFile
		usable bool
		says   string
	}{
		{"agrees", BatchFile{File: "one.png", Piece: "A03", PieceFrom: "name"}, true, ""},
		{"contradicts the name", BatchFile{File: "one.png", Piece: "A04", PieceFrom: "name"}, false, "Its tag says piece A03, its name A04"},
		{"contradicts photos.csv", BatchFile{File: "one.png", Piece: "A04", PieceFrom: "photos.csv"}, true, "filed under A04 because photos.csv says so"},
		{"a scale near the tag's", BatchFile{File: "one.png", Piece: "A03", ScaleMMPerPx: 0.0405, ScaleFrom: "batch.csv"}, true, ""},
		{"another scale", BatchFile{File: "one.png", Piece: "A03", ScaleMMPerPx: 0.044, ScaleFrom: "batch.csv"}, true, "batch.csv 0.0440, which is +10 %"},
		{"two tags", BatchFile{File: "two.png", Piece: "A03"}, false, "tags of two pieces"},
	} {
		ph, _ := measureFile(&BatchFolder{Dir: dir}, c.f, false, calib.CardReflectance)
		if ph.Usable != c.usable || !strings.Contains(strings.Join(ph.Problems, " "), c.says) || c.says == "" && len(ph.Problems) > 0 {
			t.Errorf("%s: usable %v, problems %q; want %v and %q", c.name, ph.Usable, ph.Problems, c.usable, c.says)
		}
		if c.f.File == "two.png" {
			continue
		}
		if ph.Tag == nil || ph.ScaleU == nil || ph.ScaleFrom != "tag" || math.Abs(*ph.ScaleMMPerPx/0.04-1) > 0.003 {
			t.Errorf("%s: tag %+v, scale from %q", c.name, ph.Tag, ph.ScaleFrom)
		} else if u := *ph.ScaleU / *ph.ScaleMMPerPx; u < 0.005 || u > 0.02 {
			t.Errorf("%s: scale known to %.2f %%, want between a reading of the line and 2 %%", c.name, 100*u)
		}
	}
}

// Photos with names that say nothing go to the piece on their tag; the others
// stay where they are.
func TestFileByTags(t *testing.T) {
	b, err := ReadBatch(folder(t, map[string]string{"batch.csv": "piece,mm_per_px\nA1,0.02\nA2,\n"},
		"A1_1.jpg", "IMG_0041.jpg", "IMG_0042.jpg", "scan.png"))
	if err != nil {
		t.Fatal(err)
	}
	if u := b.Unnamed(); !slices.Equal(u, []string{"IMG_0041.jpg", "IMG_0042.jpg", "scan.png"}) {
		t.Fatalf("unnamed: %q", u)
	}
	b.FileByTags(map[string]string{"IMG_0041.jpg": "A1", "scan.png": "B7"})
	want := []BatchFile{
		{File: "A1_1.jpg", Piece: "A1", PieceFrom: "name", View: "1", ScaleMMPerPx: 0.02, ScaleFrom: "batch.csv"},
		{File: "IMG_0041.jpg", Piece: "A1", PieceFrom: "tag", View: "IMG_0041", ScaleMMPerPx: 0.02, ScaleFrom: "batch.csv"},
		{File: "IMG_0042.jpg", Piece: "IMG_0042", View: "IMG_0042"},
		{File: "scan.png", Piece: "B7", PieceFrom: "tag", View: "scan"},
	}
	if !slices.Equal(b.Photos, want) {
		t.Errorf("photos\n %+v, want\n %+v", b.Photos, want)
	}
	var pieces []string
	for _, p := range b.Pieces {
		pieces = append(pieces, p.Piece)
	}
	if !slices.Equal(pieces, []string{"A1", "A2", "IMG_0042", "B7"}) {
		t.Errorf("pieces %q", pieces)
	}
	if len(b.Notes) != 2 || !strings.HasPrefix(b.Notes[0], "IMG_0042.jpg shows no tag") || b.Notes[1] != `scan.png belongs to piece "B7", which batch.csv does not list.` {
		t.Errorf("notes %q", b.Notes)
	}

	// Without a sheet a short view is a name, a camera's number is none.
	b, err = ReadBatch(folder(t, map[string]string{}, "A1_1.jpg", "A1_tip.jpg", "IMG_0042.jpg", "DSC00042.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	if u := b.Unnamed(); !slices.Equal(u, []string{"DSC00042.jpg", "IMG_0042.jpg"}) {
		t.Errorf("without a sheet unnamed: %q", u)
	}
}

func BenchmarkTags(b *testing.B) {
	for _, c := range []struct {
		name  string
		flats []scene.Flat
	}{{"12MP/without", nil}, {"12MP/with", []scene.Flat{printedTag(b, "A03", 12, 6)}}} {
		s := onCard(scene.Ball, marigold)
		s.Width, s.Height, s.MMPerPx, s.Flats = 4000, 3000, 0.012, c.flats
		p, _ := shoot(b, s)
		reduced := p.Linear(image.Rect(0, 0, p.Width, p.Height), 8)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if tags, err := p.Tags(reduced); err != nil || len(tags) != len(c.flats) {
					b.Fatal(tags, err)
				}
			}
		})
	}
}
