package calib

import "testing"

func BenchmarkTurn12MP(b *testing.B) {
	p := noisePhoto(4000, 3000)
	for b.Loop() {
		turn(p.pix8, 4000, 3000, 6)
	}
}
