package calib

import (
	"bytes"
	"encoding/binary"
	"fmt"
)

// readJPEGHeader walks the segments of a JPEG file up to its first scan. Whether
// the scans are whole is for the decoder to find.
func readJPEGHeader(file []byte) (header, error) {
	h := header{bits: 8}
	var profile iccChunks
	for at := 2; ; {
		next := bytes.IndexByte(file[at:], 0xff)
		if next < 0 {
			return h, fmt.Errorf("%w: it ends before the picture", ErrCutShort)
		}
		at += next + 1
		if at+3 > len(file) {
			return h, fmt.Errorf("%w: it ends before the picture", ErrCutShort)
		}
		marker := file[at]
		if marker == 0xff || marker <= 1 || marker >= 0xd0 && marker <= 0xd8 { // padding, or a mark without a segment
			continue
		}
		length := int(binary.BigEndian.Uint16(file[at+1:]))
		if length < 2 {
			return h, fmt.Errorf("%w: segment %#x has length %d", ErrDamaged, marker, length)
		}
		if at+1+length > len(file) {
			return h, fmt.Errorf("%w: it ends before the picture", ErrCutShort)
		}
		body := file[at+3 : at+1+length]
		at += 1 + length
		switch {
		case marker == 0xd9: // end of image
			return h, fmt.Errorf("%w: it holds no picture", ErrDamaged)
		case marker == 0xda: // start of scan
			icc, ok := profile.join()
			if !ok {
				h.notes = append(h.notes, damagedProfileNote)
			}
			h.icc = icc
			return h, nil
		case marker == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")):
			h.readExif(body[6:])
		case marker == 0xe2 && bytes.HasPrefix(body, []byte("ICC_PROFILE\x00")):
			profile.add(body[12:])
		case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc: // start of frame
			if err := h.readFrame(body); err != nil {
				return h, err
			}
		}
	}
}

// readFrame reads the body of a start-of-frame segment.
func (h *header) readFrame(body []byte) error {
	if len(body) < 6 {
		return fmt.Errorf("%w: the frame has no size", ErrDamaged)
	}
	h.height = int(binary.BigEndian.Uint16(body[1:]))
	h.width = int(binary.BigEndian.Uint16(body[3:]))
	if body[0] != 8 {
		return fmt.Errorf("%w: JPEG with %d bits per sample; export it as an ordinary JPEG", ErrUnsupported, body[0])
	}
	switch body[5] {
	case 3:
		return nil
	case 1:
		return errNoColour
	case 4:
		return errCMYK
	}
	return fmt.Errorf("%w: a frame of %d components", ErrDamaged, body[5])
}

var (
	errNoColour = fmt.Errorf("%w: black and white; take the photo in colour", ErrUnsupported)
	errCMYK     = fmt.Errorf("%w: ink amounts (CMYK); export it as sRGB", ErrUnsupported)
)

// iccChunks collects a profile that JPEG splits over APP2 segments, ICC.1 annex
// B.4: each begins with its number, from 1, and how many there are.
type iccChunks struct {
	parts map[byte][]byte
	total byte
	bad   bool
}

func (c *iccChunks) add(body []byte) {
	if len(body) < 2 || body[0] == 0 || body[0] > body[1] || c.total != 0 && body[1] != c.total {
		c.bad = true
		return
	}
	if c.parts == nil {
		c.parts = map[byte][]byte{}
	}
	if _, twice := c.parts[body[0]]; twice {
		c.bad = true
		return
	}
	c.parts[body[0]], c.total = body[2:], body[1]
}

// join returns nil and true when there is no profile.
func (c *iccChunks) join() (icc []byte, ok bool) {
	if c.bad || len(c.parts) != int(c.total) {
		return nil, false
	}
	for i := range len(c.parts) {
		icc = append(icc, c.parts[byte(i+1)]...)
	}
	return icc, true
}
