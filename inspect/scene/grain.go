package scene

import "math"

// Randomness by place: a number depends only on the seed and on where it is
// asked for, so that a photo comes out the same on any number of cores.

// mixBits is the finaliser of SplitMix64 (G. Steele, D. Lea, C. Flood, "Fast
// splittable pseudorandom number generators", OOPSLA 2014).
func mixBits(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

func cellBits(seed uint64, i, j, k int64) uint64 {
	return mixBits(seed ^ uint64(i)*0x8da6b343 ^ uint64(j)*0xd8163841<<13 ^ uint64(k)*0xcb1ab31f<<26)
}

// grain is smooth noise of three independent components, each about uniform in
// [-1, 1] at the corners of cells of the given size and blended between them.
func grain(seed uint64, p vec, cell float64) vec {
	x, y, z := p.x/cell, p.y/cell, p.z/cell
	fx, fy, fz := math.Floor(x), math.Floor(y), math.Floor(z)
	i, j, k := int64(fx), int64(fy), int64(fz)
	u, v, w := ramp(x-fx), ramp(y-fy), ramp(z-fz)
	var sum vec
	for c := int64(0); c < 8; c++ {
		a, b, d := c&1, c>>1&1, c>>2
		weight := pick(a, u) * pick(b, v) * pick(d, w)
		bits := cellBits(seed, i+a, j+b, k+d)
		sum = sum.plus(weight, vec{
			float64(bits&0x1fffff)/0x100000 - 1,
			float64(bits>>21&0x1fffff)/0x100000 - 1,
			float64(bits>>42&0x1fffff)/0x100000 - 1,
		})
	}
	return sum
}

func pick(side int64, share float64) float64 {
	if side == 0 {
		return 1 - share
	}
	return share
}

// gauss returns an about normal number of mean 0 and standard deviation 1: the
// sum of four 16-bit uniform numbers, which never exceeds 3.5.
func gauss(bits uint64) float64 {
	sum := float64(bits&0xffff) + float64(bits>>16&0xffff) + float64(bits>>32&0xffff) + float64(bits>>48)
	return (sum/65536 - 2) * math.Sqrt(3)
}

// dice is a sequence of uniform numbers in [0, 1) for placing things.
type dice uint64

func (d *dice) roll() float64 {
	*d += 0x9e3779b97f4a7c15
	return float64(mixBits(uint64(*d))>>11) / (1 << 53)
}

func (d *dice) between(low, high float64) float64 { return low + (high-low)*d.roll() }

// fibonacci spreads n points evenly over the unit square.
func fibonacci(i, n int) (float64, float64) {
	const golden = 0.6180339887498949
	_, v := math.Modf(float64(i) * golden)
	return (float64(i) + 0.5) / float64(n), v
}
