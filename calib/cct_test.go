package calib

import (
	"math"
	"testing"
)

func TestCCT(t *testing.T) {
	for _, row := range checkTable(t, "02_cct.csv") {
		c := Chromaticity{number(t, row, "x"), number(t, row, "y")}
		kelvin, duv, ok := c.CCT()
		if !ok {
			t.Errorf("%s: no colour temperature", row["name"])
		}
		near(t, row["name"]+": CCT, Robertson 1968", kelvin, number(t, row, "T_robertson"), 1)
		near(t, row["name"]+": Duv, Robertson 1968", duv, number(t, row, "Duv_robertson"), 2e-5)
		exact := number(t, row, "T_exact_planck")
		near(t, row["name"]+": CCT against the nearest Planckian radiator", kelvin, exact, 0.002*exact)
		near(t, row["name"]+": Duv against the nearest Planckian radiator", duv, number(t, row, "Duv_exact"), 1.5e-4)
	}
}

// Planck's law with the CIE 1931 observer, CIE 15:2004.
func TestCCTOfPlanckianRadiators(t *testing.T) {
	for _, row := range checkTable(t, "02_planck_locus.csv") {
		want := number(t, row, "T")
		kelvin, duv, ok := Chromaticity{number(t, row, "x"), number(t, row, "y")}.CCT()
		if !ok {
			t.Errorf("%g K: no colour temperature", want)
		}
		near(t, row["T"]+" K: CCT", kelvin, want, 0.002*want)
		near(t, row["T"]+" K: Duv", duv, 0, 1.5e-4)
	}
}

// CIE 15:2004 daylight: the nominal temperature, and a Duv near +0.003.
func TestCCTOfDaylight(t *testing.T) {
	for _, row := range checkTable(t, "02_daylight_locus.csv") {
		want := number(t, row, "T")
		kelvin, duv, ok := Chromaticity{number(t, row, "x"), number(t, row, "y")}.CCT()
		if !ok {
			t.Errorf("%g K: no colour temperature", want)
		}
		near(t, row["T"]+" K: CCT", kelvin, want, 0.01*want) // the locus is a fit
		near(t, row["T"]+" K: Duv", duv, 0.003, 0.001)
	}
}

func TestNoCCT(t *testing.T) {
	for name, c := range map[string]Chromaticity{
		"green": srgbSpace.green, "blue": srgbSpace.blue, "red": srgbSpace.red,
		"black": LinearRGB{}.Chromaticity(), "nothing": {math.NaN(), math.NaN()},
	} {
		if kelvin, duv, ok := c.CCT(); ok {
			t.Errorf("%s: CCT %g K, Duv %g, want none", name, kelvin, duv)
		}
	}
	near(t, "x of equal channels", LinearRGB{0.3, 0.3, 0.3}.Chromaticity().X, d65.X, 1e-12)
}
