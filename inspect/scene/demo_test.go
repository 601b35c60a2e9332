package scene

import (
	"encoding/csv"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Each fault of the demo can be seen in a photo of its piece, and nothing else
// is wrong. Drawn at a third of the size, to be quick.
func TestDemoShowsItsFaults(t *testing.T) {
	want := map[string]string{
		"T01_1": "", "T03_1": "bare edge", "T04_1": "bare face", "T05_1": "lump", "T06_1": "sag", "T07_1": "eye",
		"T08_1": "pinhole", "T09_1": "bare face", "T10_2": "blur", "T11_1": "void speck",
	}
	seen := 0
	for _, shot := range Demo() {
		fault, ok := want[strings.TrimSuffix(shot.File, ".jpg")]
		if !ok {
			continue
		}
		seen++
		s := shot.Spec
		s.Width, s.Height, s.MMPerPx, s.Camera.BlurPx = s.Width/3, s.Height/3, s.MMPerPx*3, s.Camera.BlurPx/3
		_, truth := Render(s)
		found := map[string]bool{}
		if truth.Defect != "" {
			found[truth.Defect] = true
		}
		for _, b := range truth.BareSpots {
			found["bare "+b.Where] = true
		}
		for _, r := range truth.Relief {
			if r.Visible && (r.Kind != Lump && r.Kind != Sag || r.OutlineMM > 0.3) {
				found[string(r.Kind)] = true
			}
		}
		if e := truth.Eyes[0]; e.Visible && e.State == "blocked" {
			found["eye"] = true
		}
		for f := range found {
			if !strings.Contains(fault, f) {
				t.Errorf("%s shows %q, want only %q", shot.File, f, fault)
			}
		}
		if len(found) == 0 && fault != "" {
			t.Errorf("%s does not show its %s", shot.File, fault)
		}
	}
	if seen != len(want) {
		t.Errorf("%d of %d photos are in the demo", seen, len(want))
	}
}

func TestDemoSheets(t *testing.T) {
	sheet, err := csv.NewReader(strings.NewReader(demoSheet())).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	pieces := map[string]bool{}
	for _, row := range sheet[1:] {
		pieces[row[0]] = true
	}
	scales, err := csv.NewReader(strings.NewReader(demoScales())).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	named := 0 // photos that say neither piece nor scale by a tag
	for _, shot := range Demo() {
		if len(shot.Spec.Flats) > 0 {
			continue
		}
		named++
		piece, _, _ := strings.Cut(shot.File, "_")
		if !pieces[piece] {
			t.Errorf("%s is of no piece on the sheet", shot.File)
		}
		if len(scales) <= named || scales[named][0] != shot.File {
			t.Errorf("scale %d is not that of %s", named, shot.File)
		}
	}
	if len(scales) != named+1 || len(pieces) != len(sheet)-1 {
		t.Errorf("%d scales for %d photos, %d pieces in %d rows", len(scales)-1, named, len(pieces), len(sheet)-1)
	}
}

func TestWriteShot(t *testing.T) {
	dir := t.TempDir()
	shot := Demo()[0]
	shot.Spec.Width, shot.Spec.Height, shot.Spec.MMPerPx = 320, 240, 0.1
	if err := writeShot(dir, shot); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(dir, shot.File))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if size, err := jpeg.DecodeConfig(f); err != nil || size.Width != 320 || size.Height != 240 {
		t.Errorf("wrote %+v, %v", size, err)
	}
	if err := writeShot(filepath.Join(dir, "missing"), shot); err == nil {
		t.Error("no error where the folder is missing")
	}
}
