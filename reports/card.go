package reports

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
)

// A Card shows customers the colour of a powder or a piece: a picture for a
// shop page, and a page to print.
type Card struct {
	Title     string // the powder or the piece
	Pieces    []inspect.Piece
	Dir       string          // of the results, where the pictures lie
	Travel    *inspect.Travel // of all the pieces together
	Reference *inspect.Travel // nil unless the card compares
	Against   study.Against
	RefName   string
	photo     *inspect.Photo
}

// NewCard makes the card of pieces that share a coat. Pieces whose light is not
// that of the most are left out; it is an error when no colour was measured.
func NewCard(title string, pieces []inspect.Piece, dir string) (*Card, error) {
	c := &Card{Title: title, Dir: dir}
	c.Pieces, c.Travel = study.SameLight(pieces)
	if c.Travel == nil {
		return nil, fmt.Errorf("%s: no colour was measured in its photos, so there is nothing to show", title)
	}
	best := 0
	for i := range c.Pieces {
		for k := range c.Pieces[i].Photos {
			ph := &c.Pieces[i].Photos[k]
			if ph.Usable && ph.Lamp == "" && ph.Picture != nil && ph.Head != nil && ph.Head.AreaPx > best {
				c.photo, best = ph, ph.Head.AreaPx
			}
		}
	}
	if c.photo == nil {
		return nil, fmt.Errorf("%s: no photo of it is left beside the results", title)
	}
	return c, nil
}

// Compare sets the card's colour against that of a reference.
func (c *Card) Compare(name string, reference *inspect.Travel) (err error) {
	c.RefName, c.Reference = name, reference
	c.Against, err = study.SetAgainst(c.Travel, reference)
	return err
}

// WriteCardPNG writes the card as a picture of 1200 by 1500 px.
func WriteCardPNG(path string, c *Card) error {
	photo, err := c.crop()
	if err != nil {
		return err
	}
	d := c.layout()
	canvas := onPage(d)
	at := c.frame()
	draw.Draw(canvas, image.Rect(int(at.x), int(at.y), int(at.x+at.w), int(at.y+at.h)), photo, photo.Bounds().Min, draw.Src)
	var b bytes.Buffer
	if err := png.Encode(&b, canvas); err != nil {
		return fmt.Errorf("card of %s: %w", c.Title, err)
	}
	return writeWhole(path, b.Bytes())
}

// WriteCardPDF writes a page for each card, with the colours in numbers.
func WriteCardPDF(path string, cards []*Card, tool inspect.Tool, paper string) error {
	d := newDocument(&inspect.Results{Tool: tool, Batch: inspect.Batch{Name: "colour cards"}}, paper)
	d.SetTitle("Colour cards", true)
	for _, c := range cards {
		d.AddPage()
		d.Bookmark(plain(c.Title), 0, 0)
		photo, err := c.crop()
		if err != nil {
			return err
		}
		file, err := shrunk(photo, 600e3, 0)
		if err != nil {
			return err
		}
		dr := c.layout()
		const top = 8.0
		k := min(d.wide, (d.high-top-48)*dr.W/dr.H) / dr.W
		x := margin + (d.wide-k*dr.W)/2
		d.draw(dr, x, top, k*dr.W, onPaper)
		at := c.frame()
		d.image(file, x+k*at.x, top+k*at.y, k*at.w, k*at.h)
		d.y = top + k*dr.H
		d.numbers(c.Travel.Curve)
	}
	var b bytes.Buffer
	if err := d.Output(&b); err != nil {
		return fmt.Errorf("colour cards: %w", err)
	}
	return writeWhole(path, b.Bytes())
}

// numbers is the curve as a table, an angle to a column.
func (d *document) numbers(curve []inspect.TravelBin) {
	const name = 34.0
	step := (d.wide - name) / float64(max(len(curve), 1))
	for _, row := range []struct {
		name string
		of   func(b inspect.TravelBin) string
	}{
		{"viewing angle", func(b inspect.TravelBin) string { return fmt.Sprintf("%.0f°", b.ViewingDeg) }},
		{"L* (D50, 2°)", func(b inspect.TravelBin) string { return fmt.Sprintf("%.1f", b.L) }},
		{"a*", func(b inspect.TravelBin) string { return fmt.Sprintf("%.1f", b.A) }},
		{"b*", func(b inspect.TravelBin) string { return fmt.Sprintf("%.1f", b.B) }},
		{"±, ΔE00 (k = 2)", func(b inspect.TravelBin) string { return fmt.Sprintf("%.1f", 2*b.U) }},
	} {
		d.at(margin, d.y+4, 8, "", "grey", row.name)
		for i, b := range curve {
			text := row.of(b)
			d.SetFont("text", "", 8)
			d.at(margin+name+step*(float64(i)+0.5)-d.GetStringWidth(text)/2, d.y+4, 8, "", "", text)
		}
		d.y += 4.4
	}
}

// A room is a rectangle on the card, in its units.
type room struct{ x, y, w, h float64 }

const (
	cardWide, cardHigh = 1200.0, 1500.0
	cardEdge           = 60.0
)

// frame is where the photo goes: square where that can be, as the picture is
// where the head leaves no room for it.
func (c *Card) frame() room {
	const side, least = 640.0, 460.0
	shape := float64(c.photo.Picture.Width) / float64(c.photo.Picture.Height)
	return room{cardEdge, 168, math.Round(min(max(side*shape, least), side)), math.Round(min(max(side/shape, least), side))}
}

// layout is everything on the card but the photo.
func (c *Card) layout() drawing {
	d := drawing{W: cardWide, H: cardHigh}
	wide := cardWide - 2*cardEdge
	d.bold(cardEdge, 82, fitSize(c.Title, 60, wide), c.Title)
	d.text("grey", cardEdge, 136, 25, -1, shortened(c.under(), 25, wide))
	frame := c.frame()
	right := frame.x + frame.w + 40
	plane := planePlot(c.Travel, c.Reference)
	column := cardWide - cardEdge - right
	plot := min(column, 400)
	d.place(plane, right, frame.y, plot/plane.W)
	below := frame.y + plot + 34
	if c.Reference != nil {
		below = d.paragraph(right, below, 21, column, "Dashed: "+c.RefName+".")
	}
	below = d.paragraph(right, below, 21, column, c.shotUnder())

	y := max(frame.y+frame.h, below) + 34
	high := 1122 - y
	if c.Reference != nil {
		high -= 150
	}
	outside := d.strip(c.Travel, y, high)
	y += high + 22
	for i, b := range c.Travel.Curve {
		d.text("label", c.column(i), y, 22, 0, fmt.Sprintf("%.0f°", b.ViewingDeg))
	}
	y += 26
	if c.Reference != nil {
		y = d.against(c, y, &outside)
	}
	line := c.numbers()
	d.bold(cardEdge, y+26, fitSize(line, 27, wide), line)
	y += 74
	if c.Reference != nil {
		y = d.paragraph(cardEdge, y, 22, wide, c.Against.Says)
	}
	says := "The fields show the coat as it turns from facing you (5°) to its edge (75°)."
	if outside {
		says += " A cut corner marks a colour that screens cannot show; the nearest is drawn."
	}
	y = d.paragraph(cardEdge, y, 22, wide, says+" Screens differ: judge the piece itself, in your own light."+c.cameraDoubt())
	d.paragraph(cardEdge, y, 22, wide, "Lead under the paint: wash your hands after handling, keep it away from children and food.")
	d.text("grey", cardEdge, cardHigh-36, 17, -1, "ΔE00: CIEDE2000. ± is k = 2: about 19 times in 20 the truth lies within. The path shows a* and b* (CIELAB, D50), the discs their ±.")
	return d
}

// paragraph writes text in lines no wider than wide and returns where the next
// one begins.
func (d *drawing) paragraph(x, y, size, wide float64, text string) float64 {
	for _, l := range wrapped(text, size, wide) {
		d.text("", x, y, size, -1, l)
		y += 1.32 * size
	}
	return y + 0.45*size
}

// column is the middle of the swatch of an angle.
func (c *Card) column(i int) float64 {
	step := (cardWide - 2*cardEdge) / float64(len(c.Travel.Curve))
	return cardEdge + step*(float64(i)+0.5)
}

// strip draws a field per viewing angle and reports whether one of the colours
// is outside what a screen shows.
func (d *drawing) strip(t *inspect.Travel, y, high float64) (outside bool) {
	step := (cardWide - 2*cardEdge) / float64(len(t.Curve))
	for i, b := range t.Curve {
		colour, ok := screen(b)
		outside = outside || !ok
		d.field(cardEdge+step*float64(i), y, step, high, colour, ok)
	}
	return outside
}

func (d *drawing) field(x, y, w, h float64, colour [3]uint8, inGamut bool) {
	pts := rect(x+2, y, w-4, h)
	if !inGamut {
		const cut = 26
		pts = []inspect.Point{{X: x + 2, Y: y}, {X: x + w - 2 - cut, Y: y}, {X: x + w - 2, Y: y + cut}, {X: x + w - 2, Y: y + h}, {X: x + 2, Y: y + h}}
	}
	d.Lines = append(d.Lines, line{Class: "fill swatch", Pts: pts, Closed: true, Colour: &colour})
}

// against draws the reference's fields under those of the coat and the
// difference at each angle.
func (d *drawing) against(c *Card, y float64, outside *bool) float64 {
	step := (cardWide - 2*cardEdge) / float64(len(c.Travel.Curve))
	for i, b := range c.Travel.Curve {
		said := "no reference"
		for _, r := range c.Reference.Curve {
			if r.ViewingDeg == b.ViewingDeg {
				colour, ok := screen(r)
				*outside = *outside || !ok
				d.field(cardEdge+step*float64(i), y, step, 80, colour, ok)
			}
		}
		for _, a := range c.Against.ByAngle {
			if a.ViewingDeg == b.ViewingDeg {
				said = fmt.Sprintf("%.1f ± %.1f", a.DeltaE00, 2*a.U)
			}
		}
		d.text("label", c.column(i), y+100, 20, 0, said)
	}
	under := "above: " + c.Title + ", below: " + c.RefName + "; the numbers are ΔE00 between them"
	d.text("grey", cardEdge, y+130, 20, -1, shortened(under, 20, cardWide-2*cardEdge))
	return y + 142
}

// under is the line below the title.
func (c *Card) under() string {
	var parts []string
	one := c.Pieces[0]
	switch {
	case len(c.Pieces) > 1:
		parts = append(parts, fmt.Sprintf("mean of %d pieces; the photo shows %s", len(c.Pieces), pieceOf(c.photo, c.Pieces)))
	case c.Title != one.Piece:
		parts = append(parts, "piece "+one.Piece)
	case one.Sheet["powder"] != "":
		parts = append(parts, one.Sheet["powder"])
	}
	base := one.Sheet["base"]
	for _, p := range c.Pieces {
		if p.Sheet["base"] != base {
			base = "different"
		}
	}
	switch base {
	case "", "none":
	case "different":
		parts = append(parts, "over different bases")
	default:
		parts = append(parts, "over a "+base+" base coat")
	}
	return strings.Join(parts, " · ")
}

func pieceOf(ph *inspect.Photo, pieces []inspect.Piece) string {
	for i := range pieces {
		for k := range pieces[i].Photos {
			if &pieces[i].Photos[k] == ph {
				return pieces[i].Piece
			}
		}
	}
	return ph.File
}

// numbers is the travel in one line.
func (c *Card) numbers() string {
	t := c.Travel
	if t.DeltaE00Max == nil || t.BetweenDeg == nil {
		return "How far the colour travels was not measured."
	}
	parts := []string{"Travel ΔE00 " + difference(t.DeltaE00Max, t.U, t.Interval)}
	if t.Interval == nil || t.Interval[0] > 0 {
		parts[0] += fmt.Sprintf(" from %.0f° to %.0f°", t.BetweenDeg[0], t.BetweenDeg[1])
	}
	if s := t.Shift; s != nil {
		parts = append(parts, "without shading "+difference(&s.DeltaE00, &s.U, &s.Interval))
	}
	if t.HueArcDeg != nil {
		parts = append(parts, "hue turns "+amount(t.HueArcDeg, t.HueArcU, "°"))
	}
	return strings.Join(parts, "  ·  ")
}

// shotUnder says under what light and on what card the photos were taken.
func (c *Card) shotUnder() string {
	light := map[string]string{
		"diffuse":  "Shot in diffuse light, as in a tent or under an open sky",
		"one_lamp": "Shot with most of the light from one side",
	}[c.Travel.Light]
	if light == "" {
		light = "Shot in light whose kind the photos do not tell"
	}
	var kelvin []float64
	reflectance := 0.0
	for _, p := range c.Pieces {
		for _, ph := range p.Photos {
			if ph.Usable && ph.Card != nil {
				reflectance = ph.Card.Reflectance
				if ph.Card.CCTK != nil {
					kelvin = append(kelvin, *ph.Card.CCTK)
				}
			}
		}
	}
	if len(kelvin) > 0 {
		light += fmt.Sprintf(", %.0f K as the camera rendered it", math.Round(middle(kelvin)/50)*50)
	}
	if reflectance > 0 {
		return light + fmt.Sprintf(", on a grey card of %.0f %%, to which photo and colours are referred.", 100*reflectance)
	}
	return light + ", on a grey card."
}

// cameraDoubt says how far the camera's own tones can put all colours off.
func (c *Card) cameraDoubt() string {
	worst := 0.0
	for _, p := range c.Pieces {
		for _, ph := range p.Photos {
			if ph.Usable && ph.Tone != nil {
				worst = max(worst, ph.Tone.DeltaE00)
			}
		}
	}
	if worst == 0 {
		return ""
	}
	return fmt.Sprintf(" The camera can put all of them off by about ΔE00 %.1f.", worst)
}

// middle is the median of a few values.
func middle(values []float64) float64 {
	slices.Sort(values)
	return values[len(values)/2]
}

// crop is the photo on the card: the head in the middle, its hook around it,
// the grey card brought to the lightness of its reflectance.
func (c *Card) crop() (image.Image, error) {
	saved, err := openPicture(filepath.Join(c.Dir, filepath.FromSlash(c.photo.Picture.File)))
	if err == nil {
		err = saved.decode()
	}
	if err != nil {
		return nil, fmt.Errorf("%s: its picture beside the results cannot be read; grade the batch again: %w", c.photo.File, err)
	}
	at := c.frame()
	return balanced(saved.pix, c.photo, int(at.w), int(at.h)), nil
}
