package calib

import "fmt"

// readTIFFHeader reads the first directory of a TIFF file. Raw camera files are
// TIFF files too, with a small preview where the picture is expected.
func readTIFFHeader(file []byte) (header, error) {
	var h header
	d, err := readDirectory(file)
	if err != nil && d.number(tagWidth) == 0 {
		return h, fmt.Errorf("%w: the directory lies beyond the end", ErrCutShort)
	}
	h.width, h.height = d.number(tagWidth), d.number(tagHeight)
	h.bits = 8
	if d.number(tagBits) == 16 {
		h.bits = 16
	}
	_, dng := d.entries[tagDNGVersion]
	const reducedPicture, sensorData, ink, transparency = 1, 32803, 5, 4
	photometric := d.number(tagPhotometric)
	switch {
	case dng, d.number(tagSubfile)&reducedPicture != 0, photometric == sensorData:
		return h, fmt.Errorf("%w: raw sensor data; develop it and export it as JPEG or TIFF", ErrUnsupported)
	case d.number(tagPlanar) == 2:
		return h, fmt.Errorf("%w: its colours are stored plane by plane; export it as an ordinary TIFF or PNG", ErrUnsupported)
	case photometric == ink:
		return h, errCMYK
	case photometric < 2 || photometric == transparency:
		return h, errNoColour
	}
	h.readExif(file)
	h.icc = d.entries[tagICC].value
	return h, nil
}
