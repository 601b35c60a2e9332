package inspect

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"unicode/utf8"

	"jigloupe/inspect/scene"
)

// The sheets of a batch, in whatever state.
func FuzzSheets(f *testing.F) {
	f.Add([]byte("piece,powder,mm_per_px\nA1,dusk,0.02\n"), []byte("file;light;mm_per_px\nA1_1.jpg;diffuse;0,02\n"))
	f.Add([]byte("\xef\xbb\xbfpiece;note;note\nA1;\"a;b\";\n\nA1;;;;\n;x\n"), []byte("\xff\xfef\x00i\x00l\x00e\x00\n\x00"))
	f.Add([]byte("# comment\npiece\t\n\x00\t\n"), []byte("file,piece,view\nA1_1.jpg,../../x,=1+1\n"))
	dir := f.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "A1_1.jpg"), nil, 0o644); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, pieces, photos []byte) {
		for name, text := range map[string][]byte{"batch.csv": pieces, "photos.csv": photos} {
			if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		b, err := ReadBatch(dir)
		if err != nil {
			return
		}
		if len(b.Photos) != 1 || len(b.Pieces) == 0 {
			t.Fatalf("%d photos of %d pieces", len(b.Photos), len(b.Pieces))
		}
		seen := map[string]bool{}
		for _, p := range b.Pieces {
			if p.Piece == "" || seen[p.Piece] {
				t.Fatalf("piece %q is there twice, or has no name", p.Piece)
			}
			seen[p.Piece] = true
		}
		if s := b.Photos[0].ScaleMMPerPx; !seen[b.Photos[0].Piece] || !(s >= 0 && s < 1e6) {
			t.Fatalf("photo %+v", b.Photos[0])
		}
		for _, n := range b.Notes {
			if !utf8.ValidString(n) {
				t.Fatalf("note %q", n)
			}
		}
	})
}

func FuzzSetupFile(f *testing.F) {
	f.Add([]byte("photo = 'a.jpg'\ncard = 0.18\n[tone]\nbend = [0.1]\nmix = [[1,0,0],[0,1,0],[0,0,1]]\n"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(filepath.Join(dir, SetupFile), text, 0o644); err != nil {
			t.Fatal(err)
		}
		if s, err := readSetup(dir); err == nil && (!s.Tone.Valid() || !(s.Card > 0 && s.Card <= 1)) {
			t.Fatalf("%+v", s)
		}
	})
}

func FuzzRepeatability(f *testing.F) {
	f.Add([]byte(`{"schema": "jigloupe/repeat/1", "measures": [{"measure": "bare_area", "sd": 0.1, "df": 3}]}`))
	path := filepath.Join(f.TempDir(), "repeat.json")
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		if r, err := ReadRepeatability(path); err == nil {
			for _, s := range r.Measures {
				if !(s.SD >= 0) {
					t.Fatalf("%+v", s)
				}
			}
		}
	})
}

// cells is the side, in px, of what FuzzPhoto changes at once.
const cells = 5

// FuzzPhoto sends pictures that no camera took through all of grading: cells of
// any colour, a row of columns many of them. Whatever is made of them, it must
// be sound, and can be written down.
func FuzzPhoto(f *testing.F) {
	for _, s := range []scene.Spec{
		{Pieces: []scene.Piece{ball(0)}, Card: &scene.Card{}},
		{Pieces: []scene.Piece{ball(-5), ball(5)}, Card: &scene.Card{}},
		{Card: &scene.Card{WidthMM: 12, HeightMM: 9}, Pieces: []scene.Piece{ball(2)}, Table: scene.WoodTable},
	} {
		s.Seed, s.Width, s.Height, s.MMPerPx, s.Light = 1, 64, 48, 0.4, scene.Tent(5500)
		m, _ := scene.Render(s)
		pixels := make([]byte, 0, 3*64*48)
		for i := 0; i < len(m.Pix); i += 4 {
			pixels = append(pixels, m.Pix[i:i+3]...)
		}
		f.Add(pixels, uint8(64))
	}
	f.Add(bytes.Repeat([]byte{120, 120, 120}, 64*48), uint8(64))
	f.Add([]byte{200, 100, 50}, uint8(1))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, pixels []byte, columns uint8) {
		w := max(1, int(columns))
		h := len(pixels) / 3 / w
		if h == 0 || h > 100 || w > 100 {
			return
		}
		m := image.NewNRGBA(image.Rect(0, 0, w*cells, h*cells))
		for i := range w * cells * h * cells {
			from := 3 * (i/(w*cells)/cells*w + i%(w*cells)/cells)
			copy(m.Pix[4*i:], []byte{pixels[from], pixels[from+1], pixels[from+2], 255})
		}
		var file bytes.Buffer
		if err := png.Encode(&file, m); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "A1_1.png"), file.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		b, err := ReadBatch(dir)
		if err != nil {
			t.Fatal(err)
		}
		b.Photos[0].ScaleMMPerPx = 0.08
		r, err := Grade(context.Background(), b, Options{Jobs: 1}, func(ph *Photo, e *Evidence) error {
			if ph.Usable && (e == nil || e.Mask == nil || ph.Head == nil || ph.Head.AreaPx == 0) {
				t.Error("usable without a head")
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		p := r.Pieces[0]
		if ph := p.Photos[0]; !ph.Usable && (p.Verdict != Retake || len(ph.Problems) == 0) {
			t.Errorf("an unusable photo makes a %s, for %q", p.Verdict, ph.Problems)
		}
		if _, err := json.Marshal(r); err != nil {
			t.Error(err) // a number that is none
		}
		frame := image.Rect(0, 0, w*cells, h*cells)
		for _, s := range p.Photos[0].BareSpots {
			if at := image.Pt(int(s.X), int(s.Y)); !at.In(frame) {
				t.Errorf("a bare spot at %v of %v", at, frame.Max)
			}
		}
	})
}

func ball(x float64) scene.Piece {
	return scene.Piece{
		X: x, Coat: scene.Coat{Pigment: scene.RGB{0.72, 0.3, 0.02}, HalfUM: 9, BuildUM: 80},
		Head: scene.Head{Style: scene.Ball, WidthMM: 9, CollarMM: 3.2, Lips: 2, SocketMM: 2},
		Wire: scene.Wire{WidthMM: 0.8, ShankMM: 4, GapMM: 4, RingMM: 1.5},
	}
}

// What a file's name says of piece and view.
func FuzzSplitName(f *testing.F) {
	for _, name := range []string{"A03_1b.jpg", "_.png", "_1.jpg", "A_.tif", "A__b.jpg", "\xff_2z.heic", "é_1b"} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		if s := splitName(name); s.File != name || len(s.Piece)+len(s.View)+len(s.Lamp) > len(name) {
			t.Fatalf("%+v", s)
		}
	})
}
