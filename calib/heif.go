package calib

import (
	"encoding/binary"

	"jigloupe/calib/codec"
)

// isHEIF tells a HEIC or AVIF file from the films and other files that begin
// with the same box, ISO/IEC 14496-12 4.3.
func isHEIF(file []byte) bool {
	if len(file) < 12 || string(file[4:8]) != "ftyp" {
		return false
	}
	end := min(uint64(binary.BigEndian.Uint32(file)), uint64(len(file)))
	for at := uint64(8); at+4 <= end; at += 4 { // the version between the brands is none of these
		switch string(file[at : at+4]) {
		case "heic", "heix", "heim", "heis", "mif1", "avif":
			return true
		}
	}
	return false
}

// readHEIFHeader takes from the EXIF block the camera alone: libheif turns the
// picture by the format's own irot and imir boxes, and the orientation that EXIF
// repeats must not turn it again.
func readHEIFHeader(file []byte) (header, error) {
	read, err := codec.ReadHEIFHeader(file)
	if err != nil {
		return header{}, err
	}
	h := header{width: read.Width, height: read.Height, bits: 8, icc: read.ICC, heif: read}
	if read.Bits > 8 {
		h.bits = 16
	}
	if h.icc == nil {
		h.named, err = codedProfile(read.Primaries, read.Transfer)
	}
	// ISO/IEC 23008-12 A.2.1: four bytes say where after them the TIFF structure begins
	if e := read.EXIF; len(e) > 4 {
		if from := uint64(4) + uint64(binary.BigEndian.Uint32(e)); from < uint64(len(e)) {
			first, _ := readDirectory(e[from:]) // of a damaged one nothing is needed
			h.camera = first.text(tagModel)
		}
	}
	h.heif.EXIF = nil // the decoder needs none
	return h, err
}
