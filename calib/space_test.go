package calib

import (
	"encoding/json"
	"fmt"
	"os"
	"testing"
)

// IEC 61966-2-1, SMPTE EG 432-1; Bradford as in ICC.1:2022 annex E.
func TestPublishedMatrices(t *testing.T) {
	data, err := os.ReadFile("../testdata/check/02_rgb_matrices.json")
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		SRGB     matrix `json:"srgb_to_xyz_d65"`
		Rounded  matrix `json:"srgb_to_xyz_d65_iec_rounded"`
		P3       matrix `json:"p3_to_xyz_d65"`
		Bradford matrix `json:"bradford_d65_to_d50_css"`
	}
	if err := json.Unmarshal(data, &want); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want matrix
		tolerance float64
	}{
		{"sRGB to XYZ", srgbSpace.toXYZ(), want.SRGB, 1e-12},
		{"sRGB to XYZ as printed", srgbSpace.toXYZ(), want.Rounded, 5e-5},
		{"Display P3 to XYZ", p3Space.toXYZ(), want.P3, 1e-12},
		{"D65 to D50", adapt(d65.xyz(), d50.xyz()), want.Bradford, 1e-12},
		{"an inverse", srgbSpace.toXYZ().mul(srgbSpace.toXYZ().inverse()), matrix{{1}, {0, 1}, {0, 0, 1}}, 1e-12},
	} {
		for i := range c.got {
			near3(t, fmt.Sprintf("%s, row %d", c.name, i), c.got[i], c.want[i], c.tolerance)
		}
	}
}

// ICC.1:2022 annex E on the white points of ASTM E308, recomputed twice.
func TestAdaptation(t *testing.T) {
	whites := map[string][3]float64{}
	for _, row := range checkTable(t, "02_white_points.csv") {
		whites[row["name"]+"_"+row["observer"]] = numbers3(t, row, "X", "Y", "Z")
	}
	whites["D50_ICC"] = whites["D50_ICC_2"]
	checked := 0
	for _, row := range checkTable(t, "02_chromatic_adaptation.csv") {
		if row["cat"] != "Bradford" {
			continue
		}
		checked++
		m := adapt(whites[row["src_white"]], whites[row["dst_white"]])
		what := row["src_white"] + " to " + row["dst_white"]
		near3(t, what+", row 1", m[0], numbers3(t, row, "m11", "m12", "m13"), 1e-9)
		near3(t, what+", row 2", m[1], numbers3(t, row, "m21", "m22", "m23"), 1e-9)
		near3(t, what+", row 3", m[2], numbers3(t, row, "m31", "m32", "m33"), 1e-9)
		near3(t, what, m.apply(numbers3(t, row, "X", "Y", "Z")), numbers3(t, row, "X2", "Y2", "Z2"), 1e-9)
	}
	if checked != 24 {
		t.Errorf("%d Bradford rows checked, want 24", checked)
	}
}

// The two whites of the program against the tables of ASTM E308 and their own
// chromaticities.
func TestWhitePoints(t *testing.T) {
	ours := map[string]Chromaticity{"D50": d50, "D65": d65, "D50_xy": d50, "D65_xy": d65}
	tolerance := map[string]float64{"D50": 2e-4, "D65": 3e-4, "D50_xy": 5e-9, "D65_xy": 5e-9} // E308 tabulates from spectra, ours are rounded x, y
	checked := 0
	for _, row := range checkTable(t, "02_white_points.csv") {
		c, ok := ours[row["name"]]
		if !ok || row["observer"] != "2" {
			continue
		}
		checked++
		near3(t, row["name"], c.xyz(), numbers3(t, row, "X", "Y", "Z"), tolerance[row["name"]])
	}
	if checked != 4 {
		t.Errorf("%d white points checked, want 4", checked)
	}
}
