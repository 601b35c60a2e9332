//go:build gocv_specific_modules && matprofile

package cv_test

import (
	"context"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"gocv.io/x/gocv"

	"jigloupe/inspect"
	"jigloupe/inspect/scene"
)

// No picture of OpenCV's is left behind by grading: the garbage collector would
// never free it.
func TestNothingLeftBehind(t *testing.T) {
	dir := t.TempDir()
	for k, name := range []string{"A1_1.jpg", "A2_1.jpg"} {
		s := scene.Demo()[0].Spec
		s.Width, s.Height, s.MMPerPx = 800, 600, 2*s.MMPerPx
		if k == 1 {
			s.Pieces = nil // ends early
		}
		m, _ := scene.Render(s)
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := jpeg.Encode(f, m, nil); err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
	b, err := inspect.ReadBatch(dir)
	if err != nil {
		t.Fatal(err)
	}
	before := gocv.MatProfile.Count()
	for range 3 {
		r, err := inspect.Grade(context.Background(), b, inspect.Options{}, func(*inspect.Photo, *inspect.Evidence) error { return nil })
		if err != nil || !r.Pieces[0].Photos[0].Usable {
			t.Fatal(err, r.Pieces[0].Photos[0].Problems)
		}
	}
	if left := gocv.MatProfile.Count() - before; left != 0 {
		t.Errorf("%d pictures are left behind", left)
	}
}
