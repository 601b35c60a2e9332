package reports

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"jigloupe/calib"
)

// A sheet as an independent program prints it: each tag can be read, and its code
// is as wide as it says.
func TestTagSheet(t *testing.T) {
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		t.Skip("needs poppler-utils")
	}
	const dpi = 300
	for _, paper := range []string{"A4", "Letter"} {
		sheet, err := TagSheet([]string{"A01", "Größe 3"}, 12, paper)
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(t.TempDir(), "tags.pdf")
		if err := os.WriteFile(name, sheet, 0o644); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command("pdftoppm", "-r", "300", "-png", name)
		cmd.Stderr = os.Stderr
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		page, err := png.Decode(bytes.NewReader(out))
		if err != nil {
			t.Fatal(err)
		}
		for k, name := range []string{"A01", "Größe 3"} {
			left := margin + float64(k)*(12+2*12*4/25.0+2)
			mm := func(v float64) int { return int(v * dpi / 25.4) }
			cell := image.Rect(mm(left), mm(30), mm(left+12+2*12*4/25.0), mm(30+12+2*12*4/25.0+3.5))
			card := image.NewNRGBA(image.Rect(0, 0, 800, 600))
			draw.Draw(card, card.Rect, image.NewUniform(color.Gray{118}), image.Point{}, draw.Src)
			draw.Draw(card, cell.Sub(cell.Min).Add(image.Pt(200, 150)), page, cell.Min, draw.Src)
			var file bytes.Buffer
			if err := png.Encode(&file, card); err != nil {
				t.Fatal(err)
			}
			p, err := calib.Decode(file.Bytes())
			if err != nil {
				t.Fatal(err)
			}
			tags, err := p.Tags(nil)
			if err != nil || len(tags) != 1 {
				t.Errorf("%s, tag %d: %d tags found, %v", paper, k+1, len(tags), err)
				continue
			}
			// whole pixels on the page move an edge by up to half of one in 142
			if side := tags[0].Size().SidePx * 25.4 / dpi; tags[0].Name != name || math.Abs(side-12) > 0.03 {
				t.Errorf("%s: %q, %.3f mm wide, want %q and 12 mm", paper, tags[0].Name, side, name)
			}
		}
	}
}

func TestTagSheetPages(t *testing.T) {
	var many []string
	for range 200 {
		many = append(many, "A01")
	}
	sheet, err := TagSheet(many, 12, "A4")
	if err != nil {
		t.Fatal(err)
	}
	again, err := TagSheet(many, 12, "A4")
	if err != nil || !bytes.Equal(sheet, again) {
		t.Errorf("the same sheet twice differs, %v", err)
	}
	if n := bytes.Count(sheet, []byte("/Type /Page\n")); n != 2 {
		t.Errorf("200 tags on %d pages, want 2: 10 across, 12 down", n)
	}
	if _, err := TagSheet([]string{string(make([]byte, 200))}, 12, "A4"); err == nil {
		t.Error("a name of 200 letters made a tag")
	}
}
