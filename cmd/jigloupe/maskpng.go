package main

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"math/bits"
)

// maskPNG makes a PNG of a mask of 0 and 255, which is 0 beyond its rectangle, in a picture
// of width × height px. It writes runs of equal pixels as such, without looking at each: Go's
// encoder takes 20 ms for twelve megapixels and holds them in memory.
func maskPNG(mask *image.Gray, width, height int) []byte {
	r := mask.Rect
	data := newRuns()
	data.add(0, r.Min.Y*(1+width)) // each row begins with a 0: it is not filtered
	for y := r.Min.Y; y < r.Max.Y; y++ {
		data.add(0, 1+r.Min.X)
		row := mask.Pix[mask.PixOffset(r.Min.X, y):][:r.Dx()]
		for len(row) > 0 {
			n := bytes.IndexByte(row, row[0]^255)
			if n < 0 {
				n = len(row)
			}
			data.add(row[0], n)
			row = row[n:]
		}
		data.add(0, width-r.Max.X)
	}
	data.add(0, (height-r.Max.Y)*(1+width))

	header := binary.BigEndian.AppendUint32(nil, uint32(width))
	header = binary.BigEndian.AppendUint32(header, uint32(height))
	header = append(header, 8, 0, 0, 0, 0) // bits; grey; deflated; filtered row by row; not interlaced
	out := []byte("\x89PNG\r\n\x1a\n")
	out = appendChunk(out, "IHDR", header)
	out = appendChunk(out, "IDAT", data.end())
	return appendChunk(out, "IEND", nil)
}

func appendChunk(out []byte, kind string, data []byte) []byte {
	out = binary.BigEndian.AppendUint32(out, uint32(len(data)))
	from := len(out)
	out = append(append(out, kind...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[from:]))
}

// runs is a zlib stream (RFC 1950, 1951) of runs of bytes 0 and 255, in one block.
type runs struct {
	out   []byte
	bits  uint64 // not yet out
	n     int    // bits
	value byte   // of the run
	run   int
	a, b  int // of the checksum Adler-32
}

// newRuns begins with the lengths of the block's codes: one bit for the longest repetition,
// 5 for a 0, and 6 for a 255, the end and all shorter repetitions.
func newRuns() *runs {
	s := &runs{out: []byte{0x78, 0x01}, a: 1}
	s.put(1, 1)  // the last block
	s.put(2, 2)  // of codes that it tells
	s.put(29, 5) // for 257 + 29 bytes, ends and lengths
	s.put(0, 5)  // for one distance
	s.put(14, 4) // in 4 + 14 of these codes, in the standard's order, that have 2 bits or none:
	for _, of := range [18]int{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1} {
		if of == 1 || of == 5 || of == 6 || of == 18 {
			s.put(2, 3)
		} else {
			s.put(0, 3)
		}
	}
	const one, five, six, nothing = 0, 2, 1, 3 // the codes of 1, 5, 6, 18, first bit last
	s.put(five, 2)
	for _, bytes := range [2]uint64{138, 116} { // 254 that do not occur
		s.put(nothing, 2)
		s.put(bytes-11, 7)
	}
	for range 30 {
		s.put(six, 2)
	}
	s.put(one, 2)
	s.put(one, 2) // the distance
	return s
}

// longest is what can be repeated at once.
const longest = 258

// add adds n bytes of one value.
func (s *runs) add(value byte, n int) {
	if value != s.value {
		s.write()
		s.value = value
	}
	s.run += n
}

func (s *runs) write() {
	v, n := int(s.value), s.run
	if n == 0 {
		return
	}
	const prime = 65521
	s.b = (s.b + n%prime*s.a + n%prime*((n+1)%prime)%prime*((prime+1)/2)%prime*v) % prime // 1 + 2 + … + n, of n(n + 1)/2
	s.a = (s.a + n%prime*v) % prime
	s.code(v)
	for n--; n >= 3; {
		l := min(n, longest)
		if n -= l; n > 0 && n < 3 {
			l, n = l-3, n+3
		}
		s.repeat(l)
	}
	for ; n > 0; n-- {
		s.code(v)
	}
	s.run = 0
}

// repeat writes the byte before l times more, 3 to longest.
func (s *runs) repeat(l int) {
	if x := l - 3; l == longest {
		s.code(285)
	} else {
		more := max(bits.Len(uint(x))-3, 0)
		s.code(257 + 4*more + x>>more)
		s.put(uint64(x)&(1<<more-1), more)
	}
	s.put(0, 1) // from one byte before
}

// code writes a code, the first bit first.
func (s *runs) code(c int) {
	switch c {
	case 285:
		s.put(0, 1)
	case 0:
		s.put(1, 5) // 10000
	case 255:
		s.put(uint64(bits.Reverse8(34)>>2), 6)
	default:
		s.put(uint64(bits.Reverse8(uint8(35+c-256))>>2), 6)
	}
}

func (s *runs) put(v uint64, n int) {
	s.bits |= v << s.n
	for s.n += n; s.n >= 8; s.n -= 8 {
		s.out = append(s.out, byte(s.bits))
		s.bits >>= 8
	}
}

func (s *runs) end() []byte {
	s.write()
	s.code(256) // the end of the block
	s.put(0, -s.n&7)
	return binary.BigEndian.AppendUint32(s.out, uint32(s.b<<16|s.a))
}
