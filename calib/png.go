package calib

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
)

const pngSignature = "\x89PNG\r\n\x1a\n"

// readPNGHeader walks the chunks of a PNG file to its last. Of the chunks that
// name a colour space the one that says most counts, as in PNG's third edition:
// cICP, then iCCP, then sRGB, then gAMA with cHRM.
func readPNGHeader(file []byte) (header, error) {
	var h header
	var gamma float64
	var primaries *space
	var icc []byte
	var byCode, byGamma *profile
	srgb := false
	for at := len(pngSignature); ; {
		if at+12 > len(file) {
			return h, fmt.Errorf("%w: no end mark", ErrCutShort)
		}
		length := int(binary.BigEndian.Uint32(file[at:]))
		if length > len(file)-at-12 {
			return h, fmt.Errorf("%w: no end mark", ErrCutShort)
		}
		kind, body := string(file[at+4:at+8]), file[at+8:at+8+length]
		at += 12 + length
		switch {
		case kind == "IHDR" && length >= 13:
			h.width = int(binary.BigEndian.Uint32(body))
			h.height = int(binary.BigEndian.Uint32(body[4:]))
			h.bits = 8
			if body[8] == 16 {
				h.bits = 16
			}
			if body[9] == 0 || body[9] == 4 {
				return h, errNoColour
			}
		case kind == "cICP" && length >= 4:
			p, err := codedProfile(int(body[0]), int(body[1]))
			if err != nil {
				return h, err
			}
			byCode = p
		case kind == "iCCP":
			var err error
			if icc, err = inflateICC(body); err != nil {
				h.notes = append(h.notes, damagedProfileNote)
			}
		case kind == "sRGB":
			srgb = true
		case kind == "gAMA" && length >= 4:
			gamma = float64(binary.BigEndian.Uint32(body)) / 1e5
		case kind == "cHRM" && length >= 32:
			xy := func(i int) Chromaticity {
				return Chromaticity{float64(binary.BigEndian.Uint32(body[8*i:])) / 1e5, float64(binary.BigEndian.Uint32(body[8*i+4:])) / 1e5}
			}
			primaries = &space{white: xy(0), red: xy(1), green: xy(2), blue: xy(3)}
		case kind == "eXIf":
			h.readExif(body)
		case kind == "IEND":
			if gamma > 0 {
				byGamma = gammaProfile(gamma, primaries)
			}
			switch {
			case byCode != nil:
				h.named = byCode
			case icc != nil:
				h.icc = icc
			case srgb:
				h.named = namedProfile(sRGB, "sRGB")
			case byGamma != nil:
				h.named = byGamma
			}
			return h, nil
		}
	}
}

// maxICC bounds what a compressed profile may grow to; real ones are below 4 MB.
const maxICC = 16 << 20

// inflateICC reads the body of an iCCP chunk: a name, a zero, a zero for the
// method, and the compressed profile.
func inflateICC(body []byte) ([]byte, error) {
	name := bytes.IndexByte(body, 0)
	if name < 0 || name+2 > len(body) || body[name+1] != 0 {
		return nil, errDamagedICC
	}
	z, err := zlib.NewReader(bytes.NewReader(body[name+2:]))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(z, maxICC))
}
