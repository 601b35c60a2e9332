package inspect

import (
	"fmt"
	"strings"
)

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
	Only               []Only  `json:"only" toml:"only"`                                 // other limits for some pieces
}

// Only are other limits for the pieces with that head style, powder or both, as
// batch.csv has them; "" means any. What is nil stays as for all pieces.
type Only struct {
	HeadStyle          string   `json:"head_style" toml:"head_style,omitempty"`
	Powder             string   `json:"powder" toml:"powder,omitempty"`
	BareAreaPct        *float64 `json:"bare_area_pct" toml:"bare_area_pct,omitempty"`
	BareSpotMM         *float64 `json:"bare_spot_mm" toml:"bare_spot_mm,omitempty"`
	LumpHeightMM       *float64 `json:"lump_height_mm" toml:"lump_height_mm,omitempty"`
	OutlineDeviationMM *float64 `json:"outline_deviation_mm" toml:"outline_deviation_mm,omitempty"`
	Pinholes           *int     `json:"pinholes" toml:"pinholes,omitempty"`
	EyeMustBeOpen      *bool    `json:"eye_must_be_open" toml:"eye_must_be_open,omitempty"`
	MinViews           *int     `json:"min_views" toml:"min_views,omitempty"`
}

// For are the limits of a piece with that row of batch.csv, and in words for
// which pieces they are, "" when those for all. Of sections that fit the later
// ones count.
func (l Limits) For(sheet map[string]string) (own Limits, whose string) {
	own = l
	own.Only = nil
	var fit []string
	for _, o := range l.Only {
		if !o.fits(sheet) {
			continue
		}
		fit = append(fit, o.Whose())
		over(&own.BareAreaPct, o.BareAreaPct)
		over(&own.BareSpotMM, o.BareSpotMM)
		over(&own.LumpHeightMM, o.LumpHeightMM)
		over(&own.OutlineDeviationMM, o.OutlineDeviationMM)
		over(&own.Pinholes, o.Pinholes)
		over(&own.EyeMustBeOpen, o.EyeMustBeOpen)
		over(&own.MinViews, o.MinViews)
	}
	return own, strings.Join(fit, "; ")
}

func over[T any](v *T, other *T) {
	if other != nil {
		*v = *other
	}
}

func (o Only) fits(sheet map[string]string) bool {
	return (o.HeadStyle == "" || o.HeadStyle == sheet["head_style"]) && (o.Powder == "" || o.Powder == sheet["powder"])
}

// Whose says for which pieces the limits are.
func (o Only) Whose() string {
	var words []string
	if o.HeadStyle != "" {
		words = append(words, "head style "+o.HeadStyle)
	}
	if o.Powder != "" {
		words = append(words, "powder "+o.Powder)
	}
	return strings.Join(words, ", ")
}

// Notes say which pieces of a batch have limits of their own, in a sentence for
// each section.
func (l Limits) Notes(rows []BatchRow) []string {
	var notes []string
	for _, o := range l.Only {
		var pieces []string
		for _, row := range rows {
			if o.fits(row.Sheet) {
				pieces = append(pieces, row.Piece)
			}
		}
		switch len(pieces) {
		case 0:
			notes = append(notes, fmt.Sprintf("The limits for %s apply to no piece: batch.csv has none with that.", o.Whose()))
		default:
			notes = append(notes, fmt.Sprintf("The limits for %s apply to %s.", o.Whose(), strings.Join(pieces, ", ")))
		}
	}
	return notes
}

// DefaultLimits are common practice, no source.
func DefaultLimits() Limits {
	return Limits{BareAreaPct: 0.5, BareSpotMM: 0.5, LumpHeightMM: 0.25, OutlineDeviationMM: 0.30, Pinholes: 5, EyeMustBeOpen: true}
}
