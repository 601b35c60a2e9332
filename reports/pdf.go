package reports

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"codeberg.org/go-pdf/fpdf"

	"jigloupe/inspect"
)

// WritePDF writes the batch to path for printing and signing: a cover with the
// list of pieces, then a page for each. Paper is "A4" or "Letter". The pictures
// that r names must lie in dir. What people say against the verdicts stands beside
// them. The bytes depend on r, that, pictures and paper alone; so the file
// carries no date of its own, and the date is what is signed.
func WritePDF(path string, r *inspect.Results, standing map[string]Overrule, dir, paper string) error {
	if paper != "A4" && paper != "Letter" {
		return fmt.Errorf("paper %q is not known: use A4 or Letter", paper)
	}
	d := newDocument(r, paper)
	d.standing, d.summary, d.dir, d.room = standing, summarise(r, standing), dir, roomFor(r)
	d.SetTitle(plain(fmt.Sprintf("%s: %s", r.Batch.Name, d.summary.Headline)), true)

	d.cover()
	for i := range r.Pieces {
		if err := d.piece(&r.Pieces[i]); err != nil {
			return fmt.Errorf("PDF of batch %q: %w", r.Batch.Name, err)
		}
	}
	var b bytes.Buffer
	if err := d.Output(&b); err != nil {
		return fmt.Errorf("PDF of batch %q: %w", r.Batch.Name, err)
	}
	return writeWhole(path, b.Bytes())
}

// PaperOf is the paper of a PDF that WritePDF wrote, A4 when there is none.
func PaperOf(path string) string {
	b, err := os.ReadFile(path)
	if err == nil && bytes.Contains(b, []byte("/MediaBox [0 0 612.00 792.00]")) {
		return "Letter"
	}
	return "A4"
}

// newDocument is an empty PDF about r.
func newDocument(r *inspect.Results, paper string) *document {
	d := &document{Fpdf: fpdf.New("P", "mm", paper, ""), r: r}
	d.SetCatalogSort(true)
	d.SetCreationDate(noDate)
	d.SetModificationDate(noDate)
	d.SetCreator(r.Tool.Name+" "+r.Tool.Version, true)
	d.SetLang("en")
	d.AddUTF8FontFromBytes("text", "", dejavusanscondensed.TTF)
	d.AddUTF8FontFromBytes("text", "B", dejavusanscondensedbold.TTF)
	d.SetMargins(margin, margin, margin)
	d.SetAutoPageBreak(false, 0)
	d.SetLineJoinStyle("round")
	d.AliasNbPages("")
	d.SetFooterFunc(d.foot)
	d.wide, d.high = d.GetPageSize()
	d.wide -= 2 * margin
	return d
}

const margin = 15.0 // mm

// noDate stands where the format demands a date and there is none.
var noDate = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// A document is a PDF under way. Lengths are mm; d.y is how far the page is full.
type document struct {
	*fpdf.Fpdf
	r          *inspect.Results
	standing   map[string]Overrule
	summary    summary
	dir        string
	room       picRoom
	wide, high float64
	y          float64
	pictures   int
}

func (d *document) foot() {
	d.at(margin, d.high-9, 7, "", "grey", fmt.Sprintf("%s %s · %s", d.r.Tool.Name, d.r.Tool.Version, d.r.Batch.Name))
	n := fmt.Sprintf("%d / {nb}", d.PageNo())
	d.at(margin+d.wide-d.GetStringWidth(n), d.high-9, 7, "", "grey", n)
}

func (d *document) cover() {
	d.AddPage()
	d.Bookmark("Batch", 0, 0)
	s := d.summary
	d.y = margin
	d.lines(margin, d.wide, 9, "", "grey", "Finish of painted jig heads")
	d.lines(margin, d.wide, 18, "B", "", d.r.Batch.Name)
	d.y += 2
	d.lines(margin, d.wide, 26, "B", "", s.Headline)
	x := margin
	for _, c := range []struct {
		v inspect.Outcome
		n int
	}{{inspect.Pass, d.r.Batch.Pass}, {inspect.Fail, d.r.Batch.Fail}, {inspect.Retake, d.r.Batch.Retake}} {
		d.sign(x, d.y+1, 4.5, c.v)
		d.at(x+6, d.y+4.7, 11, "", "", fmt.Sprintf("%d %s", c.n, c.v))
		x += 32
	}
	d.y += 11

	half := (d.wide - 8) / 2
	top := d.y
	d.heading(margin, half, "What fails most, and where")
	for _, f := range s.Failing {
		text := fmt.Sprintf("%s: %s", f.Word, plural(len(f.Pieces), "piece"))
		if len(f.Where) > 0 {
			text += ", mostly " + strings.Join(f.Where, ", then ")
		}
		d.lines(margin, half, 9, "", "", "• "+text)
	}
	if len(s.Failing) == 0 {
		d.lines(margin, half, 9, "", "", "Nothing failed.")
	}
	left := d.y
	d.y = top
	d.heading(margin+half+8, half, "What to do next")
	for _, a := range s.Next[:min(len(s.Next), 4)] {
		d.lines(margin+half+8, half, 9, "", "", "• "+a.About+": "+a.Do)
	}
	if len(s.Next) == 0 {
		d.lines(margin+half+8, half, 9, "", "", s.Rest)
	}
	d.y = max(left, d.y) + 3
	for _, note := range d.r.Batch.Notes {
		d.lines(margin, d.wide, 8, "", "grey", note)
	}

	if s.Disagree != "" {
		d.y++
		d.lines(margin, d.wide, 9, "", "", "Overruled: "+s.Disagree+". The counts above are the program's own.")
	}
	d.heading(margin, d.wide, "Pieces")
	for i := range d.r.Pieces {
		p := &d.r.Pieces[i]
		text := unbroken(why(p))
		if r, _ := MainReason(p); r.CloseCall {
			text = "Close call. " + text
		}
		d.makeRoom(d.height(text, d.wide-60, 8.5, 12) + 1)
		d.sign(margin, d.y+0.3, 3.2, p.Verdict)
		d.fit(margin+5, d.y+3, 40, 8.5, "B", "", p.Piece)
		d.at(margin+47, d.y+3, 8.5, "", "", string(p.Verdict))
		d.limited(margin+60, d.wide-60, 8.5, "", text, d.y+12)
		d.y++
		if o, ok := d.standing[p.Piece]; ok {
			d.fit(margin+60, d.y+2.4, d.wide-60, 8.5, "", "", o.headline())
			d.y += 5.2
		}
	}

	var limits []string
	for _, l := range limitWords(d.r.Limits) {
		limits = append(limits, l.Name+": "+l.Value)
	}
	used := strings.Join(limits, "; ") + "."
	need := 16.0 // two headings
	for _, text := range append([]string{used, explainDoubt}, cautions...) {
		need += d.height(text, d.wide, 8, d.high) + 1
	}
	d.makeRoom(need)
	d.heading(margin, d.wide, "Limits used")
	d.lines(margin, d.wide, 8, "", "", used)
	d.lines(margin, d.wide, 8, "", "grey", explainDoubt)
	d.heading(margin, d.wide, "Take care")
	for _, c := range cautions {
		d.lines(margin, d.wide, 8, "", "", c)
		d.y++
	}
	d.signature()
}

// makeRoom turns to a new page unless so many mm are left above the signature.
func (d *document) makeRoom(mm float64) {
	if d.y+mm > d.high-22 {
		d.AddPage()
		d.y = margin
	}
}

func (d *document) piece(p *inspect.Piece) error {
	d.AddPage()
	d.Bookmark(plain(p.Piece), 0, 0)
	d.y = margin
	d.fit(margin, d.y+6, d.wide-42, 17, "B", "", p.Piece)
	d.sign(margin+d.wide-32, d.y+0.5, 6, p.Verdict)
	d.at(margin+d.wide-24, d.y+5.5, 14, "B", string(p.Verdict), string(p.Verdict))
	d.y += 9
	var did []string
	for _, c := range d.r.Batch.Columns {
		if v := p.Sheet[c]; v != "" {
			did = append(did, columnWord(c)+": "+v)
		}
	}
	if p.LimitsFor != "" {
		did = append(did, "judged by the limits for "+p.LimitsFor)
	}
	d.limited(margin, d.wide, 8, "grey", strings.Join(did, " · "), d.y+9)
	if o, ok := d.standing[p.Piece]; ok {
		d.limited(margin, d.wide, 10, "", o.headline(), d.y+14)
	}
	d.y += 2
	if err := d.photos(p); err != nil {
		return err
	}
	const measuredHigh = 56 // mm, what was measured with its heading
	// What is below the text is put by first, so that nothing important is cut.
	bottom := d.high - 24
	curves := p.Travel != nil && len(p.Travel.Curve) > 0 || p.Relief != nil && len(p.Relief.Deviation) > 0
	if curves {
		bottom -= plotHigh + 6
	}
	zooms := d.zooms(p)
	if len(zooms) > 0 {
		bottom -= zoomHigh + 5
	}
	d.heading(margin, d.wide, "Reasons")
	if len(p.Reasons) == 0 {
		d.lines(margin, d.wide, 9.5, "", "", unbroken(why(p)))
	}
	for i, reason := range p.Reasons {
		close := ""
		if reason.CloseCall {
			close = "Close call. "
		}
		says, fix := close+unbroken(reason.Says), newFix(p, i)
		need := d.height(says, d.wide-5, 9.5, 13) + d.height(fix, d.wide-5, 8.5, 10)
		if d.y+need > bottom-measuredHigh {
			d.lines(margin, d.wide, 8, "", "grey", fmt.Sprintf("and %s more, see the page index.html", plural(len(p.Reasons)-i, "reason")))
			break
		}
		if !isNote(reason) {
			d.sign(margin, d.y+0.6, 3.4, reason.Outcome)
		}
		d.limited(margin+5, d.wide-5, 9.5, "", says, d.y+13)
		d.limited(margin+5, d.wide-5, 8.5, "grey", fix, d.y+10)
		d.y++
	}
	top, half := d.y, (d.wide-8)/2
	d.heading(margin, half, "Measured")
	for _, m := range measured(p) {
		d.at(margin, d.y+3.2, 9, "", "grey", m.Name)
		d.lines(margin+34, half-34, 9, "", "", m.Value)
		d.y += 0.4
	}
	left := d.y
	d.y = top
	right := margin + half + 8
	d.heading(right, half, "What was not seen")
	for _, text := range unseenIn(p) {
		d.limited(right, half, 8.5, "", text, bottom)
	}
	d.heading(right, half, "Found in the photos")
	found := foundIn(p)
	for i, text := range found {
		if d.y > bottom-12 && i < len(found)-1 {
			d.limited(right, half, 8.5, "grey", fmt.Sprintf("and %d more, see the page index.html", len(found)-i), bottom)
			break
		}
		d.limited(right, half, 8.5, "", text, bottom)
	}
	d.y = max(d.y, left) + 2
	if err := d.enlarged(zooms); err != nil {
		return err
	}
	if d.y += 2; curves {
		d.plots(p)
	}
	d.signature()
	return nil
}

// foundIn lists problems and faults of all photos.
func foundIn(p *inspect.Piece) []string {
	var out []string
	for i := range p.Photos {
		ph := &p.Photos[i]
		for _, text := range ph.Problems {
			out = append(out, ph.File+": "+text)
		}
		for _, m := range faults(ph) {
			out = append(out, fmt.Sprintf("view %s, no. %d: %s", ph.View+ph.Lamp, m.number, m.says))
		}
	}
	if len(out) == 0 {
		out = []string{"No fault."}
	}
	return out
}

// picture opens the saved cut-out of a photo.
func (d *document) picture(ph *inspect.Photo) (*savedPicture, error) {
	saved, err := openPicture(filepath.Join(d.dir, filepath.FromSlash(ph.Picture.File)))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", ph.File, err)
	}
	return saved, nil
}

// photos shows the views side by side with their marks, as many as fit.
func (d *document) photos(p *inspect.Piece) error {
	const gap = 3.0
	high, shapes := 62.0, 0.0 // widths over heights
	for _, ph := range p.Photos {
		if ph.Picture != nil {
			shapes += float64(ph.Picture.Width) / float64(ph.Picture.Height)
		}
	}
	if shapes > 0 {
		high = max(min(high, (d.wide-gap*float64(len(p.Photos)-1))/shapes), 40)
	}
	x, left := margin, 0
	for i := range p.Photos {
		ph := &p.Photos[i]
		if ph.Picture == nil {
			continue
		}
		w := high * float64(ph.Picture.Width) / float64(ph.Picture.Height)
		if x+w > margin+d.wide+0.1 {
			left++
			continue
		}
		saved, err := d.picture(ph)
		if err != nil {
			return err
		}
		file, err := saved.whole(d.room.photo)
		if err != nil {
			return fmt.Errorf("%s: %w", ph.Picture.File, err)
		}
		d.image(file, x, d.y, w, high)
		d.draw(marked(ph), x, d.y, w, overPhoto)
		d.fit(x, d.y+high+3.2, w, 7.5, "", "grey", "view "+ph.View+ph.Lamp+", "+ph.File)
		x += w + gap
	}
	if x > margin {
		d.y += high + 5
	}
	if left > 0 {
		d.lines(margin, d.wide, 8, "", "grey", fmt.Sprintf("%s more on the page index.html", plural(left, "view")))
	}
	return nil
}

const plotHigh = 50.0

// plots draws the curves in a row below d.y.
func (d *document) plots(p *inspect.Piece) {
	top, x := d.y, margin
	if t := p.Travel; t != nil && len(t.Curve) > 0 {
		angles := anglePlot(t)
		d.draw(planePlot(t, nil), x, top, plotHigh, onPaper)
		x += plotHigh + 4
		w := plotHigh * angles.W / angles.H
		d.draw(angles, x, top, w, onPaper)
		x += w + 4
		s, _ := swatches(t)
		w = margin + d.wide - x
		d.draw(s, x, top, w, onPaper)
		d.y = top + w*s.H/s.W + 1
		d.limited(x, w, 6.5, "grey", lightWords(t.Light), d.y+15)
	}
	if r := p.Relief; r != nil && len(r.Deviation) > 0 {
		limits, _ := d.r.Limits.For(p.Sheet)
		o := outlinePlot(r, limits.OutlineDeviationMM)
		w := min(margin+d.wide-x, 100)
		d.draw(o, x, top+plotHigh-w*o.H/o.W, w, onPaper)
	}
}

// signature is the foot of every page that someone answers for.
func (d *document) signature() {
	y := d.high - 17
	d.ink("grey")
	d.SetLineWidth(0.2)
	for _, s := range []struct {
		name    string
		x, wide float64
	}{{"Checked by (name, signature)", margin, 105}, {"Date", margin + 115, d.wide - 115}} {
		d.Line(s.x, y, s.x+s.wide, y)
		d.at(s.x, y+3.4, 7.5, "", "grey", s.name)
	}
}
