package inspect

import (
	"fmt"
	"math"
	"strconv"
)

// Amount prints a value with its expanded uncertainty (k = 2) and unit, with no
// more digits than the doubt allows; nil is "not measured".
func Amount(value, u *float64, unit string) string {
	if value == nil {
		return "not measured"
	}
	if unit != "" && unit != "°" {
		unit = " " + unit
	}
	if u == nil || !(*u > 0) {
		return short(*value) + unit
	}
	digits := Decimals(2 * *u)
	return fmt.Sprintf("%.*f ± %.*f%s", digits, *value, digits, 2**u, unit)
}

// short prints three digits that count, and all those before the point.
func short(v float64) string {
	if math.Abs(v) >= 1000 {
		return fmt.Sprintf("%.0f", v)
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

// Decimals are those that show a doubt with one digit, or two when it begins
// with 1, where one digit would be off by up to a third.
func Decimals(doubt float64) int {
	e := math.Floor(math.Log10(doubt))
	if doubt/math.Pow(10, e) < 2 {
		e--
	}
	return min(max(int(-e), 0), 6)
}
