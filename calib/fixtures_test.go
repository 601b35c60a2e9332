package calib

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

var rewrite = flag.Bool("rewrite", false, "make the files in testdata/photos anew; needs cjpeg, heif-enc and avifenc")

const photosFolder = "../testdata/photos"

// A fixture is the scene as another program writes it, in a form that Go cannot
// write itself.
type fixture struct {
	name      string
	profile   string
	tolerance float64  // ΔE00: 0.3 where little is lost, 1 for lossy files
	source    string   // the file it is made from, see sources
	command   []string // SOURCE and FILE stand for the two names
}

var fixtures = []fixture{
	{"q85.jpg", assumedName, 1, "srgb.ppm", []string{"cjpeg", "-quality", "85", "-outfile", "FILE", "SOURCE"}},
	{"progressive.jpg", assumedName, 1, "srgb.ppm", []string{"cjpeg", "-quality", "90", "-progressive", "-sample", "1x1", "-outfile", "FILE", "SOURCE"}},
	{"restarts.jpg", assumedName, 1, "srgb.ppm", []string{"cjpeg", "-quality", "90", "-restart", "1", "-outfile", "FILE", "SOURCE"}},
	{"p3.heic", "Display P3", 1, "p3-8.png", []string{"heif-enc", "-q", "85", "-o", "FILE", "SOURCE"}},
	{"p3-10bit.heic", "Display P3", 1, "p3-16.png", []string{"heif-enc", "-q", "85", "-b", "10", "-o", "FILE", "SOURCE"}},
	{"adobe-rgb.heic", "Adobe RGB", 1, "adobe-8.png", []string{"heif-enc", "-q", "85", "-o", "FILE", "SOURCE"}},
	{"srgb-coded.avif", "sRGB", 1, "srgb-8.png", []string{"avifenc", "--cicp", "1/13/6", "--min", "0", "--max", "12", "SOURCE", "FILE"}},
	{"p3-coded-10bit.avif", "Display P3", 0.3, "p3-bare-16.png", []string{"avifenc", "--cicp", "12/13/6", "-d", "10", "--min", "0", "--max", "10", "SOURCE", "FILE"}},
	{"adobe-rgb-12bit.avif", "Adobe RGB", 0.3, "adobe-16.png", []string{"avifenc", "-d", "12", "--min", "0", "--max", "10", "SOURCE", "FILE"}},
	{"grid.avif", "sRGB", 1, "srgb-8.png", []string{"avifenc", "--cicp", "1/13/6", "--min", "0", "--max", "12", "--grid", "2x2", "SOURCE", "FILE"}},
	// As phones write them: irot and, for those who look no further, EXIF.
	{"turned-right.avif", "sRGB", 1, "turned-6.png", []string{"avifenc", "--cicp", "1/13/6", "--min", "0", "--max", "12", "--irot", "3", "--exif", "exif-6", "SOURCE", "FILE"}},
	{"upside-down.avif", "sRGB", 1, "turned-3.png", []string{"avifenc", "--cicp", "1/13/6", "--min", "0", "--max", "12", "--irot", "2", "--exif", "exif-3", "SOURCE", "FILE"}},
	{"turned-left.avif", "sRGB", 1, "turned-8.png", []string{"avifenc", "--cicp", "1/13/6", "--min", "0", "--max", "12", "--irot", "1", "--exif", "exif-8", "SOURCE", "FILE"}},
	{"named.avif", "sRGB", 1, "srgb-8.png", []string{"avifenc", "--cicp", "1/13/6", "--min", "0", "--max", "12", "--exif", "exif-camera", "SOURCE", "FILE"}},
}

func TestFixtures(t *testing.T) {
	if *rewrite {
		writeFixtures(t)
	}
	for _, f := range fixtures {
		p, err := Open(filepath.Join(photosFolder, f.name))
		if err != nil {
			t.Errorf("%s: %v", f.name, err)
			continue
		}
		if p.Profile != f.profile || len(p.Notes) != 0 {
			t.Errorf("%s: profile %q, notes %q, want %q", f.name, p.Profile, p.Notes, f.profile)
		}
		checkScene(t, f.name, p, f.tolerance)
	}
}

func writeFixtures(t *testing.T) {
	folder := t.TempDir()
	srgb := paint(t, sRGB, linearToSRGB)
	p3, adobe := paint(t, displayP3, linearToSRGB), paint(t, adobeRGB, gammaCurve(256.0/563))
	iccP3, iccAdobe := buildICC(4, p3Space, paraSRGB), buildICC(2, adobeRGBSpace, curv(563))
	ppm := []byte("P6 192 128 255\n")
	ppm = append(ppm, dropAlpha8(to8(srgb).Pix)...)
	for name, data := range map[string][]byte{
		"srgb.ppm":       ppm,
		"srgb-8.png":     pngWith(t, to8(srgb)),
		"p3-8.png":       pngWith(t, to8(p3), iccChunk(iccP3)),
		"p3-16.png":      pngWith(t, p3, iccChunk(iccP3)),
		"p3-bare-16.png": pngWith(t, p3),
		"adobe-8.png":    pngWith(t, to8(adobe), iccChunk(iccAdobe)),
		"adobe-16.png":   pngWith(t, adobe, iccChunk(iccAdobe)),
		"turned-3.png":   pngWith(t, stored(to8(srgb), 3)),
		"turned-6.png":   pngWith(t, stored(to8(srgb), 6)),
		"turned-8.png":   pngWith(t, stored(to8(srgb), 8)),
		"exif-3":         exifBlock("MM", 3, false),
		"exif-6":         exifBlock("MM", 6, false),
		"exif-8":         exifBlock("MM", 8, false),
		"exif-camera":    exifOfCamera(),
	} {
		if err := os.WriteFile(filepath.Join(folder, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	target, err := filepath.Abs(photosFolder)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range fixtures {
		words := append([]string(nil), f.command...)
		for i, w := range words {
			switch w {
			case "SOURCE":
				words[i] = f.source
			case "FILE":
				words[i] = filepath.Join(target, f.name)
			}
		}
		cmd := exec.Command(words[0], words[1:]...)
		cmd.Dir = folder
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v: %s", f.name, err, out)
		}
	}
}
