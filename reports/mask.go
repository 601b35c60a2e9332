package reports

import (
	"encoding/binary"
	"hash/crc32"
	"image"
	"math/bits"
)

// MaskPNG is a mask as an 8-bit grey PNG of width × height px, 0 outside m. Its
// pixels are 0 or 255 and nearly all in long runs, which are written as such: to
// look for them in twelve million samples takes as long as decoding half a photo.
func MaskPNG(m *image.Gray, width, height int) []byte {
	frame := image.Rect(0, 0, width, height)
	in := m.Rect.Intersect(frame)
	var z runs
	z.begin()
	if in.Empty() {
		in = image.Rectangle{}
	}
	z.add(0, in.Min.Y*(width+1))
	for y := in.Min.Y; y < in.Max.Y; y++ {
		z.add(0, 1+in.Min.X) // a row begins with its filter: 0, none
		row := m.Pix[m.PixOffset(in.Min.X, y):][:in.Dx()]
		for x := 0; x < len(row); {
			from := x
			for x++; x < len(row) && row[x] == row[from]; x++ {
			}
			z.add(row[from], x-from)
		}
		z.add(0, width-in.Max.X)
	}
	z.add(0, (height-in.Max.Y)*(width+1))

	head := binary.BigEndian.AppendUint32(nil, uint32(width))
	head = append(binary.BigEndian.AppendUint32(head, uint32(height)), 8, 0, 0, 0, 0) // bits, grey
	out := []byte("\x89PNG\r\n\x1a\n")
	out = appendChunk(out, "IHDR", head)
	out = appendChunk(out, "IDAT", z.end())
	return appendChunk(out, "IEND", nil)
}

func appendChunk(out []byte, kind string, body []byte) []byte {
	out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
	at := len(out)
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[at:]))
}

// runs writes runs of 0 and 255 as a zlib stream (RFC 1950) of one block with codes
// of its own (RFC 1951, 3.2.7): 1 bit for as long a match as there is, length symbol
// 285, 3 for either value, 5 for the end and 7 for every other length. A match is with
// the byte before, the one distance, whose code is 1 bit.
type runs struct {
	out   []byte
	acc   uint64 // bits not yet in out, the first lowest
	held  uint
	value uint8 // of the run under way
	long  int
	a, b  uint64 // Adler-32
}

const longestMatch = 258 // bytes

func (z *runs) begin() {
	z.out, z.a = []byte{0x78, 0x01}, 1
	z.bits(1, 1)  // the last block
	z.bits(2, 2)  // with codes of its own
	z.bits(29, 5) // for 286 literals and lengths,
	z.bits(0, 5)  // 1 distance,
	z.bits(14, 4) // and 18 code lengths, in this order: 16 17 18 0 8 7 9 6 10 5 11 4 12 3 13 2 14 1
	for _, long := range [18]uint64{2: 3, 5: 1, 9: 3, 13: 3, 17: 3} {
		z.bits(long, 3)
	}
	const one, three, five, zeros = 4, 5, 6, 7 // codes of 3 bits; that of seven is 1 bit, 0
	z.code(three, 3)                           // of literal 0
	z.code(zeros, 3)
	z.bits(138-11, 7)
	z.code(zeros, 3)
	z.bits(254-138-11, 7)
	z.code(three, 3) // of 255
	z.code(five, 3)  // of the end
	for range 28 {
		z.code(0, 1)
	}
	z.code(one, 3) // of the longest match
	z.code(one, 3) // of the distance
}

// add adds n bytes of a value.
func (z *runs) add(value uint8, n int) {
	if value != z.value {
		z.flush()
		z.value = value
	}
	z.long += n
}

// flush writes the run under way.
func (z *runs) flush() {
	n, v := uint64(z.long), uint64(z.value)
	const mod = 65521
	z.b = (z.b + n*z.a + v*(n*(n+1)/2%mod)) % mod
	z.a = (z.a + n*v) % mod
	left := z.long
	z.long = 0
	if left == 0 {
		return
	}
	z.literal()
	for left--; left >= longestMatch; left -= longestMatch {
		z.bits(0, 2)
	}
	switch {
	case left >= 3:
		symbol, extra, n := left-3+257, 0, uint(0)
		if x := left - 3; x >= 8 {
			n = uint(bits.Len(uint(x))) - 3
			symbol, extra = 257+4*int(n)+x>>n, x&(1<<n-1)
		}
		z.code(uint64(100+symbol-257), 7)
		z.bits(uint64(extra), n)
		z.bits(0, 1)
	case left > 0:
		for range left {
			z.literal()
		}
	}
}

func (z *runs) literal() { z.code(uint64(4|z.value&1), 3) }

// end ends the stream.
func (z *runs) end() []byte {
	z.flush()
	z.code(24, 5)
	z.bits(0, 7) // fill the last byte
	return binary.BigEndian.AppendUint32(z.out, uint32(z.b<<16|z.a))
}

// code writes a code, whose first bit is its highest.
func (z *runs) code(code uint64, n uint) { z.bits(bits.Reverse64(code)>>(64-n), n) }

// bits writes n bits, the lowest first.
func (z *runs) bits(v uint64, n uint) {
	z.acc |= v << z.held
	for z.held += n; z.held >= 8; z.held -= 8 {
		z.out = append(z.out, uint8(z.acc))
		z.acc >>= 8
	}
}
