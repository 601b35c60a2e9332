package study_test

import (
	"context"
	"fmt"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"jigloupe/inspect"
	"jigloupe/inspect/scene"
	"jigloupe/inspect/study"
)

// baseBatch draws and grades two pieces over each base under a tent, film
// build and light a little different each time.
func baseBatch(t *testing.T, coat scene.Coat) []inspect.Piece {
	t.Helper()
	dir := t.TempDir()
	sheet, scales := "piece,powder,base\n", "file,mm_per_px\n"
	for i := range 6 {
		base := []scene.Base{scene.NoBase, scene.WhiteBase, scene.BlackBase}[i/2]
		c := coat
		c.BuildUM += float64(6*(i%2) - 3)
		s := scene.Spec{Seed: uint64(i), Width: 800, Height: 600, MMPerPx: 0.03, Card: &scene.Card{}, Light: scene.Tent(5400 + 100*float64(i%2)),
			Camera: scene.Camera{Exposure: 0.8 + 0.05*float64(i*7%4), BlurPx: 0.6, FullWell: 12000, ReadNoise: 8, Vignette: 0.05},
			Pieces: []scene.Piece{{Seed: uint64(i), Coat: c, Base: base, X: -4, TurnDeg: float64(20*(i%2) - 10), TiltDeg: 2,
				Head: scene.Head{Style: scene.Ball, WidthMM: 7.2, CollarMM: 3.2, Lips: 2, SocketMM: 2},
				Wire: scene.Wire{WidthMM: 0.8, ShankMM: 7, GapMM: 6.5, RingMM: 1.5}}}}
		photo, _ := scene.Render(s)
		name := fmt.Sprintf("E%02d_1.jpg", i+1)
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := jpeg.Encode(f, photo, &jpeg.Options{Quality: 92}); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		sheet += fmt.Sprintf("E%02d,test powder,%s\n", i+1, base)
		scales += fmt.Sprintf("%s,%.4f\n", name, s.MMPerPx)
	}
	for name, content := range map[string]string{"batch.csv": sheet, "photos.csv": scales} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	batch, err := inspect.ReadBatch(dir)
	if err != nil {
		t.Fatal(err)
	}
	r, err := inspect.Grade(context.Background(), batch, inspect.Options{}, func(*inspect.Photo, *inspect.Evidence) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	return r.Pieces
}

// From photos to advice: a powder that hides needs no base, a thin pale one
// needs a white one, and its contrast ratio is far from hiding.
func TestAdviceFromPhotos(t *testing.T) {
	if testing.Short() {
		t.Skip("draws and grades 12 photos")
	}
	for _, c := range []struct {
		name   string
		coat   scene.Coat
		want   study.Advice
		lo, hi float64 // of the contrast ratio
	}{
		{"hides", scene.Coat{Pigment: scene.RGB{0.3, 0.45, 0.15}, BuildUM: 80, HalfUM: 8}, study.OnMetal, 0.95, 1.05},
		{"pale and thin", scene.Coat{Pigment: scene.RGB{0.75, 0.66, 0.4}, BuildUM: 70, HalfUM: 34}, study.WhiteBase, 0.5, 0.9},
	} {
		studies, err := study.Bases(baseBatch(t, c.coat), study.Noticeable)
		if err != nil {
			t.Fatal(err)
		}
		s := studies[0]
		if s.Advice != c.want || s.Whole == nil || s.Whole.Ratio < c.lo || s.Whole.Ratio > c.hi {
			t.Errorf("%s: advice %q, contrast ratio %+v, want %q and %.2f to %.2f: %q", c.name, s.Advice, s.Whole, c.want, c.lo, c.hi, s.Why)
		}
	}
}
