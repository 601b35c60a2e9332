package reports

import (
	"bytes"
	"fmt"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-pdf/fpdf"

	"jigloupe/calib"
)

// TagSheet is a PDF of printed tags, one per piece: a QR code with a side of
// sideMM, the piece's name under it, and dashes to cut along. Paper is "A4" or
// "Letter". On each page a line of 50 mm shows whether the printer kept to scale.
func TagSheet(pieces []string, sideMM float64, paper string) ([]byte, error) {
	d := fpdf.New("P", "mm", paper, "")
	d.SetCatalogSort(true)
	d.SetCreationDate(noDate)
	d.SetModificationDate(noDate)
	d.SetTitle("Tags", true)
	d.SetLang("en")
	d.AddUTF8FontFromBytes("text", "", dejavusanscondensed.TTF)
	d.SetAutoPageBreak(false, 0)
	wide, high := d.GetPageSize()

	const top, label, gap = 30.0, 3.5, 2.0  // mm
	border := sideMM / 25 * calib.TagBorder // the white border of the coarsest code
	cellW, cellH := sideMM+2*border, sideMM+2*border+label
	across := int((wide - 2*margin + gap) / (cellW + gap))
	down := int((high - top - margin + gap) / (cellH + gap))
	for k, piece := range pieces {
		if k%(across*down) == 0 {
			d.AddPage()
			tagRule(d, sideMM)
		}
		at := k % (across * down)
		x, y := margin+float64(at%across)*(cellW+gap), top+float64(at/across)*(cellH+gap)
		modules, err := calib.TagModules(piece, sideMM)
		if err != nil {
			return nil, err
		}
		d.SetDrawColor(150, 150, 150)
		d.SetLineWidth(0.1)
		d.SetDashPattern([]float64{1, 1}, 0)
		d.Rect(x, y, cellW, cellH, "D")
		drawCode(d, x+border, y+border, sideMM, modules)
		size := 8.0 // pt
		for d.SetFont("text", "", size); d.GetStringWidth(piece) > cellW-1 && size > 3; d.SetFont("text", "", size) {
			size -= 0.5
		}
		d.SetTextColor(0, 0, 0)
		d.Text(x+(cellW-d.GetStringWidth(piece))/2, y+cellH-1, piece)
	}
	var b bytes.Buffer
	if err := d.Output(&b); err != nil {
		return nil, fmt.Errorf("sheet of tags: %w", err)
	}
	return b.Bytes(), nil
}

// tagRule draws the line to measure, and what to do with the sheet.
func tagRule(d *fpdf.Fpdf, sideMM float64) {
	d.SetDashPattern(nil, 0)
	d.SetDrawColor(0, 0, 0)
	d.SetLineWidth(0.2)
	const y, long = 14.0, 50.0
	d.Line(margin, y, margin+long, y)
	d.Line(margin, y-2, margin, y+2)
	d.Line(margin+long, y-2, margin+long, y+2)
	d.SetTextColor(0, 0, 0)
	d.SetFont("text", "", 9)
	d.Text(margin+long+4, y+1, "This line is 50 mm: measure it. If it is not, print again at 100 %, not fitted to the page.")
	d.SetFont("text", "", 8)
	d.Text(margin, y+8, fmt.Sprintf("Cut along the dashes, with the white border, and lay the tag flat on the grey card beside its piece. The codes are %g mm wide.", sideMM))
}

// drawCode fills a code's dark modules along rows and along columns, so that no
// hair of white parts neighbours.
func drawCode(d *fpdf.Fpdf, x, y, sideMM float64, modules [][]bool) {
	d.SetFillColor(0, 0, 0)
	n := len(modules)
	one := sideMM / float64(n)
	for j := range n {
		for i := 0; i < n; i++ {
			from := i
			for i < n && modules[j][i] {
				i++
			}
			if i > from {
				d.Rect(x+float64(from)*one, y+float64(j)*one, float64(i-from)*one, one, "F")
			}
		}
		for i := 0; i < n; i++ {
			from := i
			for i < n && modules[i][j] {
				i++
			}
			if i > from+1 {
				d.Rect(x+float64(j)*one, y+float64(from)*one, one, float64(i-from)*one, "F")
			}
		}
	}
}
