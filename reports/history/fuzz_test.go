package history

import (
	"bytes"
	"math"
	"testing"
)

func FuzzReadCurve(f *testing.F) {
	f.Add([]byte("viewing_deg,L,a,b,light\n5,50,10,-20,diffuse\n"))
	f.Add([]byte("\ufeffviewing_deg,L,a\n5,50\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		curve, err := readCurve(bytes.NewReader(text))
		if err != nil {
			return
		}
		for _, b := range curve.Curve {
			if s := b.ViewingDeg + b.L + b.A + b.B; math.IsNaN(s) {
				t.Fatalf("%+v", b)
			}
		}
	})
}
