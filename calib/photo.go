// Package calib turns a photograph on a grey card into colours one can stand
// behind: reading the file, linear light, the card, CIELAB and colour
// differences.
package calib

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"slices"

	"jigloupe/calib/codec"

	"github.com/disintegration/imaging"
	"golang.org/x/image/tiff"
)

// Photo is an upright photograph as its file encodes it, with what is needed to
// bring any part of it to linear light. It may be read by several goroutines; the
// last one closes it.
type Photo struct {
	Width, Height int      // upright, in px
	Profile       string   // what the file says its numbers mean, e.g. "Display P3"
	Camera        string   // the model that the file names, "" when it names none
	Notes         []string // things to mind when trusting it, plain sentences

	samples       *codec.Samples // that pix8 or pix16 are in the memory of, nil when they are not
	pix8          []uint8        // R G B as encoded; nil when pix16 is set
	pix16         []uint16       // the same of a file with more than 8 bits, scaled to 65535
	tables        [3][]uint64    // per channel, see pack
	toSRGB        [3][3]float32  // linear light to linear light in sRGB primaries
	srgbPrimaries bool           // toSRGB changes nothing
	tone          *Tone          // that Straighten undoes, nil when it was not called
}

// Open reads the photo in the named file.
func Open(name string) (*Photo, error) {
	if err := Readable(name); err != nil {
		return nil, err
	}
	file, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return Decode(file)
}

// maxFile is the size in bytes of the largest file that is read: that of
// uncompressed samples in the largest picture, and more.
const maxFile = maxBytes + 1e8

// Readable refuses, before it is opened, what would keep a reader waiting or fill
// the memory: pipes, devices and files beyond maxFile.
func Readable(name string) error {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return fmt.Errorf("%w: it is no file", ErrNotPhoto)
	case info.Size() > maxFile:
		return fmt.Errorf("%w: the file has %.1f GB, a photo has less than %.1f", ErrNotPhoto, float64(info.Size())/1e9, maxFile/1e9)
	}
	return nil
}

// Decode reads a photo from the bytes of its file: JPEG, PNG, TIFF, HEIC or
// AVIF. It is turned upright once, by EXIF or by what HEIC has instead. Errors
// wrap ErrNotPhoto, ErrUnsupported, ErrCutShort or ErrDamaged, or are a
// TooLargeError.
func Decode(file []byte) (*Photo, error) {
	h, err := readHeader(file)
	if err != nil {
		return nil, err
	}
	profile, note, err := h.profile()
	if err != nil {
		return nil, err
	}
	p := &Photo{Profile: profile.name, Camera: h.camera, Notes: h.notes}
	if note != "" {
		p.Notes = append(p.Notes, note)
	}
	p.setProfile(profile, 1<<h.bits)

	switch formatOf(file) {
	case formatJPEG:
		p.samples, err = codec.DecodeJPEG(file, h.width, h.height)
	case formatHEIF:
		p.samples, err = codec.DecodeHEIF(file, h.heif)
	case formatPNG:
		err = p.decodeWith(png.Decode, file, h)
	case formatTIFF:
		err = p.decodeWith(tiff.Decode, file, h)
	}
	if err != nil {
		return nil, err
	}
	if p.samples != nil {
		p.pix8, p.pix16 = p.samples.Pix8, p.samples.Pix16
	}
	if p.pix16 != nil {
		p.pix16, p.Width, p.Height = turn(p.pix16, h.width, h.height, h.orientation)
	} else {
		p.pix8, p.Width, p.Height = turn(p.pix8, h.width, h.height, h.orientation)
	}
	if turned(h.orientation) {
		p.free()
	}
	return p, nil
}

// Close frees the memory of the photo, of which nothing can be read any more.
func (p *Photo) Close() {
	p.free()
	p.pix8, p.pix16 = nil, nil
}

func (p *Photo) free() {
	if p.samples != nil {
		p.samples.Free()
		p.samples = nil
	}
}

// profile returns what the photo's numbers mean, and a note when that had to be
// assumed because the embedded profile is damaged.
func (h header) profile() (p *profile, note string, err error) {
	if h.icc != nil {
		if p, err = readICC(h.icc); !errors.Is(err, errDamagedICC) {
			return p, "", err
		}
		note = damagedProfileNote
	}
	if h.named != nil {
		return h.named, note, nil
	}
	return namedProfile(sRGB, assumedName), note, nil
}

func (p *Photo) setProfile(profile *profile, levels int) {
	for k := range p.tables {
		p.tables[k] = pack(levels, profile.curves[k])
		if k > 0 && slices.Equal(p.tables[k], p.tables[0]) {
			p.tables[k] = p.tables[0] // one table stays in the cache, three may not
		}
	}
	for i := range p.toSRGB {
		for j := range p.toSRGB[i] {
			p.toSRGB[i][j] = float32(profile.toSRGB[i][j])
		}
	}
	p.srgbPrimaries = profile.srgbPrimaries()
}

// decodeWith decodes with one of Go's own decoders, for the formats that phones
// do not write: slower than C, and proof against hostile files.
func (p *Photo) decodeWith(decode func(io.Reader) (image.Image, error), file []byte, h header) error {
	picture, err := decode(bytes.NewReader(file))
	var unsupported tiff.UnsupportedError
	switch {
	case errors.As(err, &unsupported):
		return fmt.Errorf("%w: %w; export it as an ordinary JPEG or PNG", ErrUnsupported, err)
	case err != nil:
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	case picture.Bounds() != image.Rect(0, 0, h.width, h.height):
		return fmt.Errorf("%w: two headers disagree about the size", ErrDamaged)
	}
	opaque := true
	switch m := picture.(type) {
	case *image.RGBA:
		p.pix8, opaque = dropAlpha8(m.Pix), m.Opaque()
	case *image.NRGBA:
		p.pix8, opaque = dropAlpha8(m.Pix), m.Opaque()
	case *image.RGBA64:
		p.pix16, opaque = dropAlpha16(m.Pix), m.Opaque()
	case *image.NRGBA64:
		p.pix16, opaque = dropAlpha16(m.Pix), m.Opaque()
	case *image.Paletted:
		n := imaging.Clone(m)
		p.pix8, opaque = dropAlpha8(n.Pix), n.Opaque()
	default:
		return fmt.Errorf("%w: pixels of a kind that is not read; export it as an ordinary JPEG or PNG", ErrUnsupported)
	}
	if !opaque {
		return fmt.Errorf("%w: part of it is transparent; take the photo as the camera made it", ErrUnsupported)
	}
	return nil
}

func dropAlpha8(rgba []uint8) []uint8 {
	rgb := make([]uint8, 0, len(rgba)/4*3)
	for ; len(rgba) >= 4; rgba = rgba[4:] {
		rgb = append(rgb, rgba[0], rgba[1], rgba[2])
	}
	return rgb
}

func dropAlpha16(rgba []uint8) []uint16 {
	rgb := make([]uint16, 0, len(rgba)/8*3)
	for ; len(rgba) >= 8; rgba = rgba[8:] {
		for k := 0; k < 6; k += 2 {
			rgb = append(rgb, uint16(rgba[k])<<8|uint16(rgba[k+1]))
		}
	}
	return rgb
}

// ClippedAt tells whether any channel of the pixel (x, y) is at the camera's
// upper limit.
func (p *Photo) ClippedAt(x, y int) bool {
	i := 3 * (y*p.Width + x)
	for k := range 3 {
		if p.tables[k][p.sample(i+k)]>>topShift&1 != 0 {
			return true
		}
	}
	return false
}

func (p *Photo) sample(i int) int {
	if p.pix16 != nil {
		return int(p.pix16[i])
	}
	return int(p.pix8[i])
}
