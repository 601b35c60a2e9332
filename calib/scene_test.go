package calib

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/disintegration/imaging"
)

// The scene that every file format is tested with: six by four patches of 32 px,
// the colours of the 24-patch target with their chroma reduced where sRGB cannot
// show them, and noise and ripples of a few codes as in any photo. Of a flat
// patch 8 bits hold no colour to 0.3 ΔE00, and JPEG's whole numbers of Cb and Cr
// none to 1.
const (
	patchPx      = 32
	patchesInRow = 6
	sceneWidth   = patchesInRow * patchPx
	sceneHeight  = 4 * patchPx
)

// sceneLight is the scene in linear light, row by row.
func sceneLight(t testing.TB) []LinearRGB {
	t.Helper()
	light := make([]LinearRGB, sceneWidth*sceneHeight)
	random := rand.New(rand.NewPCG(1, 2))
	uneven := func(c, phase float64) float64 {
		codes := 8*math.Sin(phase*2*math.Pi/16) + 6*(random.Float64()-0.5)
		return srgbToLinear(min(max(linearToSRGB(c)+codes/255, 0), 1))
	}
	for i, row := range checkTable(t, "03_target24_lab_d50.csv") {
		v := numbers3(t, row, "L_post", "a_post", "b_post")
		lab := Lab{v[0], v[1], v[2]}
		for _, in := lab.LinearRGB().SRGB(); !in; _, in = lab.LinearRGB().SRGB() {
			lab.A, lab.B = 0.98*lab.A, 0.98*lab.B
		}
		c := lab.LinearRGB()
		for y := range patchPx {
			for x := range patchPx {
				light[(i/patchesInRow*patchPx+y)*sceneWidth+i%patchesInRow*patchPx+x] = LinearRGB{
					uneven(c.R, float64(x)), uneven(c.G, float64(y)), uneven(c.B, float64(x+y))}
			}
		}
	}
	return light
}

// inner is the part of a patch that no format's chroma grid mixes with the next.
func inner(patch int) image.Rectangle {
	x, y := patch%patchesInRow*patchPx, patch/patchesInRow*patchPx
	return image.Rect(x+4, y+4, x+patchPx-4, y+patchPx-4)
}

// paint encodes the scene in the space and curve of a profile with 16 bits.
func paint(t testing.TB, p *profile, curve func(float64) float64) *image.NRGBA64 {
	t.Helper()
	m := image.NewNRGBA64(image.Rect(0, 0, sceneWidth, sceneHeight))
	fromSRGB := p.toSRGB.inverse()
	for i, c := range sceneLight(t) {
		v := fromSRGB.apply([3]float64{c.R, c.G, c.B})
		var s [3]uint16
		for k := range s {
			s[k] = uint16(65535*curve(min(max(v[k], 0), 1)) + 0.5)
		}
		m.SetNRGBA64(i%sceneWidth, i/sceneWidth, color.NRGBA64{s[0], s[1], s[2], 65535})
	}
	return m
}

// checkScene fails unless every patch of the upright photo has its mean colour.
func checkScene(t *testing.T, name string, p *Photo, tolerance float64) {
	t.Helper()
	if p.Width != sceneWidth || p.Height != sceneHeight {
		t.Errorf("%s: %d × %d px, want %d × %d", name, p.Width, p.Height, sceneWidth, sceneHeight)
		return
	}
	light := sceneLight(t)
	worst := 0.0
	for patch := range 24 {
		r := inner(patch)
		var sum LinearRGB
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for _, c := range light[y*sceneWidth+r.Min.X : y*sceneWidth+r.Max.X] {
				sum = LinearRGB{sum.R + c.R, sum.G + c.G, sum.B + c.B}
			}
		}
		n := float64(r.Dx() * r.Dy())
		want := LinearRGB{sum.R / n, sum.G / n, sum.B / n}.Lab()
		c := p.Linear(r, r.Dx()).At(0, 0)
		got := LinearRGB{float64(c[0]), float64(c[1]), float64(c[2])}.Lab()
		d := DeltaE2000(want, got)
		if !(d <= tolerance) {
			t.Errorf("%s: patch %d is %.2f, want %.2f, ΔE00 %.2f, at most %g allowed", name, patch+1, got, want, d, tolerance)
		}
		worst = max(worst, d)
	}
	t.Logf("%s (%s): ΔE00 %.3f at most", name, p.Profile, worst)
}

// stored is the picture as a camera held at that EXIF orientation stores it, by
// an independent library.
func stored(m image.Image, orientation int) image.Image {
	switch orientation {
	case 2:
		return imaging.FlipH(m)
	case 3:
		return imaging.Rotate180(m)
	case 4:
		return imaging.FlipV(m)
	case 5:
		return imaging.Transpose(m)
	case 6:
		return imaging.Rotate90(m) // counter-clockwise: undone by a quarter turn clockwise
	case 7:
		return imaging.Transverse(m)
	case 8:
		return imaging.Rotate270(m)
	}
	return m
}

// exifBlock is a TIFF structure with an orientation, and with the DCF option
// for Adobe RGB when adobe is set. order is "II" or "MM".
func exifBlock(order string, orientation int, adobe bool) []byte {
	var o binary.AppendByteOrder = binary.LittleEndian
	if order == "MM" {
		o = binary.BigEndian
	}
	b := o.AppendUint32(o.AppendUint16([]byte(order), 42), 8)
	short := func(tag, value int) {
		b = o.AppendUint16(o.AppendUint32(o.AppendUint16(o.AppendUint16(b, uint16(tag)), 3), 1), uint16(value))
		b = append(b, 0, 0)
	}
	pointer := func(tag int, to uint32) {
		b = o.AppendUint32(o.AppendUint32(o.AppendUint16(o.AppendUint16(b, uint16(tag)), 4), 1), to)
	}
	b = o.AppendUint16(b, 2)
	short(tagOrientation, orientation)
	pointer(tagExif, uint32(len(b)+12+4))
	b = o.AppendUint32(b, 0)
	if !adobe {
		b = o.AppendUint16(b, 1)
		short(tagColourSpace, 1)
		return o.AppendUint32(b, 0)
	}
	b = o.AppendUint16(b, 2)
	short(tagColourSpace, 0xffff)
	pointer(tagInterop, uint32(len(b)+12+4))
	b = o.AppendUint32(b, 0)
	b = o.AppendUint16(b, 1)
	b = o.AppendUint32(o.AppendUint16(o.AppendUint16(b, tagInteropID), 2), 4)
	b = append(b, "R03\x00"...)
	return o.AppendUint32(b, 0)
}

// jpegWith is the picture as a JPEG file with segments put in after its first
// mark.
func jpegWith(t testing.TB, m image.Image, quality int, segments ...[]byte) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, m, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	file := []byte("\xff\xd8")
	for _, s := range segments {
		file = append(file, s...)
	}
	return append(file, buf.Bytes()[2:]...)
}

func segment(marker byte, body ...[]byte) []byte {
	joined := bytes.Join(body, nil)
	s := binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(joined)+2))
	return append(s, joined...)
}

func exifSegment(block []byte) []byte { return segment(0xe1, []byte("Exif\x00\x00"), block) }

// iccSegments splits a profile into so many segments.
func iccSegments(icc []byte, n int) []byte {
	var all []byte
	for i := range n {
		part := icc[i*len(icc)/n : (i+1)*len(icc)/n]
		all = append(all, segment(0xe2, []byte("ICC_PROFILE\x00"), []byte{byte(i + 1), byte(n)}, part)...)
	}
	return all
}

// pngWith is the picture as a PNG file with chunks put in after its header.
func pngWith(t testing.TB, m image.Image, chunks ...[]byte) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := png.Encode(&buf, m); err != nil {
		t.Fatal(err)
	}
	const afterIHDR = 8 + 12 + 13
	file := bytes.Clone(buf.Bytes()[:afterIHDR])
	for _, c := range chunks {
		file = append(file, c...)
	}
	return append(file, buf.Bytes()[afterIHDR:]...)
}

func chunk(kind string, body []byte) []byte {
	c := append(binary.BigEndian.AppendUint32(nil, uint32(len(body))), kind...)
	c = append(c, body...)
	return binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
}

func iccChunk(icc []byte) []byte {
	var buf bytes.Buffer
	buf.WriteString("name\x00\x00")
	z := zlib.NewWriter(&buf)
	z.Write(icc)
	z.Close()
	return chunk("iCCP", buf.Bytes())
}

// tiffFile is an uncompressed TIFF file of 8 or 16 bits.
func tiffFile(m image.Image, order string, bits, orientation int, icc []byte) []byte {
	var o binary.AppendByteOrder = binary.LittleEndian
	if order == "MM" {
		o = binary.BigEndian
	}
	b := m.Bounds()
	var strip []byte
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := m.At(x, y).RGBA()
			for _, s := range []uint32{r, g, bl} {
				if bits == 16 {
					strip = o.AppendUint16(strip, uint16(s))
				} else {
					strip = append(strip, uint8((s*255+32767)/65535))
				}
			}
		}
	}
	bitsPerSample := o.AppendUint16(o.AppendUint16(o.AppendUint16(nil, uint16(bits)), uint16(bits)), uint16(bits))
	file := o.AppendUint16([]byte(order), 42)
	file = o.AppendUint32(file, uint32(8+len(strip)+len(bitsPerSample)+len(icc)+len(icc)%2))
	file = append(append(file, strip...), bitsPerSample...)
	file = append(append(file, icc...), make([]byte, len(icc)%2)...)
	atBits := uint32(8 + len(strip))
	entries := [][4]uint32{ // tag, kind, count, value
		{tagWidth, 3, 1, uint32(b.Dx())}, {tagHeight, 3, 1, uint32(b.Dy())}, {tagBits, 3, 3, atBits},
		{259, 3, 1, 1}, {tagPhotometric, 3, 1, 2}, {273, 4, 1, 8}, {tagOrientation, 3, 1, uint32(orientation)},
		{277, 3, 1, 3}, {278, 3, 1, uint32(b.Dy())}, {279, 4, 1, uint32(len(strip))},
	}
	if icc != nil {
		entries = append(entries, [4]uint32{tagICC, 7, uint32(len(icc)), atBits + 6})
	}
	file = o.AppendUint16(file, uint16(len(entries)))
	for _, e := range entries {
		file = o.AppendUint32(o.AppendUint16(o.AppendUint16(file, uint16(e[0])), uint16(e[1])), e[2])
		if e[1] == 3 && e[2] == 1 {
			file = append(o.AppendUint16(file, uint16(e[3])), 0, 0)
		} else {
			file = o.AppendUint32(file, e[3])
		}
	}
	return o.AppendUint32(file, 0)
}
