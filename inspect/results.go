package inspect

// Schema names the results file's contract; it changes only when a field is
// renamed, removed or changes its meaning.
const Schema = "jigloupe/results/1"

// Results is one graded batch, the content of results.json. Everything people
// read is made from it. Pixel coordinates are in the upright photo, origin top
// left. A pointer that is nil means "not measured", never 0.
type Results struct {
	Schema string         `json:"schema"`
	Tool   Tool           `json:"tool"`
	Batch  Batch          `json:"batch"`
	Limits Limits         `json:"limits"`
	Repeat *Repeatability `json:"repeatability"` // that the verdicts counted in, nil when none was known
	Pieces []Piece        `json:"pieces"`
}

// Tool says which program wrote the results.
type Tool struct {
	Name    string `json:"name"`
	Version string `json:"version"`
}

// Batch describes what was graded.
type Batch struct {
	Name    string   `json:"name"`
	Columns []string `json:"columns"` // of batch.csv, in its order, without "piece"
	Pieces  int      `json:"pieces"`
	Photos  int      `json:"photos"`
	Pass    int      `json:"pass"`
	Fail    int      `json:"fail"`
	Retake  int      `json:"retake"`
	Notes   []string `json:"notes"` // plain sentences about the batch as a whole
}

// Outcome is what a piece's verdict can be.
type Outcome string

const (
	Pass   Outcome = "pass"
	Fail   Outcome = "fail"
	Retake Outcome = "retake"
)

// EyeState is what a photo or all photos of a piece show of the line-tie eye.
type EyeState string

const (
	EyeOpen    EyeState = "open"
	EyeBlocked EyeState = "blocked"
	EyeUnseen  EyeState = "unseen"
)

// EyeHole is how much of the hole of a line-tie eye is free of paint.
type EyeHole struct {
	OpenPct float64 `json:"open_pct"` // of its area, in %
	U       float64 `json:"u"`        // standard uncertainty, in %
}

// partly tells whether some of the hole is surely filled, for k = 2.
func (h *EyeHole) partly() bool { return h.OpenPct+2*h.U < 100 }

// Piece is one painted head: its treatment, its photos and its verdict.
type Piece struct {
	Piece     string            `json:"piece"`
	Sheet     map[string]string `json:"sheet"` // its row of batch.csv by column, without "piece"
	Verdict   Outcome           `json:"verdict"`
	LimitsFor string            `json:"limits_for"` // which sections of the limits were used, in words; "" means those for all pieces
	Reasons   []Reason          `json:"reasons"`
	Seen      string            `json:"seen"` // how much of the head the photos show by their number of views, e.g. "one side"
	Photos    []Photo           `json:"photos"`
	Travel    *Travel           `json:"travel"`
	LampMoves []LampMove        `json:"lamp_moves"` // of photo pairs in which only the lamp moved
	Coverage  *Coverage         `json:"coverage"`
	Relief    *Relief           `json:"relief"`
	Eye       EyeState          `json:"eye"`
	EyeHole   *EyeHole          `json:"eye_hole"` // nil when unseen
	EyeNote   string            `json:"eye_note"` // when unseen: why, and which view would show it
}

// A Reason is one measure set against its limit. A passing piece has reasons
// too: those measures that came near their limit.
type Reason struct {
	Measure   string   `json:"measure"` // bare_area, bare_spot, lump_height, outline_deviation, pinholes, eye, photo, coverage_unseen, lump_unseen, outline_unseen, pinholes_unseen, no_scale, cleared, …
	Outcome   Outcome  `json:"outcome"` // what this reason alone would make of the piece
	Value     *float64 `json:"value"`
	U         *float64 `json:"u"` // standard uncertainty, k = 1, with the scatter of repeats where that is known
	Limit     *float64 `json:"limit"`
	Unit      string   `json:"unit"`
	CloseCall bool     `json:"close_call"`
	File      string   `json:"file,omitempty"` // the photo that shows it best
	Says      string   `json:"says"`           // one plain sentence: what, where, how big, against which limit
	Fix       string   `json:"fix"`            // usual cause and what to try, one or two plain sentences
}

// Photo is what one photo gave.
type Photo struct {
	File         string        `json:"file"`
	View         string        `json:"view"`
	SameAs       string        `json:"same_as"`  // an earlier photo of the piece that shows the very same; "" for none
	Lamp         string        `json:"lamp"`     // "" or the letter of a lamp-moved twin
	Operator     string        `json:"operator"` // who placed and shot it, or in which session; "" when photos.csv does not say
	Usable       bool          `json:"usable"`
	Problems     []string      `json:"problems"` // why not, or what to mind, with the way to mend it
	Width        int           `json:"width_px"`
	Height       int           `json:"height_px"`
	Profile      string        `json:"profile"`
	Card         *Card         `json:"card"`
	Tone         *Tone         `json:"tone"` // what is left of the camera's tone curve; nil when the photo could not be read
	ScaleMMPerPx *float64      `json:"scale_mm_per_px"`
	ScaleU       *float64      `json:"scale_u"`    // its standard uncertainty in mm per px, nil for a typed scale
	ScaleFrom    string        `json:"scale_from"` // where the scale comes from: tag, photos.csv, batch.csv, "" when there is none
	Tag          *Tag          `json:"tag"`        // the printed tag in the photo
	SharpnessPx  *float64      `json:"sharpness_px"`
	Head         *Head         `json:"head"`
	BareSpots    []BareSpot    `json:"bare_spots"`
	ReliefFaults []ReliefFault `json:"relief_faults"`
	// Places where bare metal and the coat in shadow, or the card mirrored in its
	// gloss, look the same. They count as neither; one as wide as the limit asks for
	// another photo.
	DarkSpots []BareSpot `json:"dark_spots"`
	// Places of the face that are shaded as a lump would be and whose height can't be
	// told. They count as none, and ask for another photo.
	DoubtfulRelief []ReliefFault `json:"doubtful_relief"`
	// Marks that a photo with only the lamp moved showed to be light and no
	// faults: counted nowhere, in no number and no verdict.
	ClearedSpots  []BareSpot    `json:"cleared_spots"`
	ClearedRelief []ReliefFault `json:"cleared_relief"`
	Eye           EyeState      `json:"eye"`
	EyeHole       *EyeHole      `json:"eye_hole"` // nil when unseen
	EyeAt         *Point        `json:"eye_at"`   // centre of the eye's ring when it was found
	EyeNote       string        `json:"eye_note"` // when unseen: why, and which view would show it
	Travel        *Travel       `json:"travel"`
	Coverage      *Coverage     `json:"coverage"`
	Relief        *Relief       `json:"relief"`
	Picture       *Picture      `json:"picture"`
}

// Card is what the grey card says of the photo's light.
type Card struct {
	Reflectance   float64  `json:"reflectance"`    // as stated by its maker, in (0, 1]
	SharePct      float64  `json:"share_pct"`      // of the photo, in %
	ClippedPct    float64  `json:"clipped_pct"`    // of the card's pixels, in %
	UnevennessPct float64  `json:"unevenness_pct"` // (max − min) / max of the light across the card, in %
	ResidualPct   float64  `json:"residual_pct"`   // robust standard deviation of the card about the fitted light, in %
	CCTK          *float64 `json:"cct_k"`          // of the light as the camera rendered it, in K
}

// Tone says whether the camera's tone curve was undone, and what may be left.
type Tone struct {
	From     string  `json:"from"`      // the set-up file; "" when there was none and the usual curve was undone
	DeltaE00 float64 `json:"delta_e00"` // how far colours may be off: cross-validated mean or, without a set-up file, the root mean square over plausible curves
}

// Tag is a printed tag that lies beside the piece.
type Tag struct {
	Piece    string   `json:"piece"`
	SideMM   float64  `json:"side_mm"`    // of its code, as printed
	Corners  [4]Point `json:"corners"`    // of its code, clockwise as it reads, from its top left
	TiltDeg  float64  `json:"tilt_deg"`   // between the card and the plane square to the line of sight
	TiltUDeg float64  `json:"tilt_u_deg"` // standard uncertainty; large for small tilts
}

// Point is a place in the upright photo, in px.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Within tells whether p lies within a closed line.
func (p Point) Within(line []Point) bool {
	in := false
	for i, a := range line {
		b := line[(i+1)%len(line)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}

// Head is the segmented painted head.
type Head struct {
	BBox    [4]int   `json:"bbox"` // x, y, width, height
	AreaPx  int      `json:"area_px"`
	AreaMM2 *float64 `json:"area_mm2"`
	Mask    string   `json:"mask"` // file beside results.json, 255 where the head is
	Outline []Point  `json:"outline"`
	Rings   []Ring   `json:"rings"` // lines of equal viewing angle
	Axis    [2]Point `json:"axis"`  // of revolution, tip first
}

// A Ring joins the places seen under one viewing angle.
type Ring struct {
	ViewingDeg float64 `json:"viewing_deg"`
	Line       []Point `json:"line"`
}

// A BareSpot is a connected area where the coat covers less than half.
type BareSpot struct {
	Number     int      `json:"number"` // on the picture, from 1 within the photo
	X          float64  `json:"x"`
	Y          float64  `json:"y"`
	AreaPx     int      `json:"area_px"`
	AreaMM2    *float64 `json:"area_mm2"`
	SharePct   float64  `json:"share_pct"` // of the visible head
	DiameterPx float64  `json:"diameter_px"`
	DiameterMM *float64 `json:"diameter_mm"` // of the circle of equal area
	DiameterU  *float64 `json:"diameter_u"`  // its standard uncertainty, in mm
	Opacity    float64  `json:"opacity"`     // of the coat at its barest, in [0, 1]
	Where      string   `json:"where"`       // "edge" or "face"
	Place      string   `json:"place"`       // in words, e.g. "on the collar", "near the tip"
	Shows      string   `json:"shows"`       // what shows through: "metal", "metal or black base", "white base" or another base; of a dark spot MetalOrShadow, MetalOrGloss, MetalOrCard or MetalOrTint
	Confidence float64  `json:"confidence"`  // in [0, 1]
	LampMoved  string   `json:"lamp_moved"`  // what the lamp-moved twin says: stays, gone, unclear; "" without one
	Outline    []Point  `json:"outline"`
}

// What a dark spot may show.
const (
	MetalOrShadow = "metal or the coat in shadow"
	MetalOrGloss  = "metal or the card mirrored in the coat's gloss"
	MetalOrCard   = "metal or the card beside the head"
	MetalOrTint   = "metal or the coat in light of another colour"
)

// A ReliefFault is a place where the film is lumpy or broken.
type ReliefFault struct {
	Number     int      `json:"number"`
	Kind       string   `json:"kind"` // lump, sag, cone, run, pinhole, crater, orange_peel
	X          float64  `json:"x"`
	Y          float64  `json:"y"`
	DiameterPx float64  `json:"diameter_px"`
	DiameterMM *float64 `json:"diameter_mm"`
	HeightMM   *float64 `json:"height_mm"`
	U          *float64 `json:"u"` // standard uncertainty of the height, in mm
	Place      string   `json:"place"`
	Confidence float64  `json:"confidence"`
	LampMoved  string   `json:"lamp_moved"` // as of a bare spot
}

// Travel is how the coat's colour changes with the viewing angle.
type Travel struct {
	Light         string      `json:"light"` // diffuse, one_lamp or unknown
	Curve         []TravelBin `json:"curve"`
	TrustedDeg    *[2]float64 `json:"trusted_deg"`   // from and to which viewing angle the curve can be relied on
	DeltaE00Max   *float64    `json:"delta_e00_max"` // without what noise alone adds to a largest difference
	U             *float64    `json:"u"`
	Interval      *[2]float64 `json:"interval"` // 95 %, of delta_e00_max; begins at 0 where noise explains all of it
	BetweenDeg    *[2]float64 `json:"between_deg"`
	Shift         *Shift      `json:"shift"`
	HueArcDeg     *float64    `json:"hue_arc_deg"`
	HueArcU       *float64    `json:"hue_arc_u"`
	ChromaRange   *[2]float64 `json:"chroma_range"`
	LightnessSpan *[2]float64 `json:"lightness_range"`
	Flop          *float64    `json:"flop"` // by viewing angle, not aspecular angle: for ranking in the same light
}

// Shift is the travel with all angles brought to one lightness, in ΔE00:
// shading, from which a plain colour seems to travel too, is not in it.
type Shift struct {
	DeltaE00   float64    `json:"delta_e00"`
	U          float64    `json:"u"`
	Interval   [2]float64 `json:"interval"` // 95 %; begins at 0 where noise explains all of it
	BetweenDeg [2]float64 `json:"between_deg"`
}

// LampMove is how the colour of a view changes when nothing but the lamp moves:
// the travel that one lamp shows. Shading is left out.
type LampMove struct {
	View    string       `json:"view"`
	Files   [2]string    `json:"files"`
	ByAngle []LampChange `json:"by_angle"`
}

// LampChange is the change of the places seen under one viewing angle.
type LampChange struct {
	ViewingDeg float64 `json:"viewing_deg"`
	DeltaE00   float64 `json:"delta_e00"` // root mean square over places round the head, without what noise adds
	U          float64 `json:"u"`
	Places     int     `json:"places"`
}

// A TravelBin is the mean CIELAB (D50, 2°) of the head seen within ±5° of a
// viewing angle.
type TravelBin struct {
	ViewingDeg float64 `json:"viewing_deg"`
	L          float64 `json:"L"`
	A          float64 `json:"a"`
	B          float64 `json:"b"`
	Px         int     `json:"px"`
	U          float64 `json:"u"`       // standard uncertainty as a colour difference, ΔE00
	NoiseU     float64 `json:"u_noise"` // the part of it that is this bin's alone
	ToneU      float64 `json:"u_tone"`  // the part of it that all photos of a camera of unknown tone curve share
}

// Coverage is how much of the visible head shows no coat.
type Coverage struct {
	BareAreaPct       *float64 `json:"bare_area_pct"` // of the visible head, in the worst photo
	U                 *float64 `json:"u"`
	BareAreaMM2       *float64 `json:"bare_area_mm2"`
	SmallestVisibleMM *float64 `json:"smallest_visible_mm"` // diameter of the smallest spot that would have been found
}

// Relief is how far the film departs from smooth.
type Relief struct {
	OutlineDeviationMM *float64 `json:"outline_deviation_mm"` // largest in size, signed, + is outward
	U                  *float64 `json:"u"`
	OutlineSeenPct     *float64 `json:"outline_seen_pct"`    // share of the head's outline along which the deviation is known, in the view that shows most; nil: none
	OutlineNote        string   `json:"outline_note"`        // when none is known in any view: why, and what would mend it
	DoubtfulMM         *float64 `json:"doubtful_mm"`         // highest place of the outline beside one where it is lost, so that it may not be the head's; nil: none
	Lumps              *int     `json:"lumps"`               // nil: not looked for
	LumpHeightMM       *float64 `json:"lump_height_mm"`      // the highest
	Pinholes           *int     `json:"pinholes"`            // with craters, in the worst view; nil: not looked for, the photo has too few pixels
	SmallestPinholeMM  *float64 `json:"smallest_pinhole_mm"` // width of the narrowest pinhole that half of the face would have shown; nil: none up to 0.6 mm, or no scale
	OrangePeelUM       *float64 `json:"orange_peel_um"`
	Deviation          []Sway   `json:"deviation"` // along the outline, for the plot
}

// Sway is the outline's deviation at one place along it.
type Sway struct {
	X           float64 `json:"x"`
	Y           float64 `json:"y"`
	DeviationMM float64 `json:"deviation_mm"`
}

// Picture is the upright cut-out around the head that reports draw on, or all
// of the photo where no head was found.
type Picture struct {
	File   string  `json:"file"`   // beside results.json, JPEG, nothing drawn on it
	X      int     `json:"x"`      // of its left edge in the photo, px
	Y      int     `json:"y"`      // of its top edge in the photo, px
	Scale  float64 `json:"scale"`  // picture px per photo px
	Width  int     `json:"width"`  // picture px
	Height int     `json:"height"` // picture px
}
