package main

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"hash/crc32"
	"image"
)

// blankRows of a mask are compressed together, once for all that are blank.
const blankRows = 64

// maskPNG is a mask in a picture of so many pixels, 0 outside the mask's own part of it,
// as PNG of 8 bits (W3C, Portable Network Graphics, 3rd edition; RFC 1950 and 1951). It
// takes the memory of a row: most rows of a large photo are blank, and Go's encoder took
// longer for those than decoding takes for the photo's half.
func maskPNG(m *image.Gray, width, height int) ([]byte, error) {
	row := make([]byte, 1+width) // begins with the filter, none
	var body bytes.Buffer
	pack, err := flate.NewWriter(&body, flate.BestSpeed)
	if err != nil {
		return nil, err
	}
	packed := func(rows int) ([]byte, error) { // blank ones, which look back on nothing else
		body.Reset()
		pack.Reset(&body)
		for range rows {
			if _, err := pack.Write(row); err != nil {
				return nil, err
			}
		}
		err := pack.Flush()
		return bytes.Clone(body.Bytes()), err
	}
	data := []byte{0x78, 0x01}
	sum := adler{a: 1}
	many, err := packed(blankRows)
	if err != nil {
		return nil, err
	}
	blank := func(rows int) error {
		sum.zeros(rows * len(row))
		data = append(data, bytes.Repeat(many, rows/blankRows)...)
		rest, err := packed(rows % blankRows)
		data = append(data, rest...)
		return err
	}
	if err := blank(m.Rect.Min.Y); err != nil {
		return nil, err
	}
	body.Reset()
	pack.Reset(&body)
	for y := range m.Rect.Dy() {
		own := m.Pix[y*m.Stride:][:m.Rect.Dx()]
		copy(row[1+m.Rect.Min.X:], own)
		sum.zeros(1 + m.Rect.Min.X)
		sum.add(own)
		sum.zeros(width - m.Rect.Max.X)
		if _, err := pack.Write(row); err != nil {
			return nil, err
		}
	}
	if err := pack.Flush(); err != nil {
		return nil, err
	}
	data = append(data, body.Bytes()...)
	clear(row)
	if err := blank(height - m.Rect.Max.Y); err != nil {
		return nil, err
	}
	data = append(data, 1, 0, 0, 0xff, 0xff) // the last block, an empty one
	data = binary.BigEndian.AppendUint32(data, uint32(sum.b<<16|sum.a))

	file := []byte("\x89PNG\r\n\x1a\n")
	header := binary.BigEndian.AppendUint32(nil, uint32(width))
	header = binary.BigEndian.AppendUint32(header, uint32(height))
	file = appendChunk(file, "IHDR", append(header, 8, 0, 0, 0, 0)) // 8 bits of grey
	file = appendChunk(file, "IDAT", data)
	return appendChunk(file, "IEND", nil), nil
}

func appendChunk(file []byte, kind string, data []byte) []byte {
	file = binary.BigEndian.AppendUint32(file, uint32(len(data)))
	from := len(file)
	file = append(append(file, kind...), data...)
	return binary.BigEndian.AppendUint32(file, crc32.ChecksumIEEE(file[from:]))
}

// adler is the checksum Adler-32, for which zeros take no time.
type adler struct{ a, b uint64 }

const adlerBase = 65521

func (s *adler) zeros(n int) { s.b = (s.b + uint64(n)*s.a) % adlerBase }

func (s *adler) add(data []byte) {
	for _, v := range data {
		s.a += uint64(v)
		s.b += s.a
	}
	s.a, s.b = s.a%adlerBase, s.b%adlerBase
}
