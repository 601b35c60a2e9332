package inspect

import "testing"

func TestAmount(t *testing.T) {
	for _, c := range []struct {
		value, u *float64
		unit     string
		want     string
	}{
		{new(1.1234), new(0.09), "%", "1.12 ± 0.18 %"}, // doubt 0.18 keeps two digits
		{new(0.4449), new(0.04), "mm", "0.44 ± 0.08 mm"},
		{new(31.4), new(0.8), "", "31.4 ± 1.6"},
		{new(31.4), new(2.0), "", "31 ± 4"},
		{new(1234.5), new(30.0), "K", "1234 ± 60 K"},
		{new(5200.0), nil, "K", "5200 K"},
		{new(0.12), nil, "mm", "0.12 mm"},
		{new(84.0), nil, "°", "84°"},
		{nil, new(1.0), "mm", "not measured"},
		{new(0.0), new(0.0), "%", "0 %"},
	} {
		if got := Amount(c.value, c.u, c.unit); got != c.want {
			t.Errorf("Amount(%v, %v, %q) = %q, want %q", c.value, c.u, c.unit, got, c.want)
		}
	}
}
