package calib

import (
	"bytes"
	"errors"
	"fmt"

	"jigloupe/calib/codec"
)

var (
	// ErrNotPhoto means that the file is nothing this program takes for a photo.
	ErrNotPhoto = errors.New("not a photo")

	// ErrUnsupported means that the file is a good picture of a kind from which
	// colour cannot be read truly; the wrapping error says which and what to do.
	ErrUnsupported = codec.ErrUnsupported

	// ErrCutShort means that the file ends before its picture does.
	ErrCutShort = codec.ErrCutShort

	// ErrDamaged means that part of the picture cannot be read or was guessed.
	ErrDamaged = codec.ErrDamaged
)

// maxBytes bounds the samples of one photo: 200 megapixels with 8 bits, half of
// that with 16. Phones make 12 to 108.
const maxBytes = 600e6

// TooLargeError means that a file's header claims more pixels than are read.
type TooLargeError struct{ Width, Height int }

func (e TooLargeError) Error() string {
	return fmt.Sprintf("the picture is %d × %d px, more than the 200 megapixels that are read (100 with 16 bits)", e.Width, e.Height)
}

// A header is what a file says before its picture is decoded.
type header struct {
	width, height int    // as stored, before any turn
	bits          int    // per sample: 8 or 16
	orientation   int    // EXIF 1 to 8; 0 when not given
	camera        string // EXIF model, "" when not given
	icc           []byte
	named         *profile // that the format's own fields name; icc goes before it
	notes         []string
	heif          codec.HEIFHeader // of a HEIC or AVIF file
}

// readHeader reads what is needed to judge a file before it is decoded.
func readHeader(file []byte) (header, error) {
	var h header
	var err error
	switch formatOf(file) {
	case formatJPEG:
		h, err = readJPEGHeader(file)
	case formatPNG:
		h, err = readPNGHeader(file)
	case formatTIFF:
		h, err = readTIFFHeader(file)
	case formatHEIF:
		h, err = readHEIFHeader(file)
	default:
		return h, fmt.Errorf("%w: neither JPEG, PNG, TIFF, HEIC nor AVIF", ErrNotPhoto)
	}
	if err != nil {
		return h, err
	}
	return h, h.plausible(len(file))
}

// maxPxPerByte is how far a photo can be compressed and still be one. Sensor
// noise keeps real photos below 200; small drawn pictures may go beyond.
const maxPxPerByte = 2000

func (h header) plausible(size int) error {
	switch px := float64(h.width) * float64(h.height); {
	case h.width <= 0 || h.height <= 0:
		return fmt.Errorf("%w: it has no pixels", ErrNotPhoto)
	case px*3*float64(h.bits/8) > maxBytes:
		return TooLargeError{h.width, h.height}
	case px > 1e6 && px > maxPxPerByte*float64(size):
		return fmt.Errorf("%w: %d × %d px in %d bytes hold no detail", ErrNotPhoto, h.width, h.height, size)
	}
	return nil
}

type format int

const (
	formatNone format = iota
	formatJPEG
	formatPNG
	formatTIFF
	formatHEIF
)

func formatOf(file []byte) format {
	switch {
	case bytes.HasPrefix(file, []byte("\xff\xd8\xff")):
		return formatJPEG
	case bytes.HasPrefix(file, []byte(pngSignature)):
		return formatPNG
	case bytes.HasPrefix(file, []byte("II*\x00")), bytes.HasPrefix(file, []byte("MM\x00*")):
		return formatTIFF
	case isHEIF(file):
		return formatHEIF
	}
	return formatNone
}
