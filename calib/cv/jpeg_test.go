//go:build gocv_specific_modules

package cv_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/codec"

	"gocv.io/x/gocv"
)

// OpenCV's own reading of the same files, sample by sample.
func TestJPEGAsOpenCVReadsIt(t *testing.T) {
	for _, name := range []string{"q85.jpg", "progressive.jpg", "restarts.jpg"} {
		file, err := os.ReadFile(filepath.Join("../../testdata/photos", name))
		if err != nil {
			t.Fatal(err)
		}
		bgr, err := gocv.IMDecode(file, gocv.IMReadColor)
		if err != nil || bgr.Empty() {
			t.Fatalf("%s: IMDecode: %v", name, err)
		}
		defer bgr.Close()
		decoded, err := codec.DecodeJPEG(file, bgr.Cols(), bgr.Rows())
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		ours := decoded.Pix8
		theirs := bgr.ToBytes()
		if len(ours) != len(theirs) {
			t.Fatalf("%s: %d samples, want %d", name, len(ours), len(theirs))
		}
		for i := range ours {
			if want := theirs[i-i%3+2-i%3]; ours[i] != want { // they are B G R
				t.Fatalf("%s: sample %d is %d, want %d", name, i, ours[i], want)
			}
		}
	}
}

// photo12MP is a JPEG of 4000 × 3000 px as a phone writes it: about 4 MB, noise
// and all.
func photo12MP(b *testing.B) []byte {
	b.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 4000, 3000))
	random := rand.New(rand.NewPCG(1, 2))
	for i := range m.Pix {
		if i%4 == 3 {
			m.Pix[i] = 255
			continue
		}
		x, y := i/4%4000, i/16000
		noise := random.IntN(9) + random.IntN(9) - 8
		m.Pix[i] = uint8(100 + x/60 + y/80 + 8*(i%4) + noise)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, m, &jpeg.Options{Quality: 92}); err != nil {
		b.Fatal(err)
	}
	return buf.Bytes()
}

// The two ways to read a photo, and the first thing done with it.
func BenchmarkRead12MP(b *testing.B) {
	file := photo12MP(b)
	b.Logf("%d bytes", len(file))
	b.Run("gocv.IMDecode", func(b *testing.B) {
		for b.Loop() {
			m, err := gocv.IMDecode(file, gocv.IMReadColor)
			if err != nil {
				b.Fatal(err)
			}
			m.Close()
		}
	})
	b.Run("calib.Decode", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := calib.Decode(file); err != nil {
				b.Fatal(err)
			}
		}
	})
	turned := append([]byte("\xff\xd8\xff\xe1\x00\x22Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00"), file[2:]...)
	b.Run("calib.Decode, turned", func(b *testing.B) {
		for b.Loop() {
			p, err := calib.Decode(turned)
			if err != nil || p.Width != 3000 {
				b.Fatal(p, err)
			}
		}
	})
	b.Run("gocv.IMDecode, turned", func(b *testing.B) {
		for b.Loop() {
			m, err := gocv.IMDecode(turned, gocv.IMReadColor)
			if err != nil || m.Cols() != 3000 {
				b.Fatal(err)
			}
			m.Close()
		}
	})
	p, err := calib.Decode(file)
	if err != nil {
		b.Fatal(err)
	}
	all := image.Rect(0, 0, p.Width, p.Height)
	b.Run("Linear, step 8", func(b *testing.B) {
		for b.Loop() {
			p.Linear(all, 8)
		}
	})
	b.Run("Linear of 1 MP", func(b *testing.B) {
		for b.Loop() {
			p.Linear(image.Rect(1000, 1000, 2000, 2000), 1)
		}
	})
	b.Run("Image of 1 MP", func(b *testing.B) {
		for b.Loop() {
			p.Image(image.Rect(1000, 1000, 2000, 2000), 1)
		}
	})
}
