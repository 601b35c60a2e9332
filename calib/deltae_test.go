package calib

import (
	"fmt"
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
	"pgregory.net/rapid"
)

func sharmaPairs(t *testing.T) (pairs [][2]Lab, printed, exact []float64) {
	for _, row := range checkTable(t, "01_ciede2000_sharma34.csv") {
		one, two := numbers3(t, row, "L1", "a1", "b1"), numbers3(t, row, "L2", "a2", "b2")
		pairs = append(pairs, [2]Lab{{one[0], one[1], one[2]}, {two[0], two[1], two[2]}})
		printed = append(printed, number(t, row, "dE00_published"))
		exact = append(exact, number(t, row, "dE00_12"))
	}
	if len(pairs) != 34 {
		t.Fatalf("%d pairs, want 34", len(pairs))
	}
	return pairs, printed, exact
}

// Sharma, Wu and Dalal 2005, table 1, printed to four decimals; the column with
// twelve is recomputed by three independent programs.
func TestDeltaE2000Published(t *testing.T) {
	pairs, printed, exact := sharmaPairs(t)
	for i, p := range pairs {
		for _, order := range [][2]Lab{p, {p[1], p[0]}} {
			got := DeltaE2000(order[0], order[1])
			what := fmt.Sprintf("pair %d: DeltaE2000(%v, %v)", i+1, order[0], order[1])
			near(t, what, got, printed[i], 5e-5)
			near(t, what, got, exact[i], 1e-9)
		}
	}
}

// A second opinion over the whole of CIELAB. The other library is known to miss
// pair 10, whose hues are 180° apart, so such colours are left out.
func TestDeltaE2000SecondOpinion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawLab(t, "x"), drawLab(t, "y")
		if math.Abs(math.Abs(x.HueDeg()-y.HueDeg())-180) < 15 { // a' turns hues by less than this
			t.Skip()
		}
		other := func(c Lab) colorful.Color {
			return colorful.Lab(c.L/100, c.A/100, c.B/100)
		}
		want := 100 * other(x).DistanceCIEDE2000(other(y))
		got := DeltaE2000(x, y)
		if math.Abs(got-want) > 1e-6*(1+want) {
			t.Fatalf("DeltaE2000(%v, %v) = %.9f, second opinion %.9f", x, y, got, want)
		}
	})
}

func TestDeltaE2000Laws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawLab(t, "x"), drawLab(t, "y")
		if d := DeltaE2000(x, x); d != 0 {
			t.Fatalf("DeltaE2000(%v, itself) = %g", x, d)
		}
		d, back := DeltaE2000(x, y), DeltaE2000(y, x)
		if !(d >= 0) || math.Abs(d-back) > 1e-9*(1+d) {
			t.Fatalf("DeltaE2000(%v, %v) = %g, swapped %g", x, y, d, back)
		}
		if d == 0 && apart(x, y) > 1e-6 {
			t.Fatalf("DeltaE2000(%v, %v) = 0", x, y)
		}
	})
}

func drawLab(t *rapid.T, label string) Lab {
	return Lab{
		rapid.Float64Range(0, 100).Draw(t, label+" L"),
		rapid.Float64Range(-110, 110).Draw(t, label+" a"),
		rapid.Float64Range(-110, 110).Draw(t, label+" b"),
	}
}

func BenchmarkDeltaE2000(b *testing.B) {
	x, y := Lab{50, 20, -30}, Lab{55, 25, -20}
	for b.Loop() {
		DeltaE2000(x, y)
	}
}
