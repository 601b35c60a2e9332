package calib

import (
	"bytes"
	"image"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// decodeAnything must end in a sound photo or in an error.
func decodeAnything(t *testing.T, file []byte) {
	if h, err := readHeader(file); err != nil || h.width*h.height > 1<<21 {
		t.Skip() // large ones only take time
	}
	p, err := Decode(file)
	if err != nil {
		if p != nil || err.Error() == "" {
			t.Fatalf("a photo beside the error %q", err)
		}
		return
	}
	if p.Width <= 0 || p.Height <= 0 || max(len(p.pix8), len(p.pix16)) != 3*p.Width*p.Height || p.Profile == "" {
		t.Fatalf("%d × %d px, %d and %d samples, profile %q", p.Width, p.Height, len(p.pix8), len(p.pix16), p.Profile)
	}
	for _, v := range p.Linear(image.Rect(0, 0, p.Width, p.Height), 8).Pix {
		if !(math.Abs(float64(v)) < 100) {
			t.Fatalf("linear light %g", v)
		}
	}
}

func addFixtures(f *testing.F, suffixes ...string) {
	for _, fixture := range fixtures {
		for _, s := range suffixes {
			if strings.HasSuffix(fixture.name, s) {
				file, err := os.ReadFile(filepath.Join(photosFolder, fixture.name))
				if err != nil {
					f.Fatal(err)
				}
				f.Add(file)
				f.Add(file[:len(file)/2])
			}
		}
	}
}

// JPEG, PNG and TIFF with everything that can stand beside the picture.
func FuzzDecode(f *testing.F) {
	addFixtures(f, ".jpg")
	whole := to8(paint(f, displayP3, linearToSRGB))
	m := whole.SubImage(image.Rect(28, 28, 48, 44)) // small files are changed more often
	icc, exif := buildICC(4, p3Space, paraSRGB), exifBlock("MM", 6, true)
	for _, file := range [][]byte{
		jpegWith(f, m, 90, exifSegment(exif), iccSegments(icc, 2)),
		pngWith(f, m, iccChunk(icc), chunk("eXIf", exif)),
		pngWith(f, m, chunk("cICP", []byte{12, 13, 0, 1}), chunk("sRGB", []byte{0})),
		pngWith(f, m, chunk("gAMA", []byte{0, 0, 0xb1, 0x8f}), chunk("cHRM", make([]byte, 32))),
		tiffFile(m, "II", 8, 6, icc),
		tiffFile(m, "MM", 16, 3, icc),
	} {
		f.Add(file)
		f.Add(file[:len(file)/2])
	}
	f.Fuzz(decodeAnything)
}

// HEIC and AVIF. Most of what runs is libheif.
func FuzzDecodeHEIF(f *testing.F) {
	addFixtures(f, ".heic", ".avif")
	f.Fuzz(decodeAnything)
}

func FuzzICC(f *testing.F) {
	for _, icc := range profilesToTest() {
		f.Add(icc)
		f.Add(icc[:len(icc)/2])
	}
	f.Fuzz(func(t *testing.T, icc []byte) {
		p, err := readICC(icc)
		if err != nil {
			return
		}
		for k := range 3 {
			for i := range 256 {
				if y := p.curves[k](float64(i) / 255); !(y > -0.2 && y < 1.2) {
					t.Fatalf("curve %d of level %d is %g", k, i, y)
				}
			}
		}
		if !p.toSRGB.sensible() || p.name == "" || strings.ContainsFunc(p.name, func(r rune) bool { return r < ' ' || r > '~' }) {
			t.Fatalf("profile %q with matrix %v", p.name, p.toSRGB)
		}
	})
}

func FuzzEXIF(f *testing.F) {
	for _, order := range []string{"II", "MM"} {
		for _, adobe := range []bool{false, true} {
			f.Add(exifBlock(order, 6, adobe))
		}
	}
	f.Add(tiffFile(image.NewNRGBA(image.Rect(0, 0, 1, 1)), "II", 8, 1, []byte("icc")))
	f.Fuzz(func(t *testing.T, block []byte) {
		before := bytes.Clone(block)
		var h header
		h.readExif(block)
		if !bytes.Equal(block, before) {
			t.Fatal("the block was written to")
		}
		if len(h.notes) > 1 {
			t.Fatalf("notes %q", h.notes)
		}
	})
}
