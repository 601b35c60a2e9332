package calib

import (
	"encoding/binary"
	"errors"
	"strings"
	"unicode"
)

// A directory holds the entries of one directory of a TIFF structure by tag. A
// TIFF file is such a structure, and an EXIF block holds one.
type directory struct {
	entries map[uint16]entry
	order   binary.ByteOrder
	data    []byte // the whole structure
}

type entry struct {
	kind  uint16 // of TIFF 6.0: 1 byte, 2 text, 3 short, 4 long, 7 undefined
	value []byte
}

// Tag numbers of TIFF 6.0, EXIF 2.3, DNG 1.4 and ICC.1 annex B.
const (
	tagInteropID   = 1 // in the interoperability directory
	tagSubfile     = 254
	tagWidth       = 256
	tagHeight      = 257
	tagBits        = 258
	tagPhotometric = 262
	tagModel       = 272
	tagOrientation = 274
	tagPlanar      = 284
	tagExif        = 34665
	tagICC         = 34675
	tagColourSpace = 40961 // in the EXIF directory
	tagInterop     = 40965 // in the EXIF directory
	tagDNGVersion  = 50706
)

var errDamagedDirectory = errors.New("damaged directory")

// readDirectory reads the first directory of a TIFF structure. On an error the
// entries found are good, and some are missing.
func readDirectory(data []byte) (directory, error) {
	d := directory{data: data, order: binary.LittleEndian}
	if len(data) < 8 {
		return d, errDamagedDirectory
	}
	switch string(data[:4]) {
	case "II*\x00":
	case "MM\x00*":
		d.order = binary.BigEndian
	default:
		return d, errDamagedDirectory
	}
	return d.at(d.order.Uint32(data[4:]))
}

// sub reads the directory that an entry points to. Without that entry it is
// empty.
func (d directory) sub(tag uint16) (directory, error) {
	if _, ok := d.entries[tag]; !ok {
		return directory{}, nil
	}
	return d.at(uint32(d.number(tag)))
}

func (d directory) at(offset uint32) (directory, error) {
	d.entries = map[uint16]entry{}
	start := uint64(offset)
	size := uint64(len(d.data))
	if start+2 > size {
		return d, errDamagedDirectory
	}
	var err error
	n := uint64(d.order.Uint16(d.data[start:]))
	for i := range n {
		at := start + 2 + 12*i
		if at+12 > size {
			return d, errDamagedDirectory
		}
		e := d.data[at : at+12]
		kind := d.order.Uint16(e[2:])
		length := uint64(d.order.Uint32(e[4:])) * kindSize(kind)
		value := e[8:12]
		if length > 4 {
			from := uint64(d.order.Uint32(value))
			if from+length > size {
				err = errDamagedDirectory // of this entry only
				continue
			}
			value = d.data[from : from+length]
		}
		d.entries[d.order.Uint16(e)] = entry{kind, value[:length]}
	}
	return d, err
}

// kindSize is the size in bytes of one element of the kinds that are read.
func kindSize(kind uint16) uint64 {
	switch kind {
	case 1, 2, 7:
		return 1
	case 3:
		return 2
	case 4:
		return 4
	}
	return 0
}

// number returns the first number of an entry, 0 when there is none.
func (d directory) number(tag uint16) int {
	switch e := d.entries[tag]; {
	case e.kind == 3 && len(e.value) >= 2:
		return int(d.order.Uint16(e.value))
	case e.kind == 4 && len(e.value) >= 4:
		return int(d.order.Uint32(e.value))
	case e.kind == 1 && len(e.value) >= 1:
		return int(e.value[0])
	}
	return 0
}

// text returns an entry of letters, "" when there is none.
func (d directory) text(tag uint16) string {
	e := d.entries[tag]
	if e.kind != 2 {
		return ""
	}
	printable := func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}
	return strings.TrimSpace(strings.Map(printable, strings.ToValidUTF8(string(e.value), "")))
}

// readExif takes from an EXIF block how the photo is to be turned, what its
// colours mean and what took it. What is damaged is noted, since the photo may be good.
func (h *header) readExif(block []byte) {
	first, err := readDirectory(block)
	exif, err2 := first.sub(tagExif)
	interop, err3 := exif.sub(tagInterop)
	if err = errors.Join(err, err2, err3); err != nil {
		h.notes = append(h.notes, "Part of the EXIF data is damaged; if the photo lies on its side, that is why.")
	}
	h.orientation = first.number(tagOrientation)
	h.camera = first.text(tagModel)
	switch id := interop.entries[tagInteropID].value; {
	case len(id) >= 3 && string(id[:3]) == "R03": // DCF 2.0, the optional colour space
		h.named = namedProfile(adobeRGB, "Adobe RGB (named by EXIF)")
	case exif.number(tagColourSpace) == 1:
		h.named = namedProfile(sRGB, "sRGB")
	}
}
