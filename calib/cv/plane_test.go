//go:build gocv_specific_modules

package cv

import (
	"encoding/csv"
	"image"
	"math"
	"os"
	"strconv"
	"testing"
)

// cosine is a picture of one wavelength, in px, running along x.
func cosine(side int, wavelength float64) Plane {
	p := NewPlane(side, side)
	for i := range p.Pix {
		p.Pix[i] = float32(math.Cos(2 * math.Pi * (float64(i%side) + 0.5) / wavelength))
	}
	return p
}

// amplitude is that of the wave in the middle of the picture, where no border
// is felt, by correlation over a whole number of periods.
func amplitude(p Plane, wavelength float64, from, to int) float64 {
	s, n := 0.0, 0.0
	row := p.Pix[p.Height/2*p.Width:]
	for x := from; x < to; x++ {
		w := math.Cos(2 * math.Pi * (float64(x) + 0.5) / wavelength)
		s, n = s+w*float64(row[x]), n+w*w
	}
	return s / n
}

// ISO 16610-21: a Gaussian of cut-off λc passes 2^−(λc/λ)² of a wave λ long,
// with σ = α·λc/√(2π) and α = √(ln 2/π). A sampled, cut-off kernel is to keep
// that to 0.001; the reduced copy that wide ones work on promises 1 % of a step.
func TestGaussianTransmission(t *testing.T) {
	f, err := os.Open("../../testdata/check/08_gaussian_filter_transmission.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) != 21 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	alpha := math.Sqrt(math.Ln2 / math.Pi)
	for _, c := range []struct {
		cutoff    float64 // px
		side      int
		tolerance float64
	}{{16, 480, 0.001}, {60, 1200, 0.01}} { // σ = 3.0 and 11.2 px: as it is, and on a third
		sigma := alpha * c.cutoff / math.Sqrt(2*math.Pi)
		worst := 0.0
		for _, row := range rows[1:] {
			ratio, err1 := strconv.ParseFloat(row[0], 64)
			want, err2 := strconv.ParseFloat(row[1], 64)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			wavelength := ratio * c.cutoff
			if wavelength < 4 || wavelength > float64(c.side)/2 {
				continue // nearly beyond what pixels can hold, or too long for the picture
			}
			smooth, err := Gaussian(cosine(c.side, wavelength), sigma)
			if err != nil {
				t.Fatal(err)
			}
			periods := math.Floor(float64(c.side) / 2 / wavelength)
			from := c.side/2 - int(periods*wavelength/2)
			got := amplitude(smooth, wavelength, from, from+int(math.Round(periods*wavelength)))
			worst = max(worst, math.Abs(got-want))
			if !(math.Abs(got-want) <= c.tolerance) {
				t.Errorf("σ %.2f px, wave %.1f px: %.5f passes, want %.5f ± %g", sigma, wavelength, got, want, c.tolerance)
			}
		}
		t.Logf("σ %.2f px: off by %.5f at most", sigma, worst)
	}
}

func box(w, h int, parts ...image.Rectangle) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, w, h))
	for _, r := range parts {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.Pix[y*w+x] = 255
			}
		}
	}
	return m
}

func TestBlobsPartsOutline(t *testing.T) {
	small, large := image.Rect(2, 3, 5, 7), image.Rect(10, 4, 18, 14)
	m := box(24, 20, small, large)
	m.Pix[7*24+5] = 255 // touches the small one's corner: still the same part
	labels, blobs, err := Blobs(m)
	if err != nil || len(blobs) != 2 {
		t.Fatalf("%d blobs, %v", len(blobs), err)
	}
	if b := blobs[0]; b.Area != 13 || b.Bounds != image.Rect(2, 3, 6, 8) || labels[7*24+5] != b.Label {
		t.Errorf("small one is %+v", b)
	}
	if b := blobs[1]; b.Area != 80 || b.Bounds != large || b.X != 13.5 || b.Y != 8.5 {
		t.Errorf("large one is %+v", b)
	}
	parts, err := Parts(m)
	if err != nil || len(parts) != 2 || parts[0].Pix[4*24+10] == 0 || parts[1].Pix[7*24+5] == 0 || parts[0].Pix[7*24+5] != 0 {
		t.Errorf("the largest part must come first: %d parts, %v", len(parts), err)
	}
	line, err := Outline(m)
	if err != nil || len(line) != 2*(8+10)-4 {
		t.Errorf("outline of 8×10 px has %d places, want 32, %v", len(line), err)
	}
	for _, p := range line {
		if !p.In(large) || p.In(large.Inset(1)) {
			t.Errorf("%v is not on the border of %v", p, large)
		}
	}
	if line, err := Outline(box(8, 8)); line != nil || err != nil {
		t.Errorf("nothing has the outline %v, %v", line, err)
	}
}

func TestLog(t *testing.T) {
	p := NewPlane(301, 7)
	for i := range p.Pix {
		p.Pix[i] = float32(i) / 500
	}
	got, err := Log(p, 0.03)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range p.Pix {
		if want := math.Log(float64(v) + 0.03); !(math.Abs(float64(got.Pix[i])-want) < 1e-6) {
			t.Fatalf("of %g: %g, want %g", v, got.Pix[i], want)
		}
	}
}

func TestWrongSizes(t *testing.T) {
	if _, err := Gaussian(Plane{Width: 3, Height: 3, Pix: make([]float32, 8)}, 1); err == nil {
		t.Error("8 samples pass for 3 × 3 px")
	}
	if _, err := Gaussian(Plane{}, 1); err == nil {
		t.Error("an empty plane passes")
	}
	if _, err := Distance(image.NewGray(image.Rectangle{})); err == nil {
		t.Error("an empty mask passes")
	}
	if _, _, err := Blobs(box(20, 20).SubImage(image.Rect(2, 2, 9, 9)).(*image.Gray)); err == nil {
		t.Error("a part of a mask passes, whose rows lie apart")
	}
}
