package inspect

// Limits are what a piece must keep to pass. A zero value is a limit of zero;
// DefaultLimits gives the ordinary ones.
type Limits struct {
	BareAreaPct        float64 `json:"bare_area_pct" toml:"bare_area_pct"`               // largest bare share of the visible head, in %
	BareSpotMM         float64 `json:"bare_spot_mm" toml:"bare_spot_mm"`                 // a spot this wide fails, in mm
	LumpHeightMM       float64 `json:"lump_height_mm" toml:"lump_height_mm"`             // highest lump, in mm
	OutlineDeviationMM float64 `json:"outline_deviation_mm" toml:"outline_deviation_mm"` // largest deviation of the outline, in mm
	Pinholes           int     `json:"pinholes" toml:"pinholes"`                         // this many in one view fail
	EyeMustBeOpen      bool    `json:"eye_must_be_open" toml:"eye_must_be_open"`         // a blocked eye fails
	MinViews           int     `json:"min_views" toml:"min_views"`                       // usable views a pass needs; 0 asks for none in particular
}

// DefaultLimits are common practice, no source.
func DefaultLimits() Limits {
	return Limits{BareAreaPct: 0.5, BareSpotMM: 0.5, LumpHeightMM: 0.25, OutlineDeviationMM: 0.30, Pinholes: 5, EyeMustBeOpen: true}
}
