package calib

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func decode(t *testing.T, name string, file []byte) *Photo {
	t.Helper()
	p, err := Decode(file)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return p
}

// One scene, every lossless form and JPEG, three colour spaces: the same Lab.
// The tolerances are the job's: 0.3 ΔE00, of JPEG 1.
func TestSameSceneSameLab(t *testing.T) {
	for _, s := range []struct {
		name  string
		p     *profile
		curve func(float64) float64
		icc   []byte
	}{
		{"sRGB", sRGB, linearToSRGB, buildICC(4, srgbSpace, paraSRGB)},
		{"Display P3", displayP3, linearToSRGB, buildICC(4, p3Space, paraSRGB)},
		{"Adobe RGB", adobeRGB, gammaCurve(256.0 / 563), buildICC(2, adobeRGBSpace, curv(563))},
	} {
		m := paint(t, s.p, s.curve)
		m8 := to8(m)
		for _, f := range []struct {
			name      string
			file      []byte
			tolerance float64
		}{
			{"JPEG", jpegWith(t, m8, 90, iccSegments(s.icc, 1)), 1},
			{"JPEG, profile in three parts", jpegWith(t, m8, 90, iccSegments(s.icc, 3)), 1},
			{"PNG 8", pngWith(t, m8, iccChunk(s.icc)), 0.3},
			{"PNG 16", pngWith(t, m, iccChunk(s.icc)), 0.01},
			{"TIFF 8", tiffFile(m, "II", 8, 1, s.icc), 0.3},
			{"TIFF 16", tiffFile(m, "MM", 16, 1, s.icc), 0.01},
		} {
			name := s.name + " " + f.name
			p := decode(t, name, f.file)
			if p.Profile != s.name || len(p.Notes) != 0 {
				t.Errorf("%s: profile %q, notes %q", name, p.Profile, p.Notes)
			}
			checkScene(t, name, p, f.tolerance)
		}
	}
}

// to8 rounds where the standard library's conversions cut off.
func to8(m *image.NRGBA64) *image.NRGBA {
	n := image.NewNRGBA(m.Rect)
	for i := range n.Pix {
		n.Pix[i] = uint8((int(m.Pix[2*i])<<8 + int(m.Pix[2*i+1]) + 128) / 257)
	}
	return n
}

// Colour spaces named by something other than a profile.
func TestNamedSpaces(t *testing.T) {
	plain, p3, adobe := paint(t, sRGB, linearToSRGB), paint(t, displayP3, linearToSRGB), paint(t, adobeRGB, gammaCurve(256.0/563))
	linear := paint(t, sRGB, gammaCurve(1))
	gAMA := func(v uint32) []byte {
		return chunk("gAMA", []byte{byte(v >> 24), byte(v >> 16), byte(v >> 8), byte(v)})
	}
	var cHRM []byte // of Display P3, white first
	for _, v := range []uint32{31270, 32900, 68000, 32000, 26500, 69000, 15000, 6000} {
		cHRM = append(cHRM, byte(v>>24), byte(v>>16), byte(v>>8), byte(v))
	}
	for _, c := range []struct {
		name, profile string
		file          []byte
		tolerance     float64
	}{
		{"JPEG, nothing", assumedName, jpegWith(t, plain, 90), 1},
		{"JPEG, EXIF sRGB", "sRGB", jpegWith(t, plain, 90, exifSegment(exifBlock("II", 1, false))), 1},
		{"JPEG, EXIF Adobe RGB", "Adobe RGB (named by EXIF)", jpegWith(t, adobe, 90, exifSegment(exifBlock("MM", 1, true))), 1},
		{"JPEG, profile before EXIF", "Display P3", jpegWith(t, p3, 90, exifSegment(exifBlock("MM", 1, true)), iccSegments(buildICC(4, p3Space, paraSRGB), 1)), 1},
		{"PNG, nothing", assumedName, pngWith(t, plain), 0.01},
		{"PNG, sRGB", "sRGB", pngWith(t, plain, chunk("sRGB", []byte{0})), 0.01},
		{"PNG, gAMA", "sRGB", pngWith(t, plain, gAMA(45455)), 0.01},
		{"PNG, gAMA and cHRM", "sRGB curve (from the file's gAMA)", pngWith(t, p3, gAMA(45455), chunk("cHRM", cHRM)), 0.01},
		{"PNG, linear gAMA", "gamma 1.00 (from the file's gAMA)", pngWith(t, linear, gAMA(100000)), 0.02},
		{"PNG, cICP", "Display P3", pngWith(t, p3, chunk("cICP", []byte{12, 13, 0, 1}), iccChunk(buildICC(4, srgbSpace, paraSRGB))), 0.01},
		{"TIFF, nothing", assumedName, tiffFile(plain, "II", 16, 1, nil), 0.01},
	} {
		p := decode(t, c.name, c.file)
		if p.Profile != c.profile || len(p.Notes) != 0 {
			t.Errorf("%s: profile %q, notes %q, want %q", c.name, p.Profile, p.Notes, c.profile)
		}
		checkScene(t, c.name, p, c.tolerance)
	}
}

// All eight orientations of EXIF 2.3, applied once.
func TestOrientation(t *testing.T) {
	m := paint(t, sRGB, linearToSRGB)
	for orientation := 1; orientation <= 8; orientation++ {
		turned := stored(m, orientation)
		for _, f := range []struct {
			name      string
			file      []byte
			tolerance float64
		}{
			{"JPEG", jpegWith(t, turned, 95, exifSegment(exifBlock("MM", orientation, false))), 1},
			{"PNG", pngWith(t, turned, chunk("eXIf", exifBlock("II", orientation, false))), 0.3},
			{"TIFF 8", tiffFile(turned, "MM", 8, orientation, nil), 0.3},
			{"TIFF 16", tiffFile(turned, "II", 16, orientation, nil), 0.3}, // the turning library has 8 bits
		} {
			name := fmt.Sprintf("%s, orientation %d", f.name, orientation)
			checkScene(t, name, decode(t, name, f.file), f.tolerance)
		}
	}
	for _, strange := range []int{0, 9, 65535} {
		name := fmt.Sprintf("orientation %d", strange)
		checkScene(t, name, decode(t, name, jpegWith(t, m, 95, exifSegment(exifBlock("II", strange, false)))), 1)
	}
}

// Damage beside the picture does not cost the photo, but is told.
func TestDamagedExtras(t *testing.T) {
	m := paint(t, sRGB, linearToSRGB)
	icc := buildICC(4, p3Space, paraSRGB)
	third := iccSegments(icc, 3)[:18+len(icc)/3] // two parts are missing
	padded := append(bytes.Clone(icc), make([]byte, len(icc))...)
	half := iccSegments(padded, 2)[:18+len(icc)] // what is missing says nothing
	exif := exifBlock("II", 1, true)
	for name, file := range map[string][]byte{
		"EXIF cut short":           jpegWith(t, m, 95, exifSegment(exif[:len(exif)-24])),
		"EXIF of random bytes":     jpegWith(t, m, 95, exifSegment([]byte("IIxxIIxxIIxxIIxx"))),
		"EXIF empty":               jpegWith(t, m, 95, exifSegment(nil)),
		"profile of random bytes":  jpegWith(t, m, 95, iccSegments(bytes.Repeat([]byte("junk"), 99), 1)),
		"profile parts missing":    jpegWith(t, m, 95, third),
		"profile padding missing":  jpegWith(t, m, 95, half),
		"profile cut short":        jpegWith(t, m, 95, iccSegments(icc[:len(icc)/2], 1)),
		"PNG profile not deflated": pngWith(t, m, chunk("iCCP", []byte("name\x00\x00junkjunkjunk"))),
		"PNG profile cut short":    pngWith(t, m, iccChunk(icc[:200])),
		"TIFF profile":             tiffFile(m, "II", 8, 1, []byte("junk")),
	} {
		p := decode(t, name, file)
		if len(p.Notes) != 1 || !strings.Contains(p.Notes[0], "damaged") {
			t.Errorf("%s: notes %q, want one about damage", name, p.Notes)
		}
		checkScene(t, name, p, 1)
	}
}

func TestRefused(t *testing.T) {
	m := paint(t, sRGB, linearToSRGB)
	whole := jpegWith(t, m, 95)
	grey := image.NewGray(image.Rect(0, 0, 8, 8))
	clear := image.NewNRGBA(image.Rect(0, 0, 8, 8))
	var greyJPEG bytes.Buffer
	if err := jpeg.Encode(&greyJPEG, grey, nil); err != nil {
		t.Fatal(err)
	}
	pngFile := pngWith(t, m)
	table := bytes.Replace(buildICC(4, p3Space, paraSRGB), []byte("rXYZ"), []byte("A2B0"), 1)
	middle := bytes.Clone(whole)
	copy(middle[len(middle)/2:], bytes.Repeat([]byte("\xff\x00"), 20)) // all ones is no Huffman code
	inks := bytes.Clone(whole)
	inks[bytes.Index(inks, []byte("\xff\xc0"))+9] = 4
	planes := tiffFile(m, "II", 8, 1, nil) // rows per strip, not needed, becomes the planar configuration
	planes = bytes.Replace(planes, []byte{22, 1, 3, 0, 1, 0, 0, 0, sceneHeight}, []byte{28, 1, 3, 0, 1, 0, 0, 0, 2}, 1)
	stray := append(bytes.Clone(whole[:len(whole)-2]), make([]byte, 40)...)
	stray = append(stray, "\xff\xd9"...)
	raw := tiffFile(m, "II", 8, 1, nil)
	raw = bytes.Replace(raw, []byte{6, 1, 3, 0, 1, 0, 0, 0, 2, 0}, []byte{6, 1, 3, 0, 1, 0, 0, 0, 0x23, 0x80}, 1) // sensor data
	for _, c := range []struct {
		name string
		file []byte
		want error
		says string
	}{
		{"empty file", nil, ErrNotPhoto, "neither"},
		{"text", []byte("piece,powder\nA01,blue\n"), ErrNotPhoto, "neither"},
		{"JPEG cut short", whole[:len(whole)*2/3], ErrCutShort, "cut short"},
		{"JPEG without its last bytes", whole[:len(whole)-2], ErrCutShort, "cut short"},
		{"JPEG header only", whole[:300], ErrCutShort, "cut short"},
		{"JPEG with zeros for its second half", append(bytes.Clone(whole[:len(whole)/2]), make([]byte, len(whole)/2)...), ErrCutShort, "cut short"},
		{"JPEG damaged in the middle", middle, ErrDamaged, "damaged"},
		{"JPEG whose data go on after the picture", stray, ErrDamaged, "damaged"},
		{"JPEG of too many scans", manyScans(t), ErrDamaged, "damaged"},
		{"JPEG, black and white", greyJPEG.Bytes(), ErrUnsupported, "black and white"},
		{"JPEG, table profile", jpegWith(t, m, 90, iccSegments(table, 1)), ErrUnsupported, "export it as sRGB"},
		{"PNG cut short", pngFile[:len(pngFile)/2], ErrCutShort, "cut short"},
		{"PNG with a wrong checksum", bytes.Replace(pngFile, []byte("IDAT"), []byte("IDAT\xff"), 1)[:len(pngFile)], ErrCutShort, "cut short"},
		{"PNG, black and white", pngWith(t, grey), ErrUnsupported, "black and white"},
		{"PNG, transparent", pngWith(t, clear), ErrUnsupported, "transparent"},
		{"PNG, high dynamic range", pngWith(t, m, chunk("cICP", []byte{9, 16, 0, 1})), ErrUnsupported, "high dynamic range"},
		{"TIFF cut short", tiffFile(m, "II", 8, 1, nil)[:2000], ErrCutShort, "cut short"},
		{"JPEG of four inks", inks, ErrUnsupported, "CMYK"},
		{"TIFF, plane by plane", planes, ErrUnsupported, "plane by plane"},
		{"raw file", raw, ErrUnsupported, "raw sensor data"},
	} {
		p, err := Decode(c.file)
		if err == nil {
			t.Errorf("%s: read as %d × %d px", c.name, p.Width, p.Height)
			continue
		}
		if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q, want %q saying %q", c.name, err, c.want, c.says)
		}
	}
}

// manyScans is a progressive file whose last scan is repeated.
func manyScans(t *testing.T) []byte {
	file, err := os.ReadFile(filepath.Join(photosFolder, "progressive.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	last := file[bytes.LastIndex(file, []byte("\xff\xda")) : len(file)-2]
	return append(append(file[:len(file)-2:len(file)-2], bytes.Repeat(last, 200)...), "\xff\xd9"...)
}

// Some cameras pad the end of a picture with a few bytes.
func TestStrayBytes(t *testing.T) {
	whole := jpegWith(t, paint(t, sRGB, linearToSRGB), 95)
	file := append(bytes.Clone(whole[:len(whole)-2]), 0, 0, 0, 0, 0xff, 0xd9)
	checkScene(t, "four stray bytes", decode(t, "four stray bytes", file), 1)
	checkScene(t, "a film after the picture", decode(t, "a film after the picture", append(whole, make([]byte, 5000)...)), 1)
}

// Headers that promise too much are refused before anything is decoded.
func TestBombs(t *testing.T) {
	huge := func(w, h uint32) []byte {
		m := pngWith(t, image.NewNRGBA(image.Rect(0, 0, 1, 1)))
		for i, v := range []uint32{w, h} {
			m[16+4*i], m[17+4*i], m[18+4*i], m[19+4*i] = byte(v>>24), byte(v>>16), byte(v>>8), byte(v)
		}
		return m
	}
	var tooLarge TooLargeError
	if _, err := Decode(huge(30000, 30000)); !errors.As(err, &tooLarge) || tooLarge != (TooLargeError{30000, 30000}) {
		t.Errorf("900 megapixels: %v", err)
	}
	if _, err := Decode(huge(1<<31-1, 1<<31-1)); !errors.As(err, &tooLarge) {
		t.Errorf("largest PNG: %v", err)
	}
	if _, err := Decode(huge(0, 5)); !errors.Is(err, ErrNotPhoto) {
		t.Errorf("no pixels: %v", err)
	}
	if _, err := Decode(huge(10000, 10000)); !errors.Is(err, ErrNotPhoto) {
		t.Errorf("100 megapixels in a hundred bytes: %v", err)
	}
}
