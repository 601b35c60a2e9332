package reports

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"sync"

	"jigloupe/inspect"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

//go:embed page.js
var pageJS string

var pageTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Funcs(template.FuncMap{
		"amount": amount,
		"across": across,
		"twice":  func(u float64) string { return fmt.Sprintf("%.*f", inspect.Decimals(2*u), 2*u) },
		"light":  lightWords,
		"who":    Overrule.says,
		"fix":    newFix,
		"says":   unbroken,
		"note":   isNote,
		"css":    func() template.CSS { return template.CSS(pageCSS) },
		"js":     func() template.JS { return template.JS(pageJS) },
	}).Parse(pageHTML))
})

// WritePage writes index.html into dir: everything about the batch in one file
// that asks nothing of a network. The pictures that r names must lie in dir.
// What people say against the verdicts, by piece, is shown beside them.
func WritePage(dir string, r *inspect.Results, standing map[string]Overrule) error {
	data := pageData{Results: r, Summary: summarise(r, standing), Allowed: limitWords(r.Limits), Doubt: explainDoubt, Cautions: cautions, Pieces: make([]pagePiece, len(r.Pieces))}
	data.Powders, data.Bases, data.Faults = choices(r)
	room := roomFor(r)
	errs := make([]error, len(r.Pieces))
	var wg sync.WaitGroup
	turn := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range r.Pieces {
		wg.Add(1)
		turn <- struct{}{}
		go func() {
			defer wg.Done()
			data.Pieces[i], errs[i] = showPiece(dir, r, i, room)
			if o, ok := standing[r.Pieces[i].Piece]; ok {
				data.Pieces[i].Overruled = &o
			}
			<-turn
		}()
	}
	wg.Wait()
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("page of batch %q: %w", r.Batch.Name, err)
	}
	var b bytes.Buffer
	if err := pageTemplate().Execute(&b, data); err != nil {
		return fmt.Errorf("page of batch %q: %w", r.Batch.Name, err)
	}
	return writeWhole(filepath.Join(dir, "index.html"), bytes.Map(noTurning, b.Bytes()))
}

type pageData struct {
	*inspect.Results
	Summary                summary
	Powders, Bases, Faults []string // what there is to filter by
	Allowed                []named  // limits
	Doubt                  string
	Cautions               []string
	Pieces                 []pagePiece
}

// A pagePiece is a piece as the page shows it.
type pagePiece struct {
	*inspect.Piece
	ID            string // of its element
	Why           string
	Close         bool // the main reason is a close call
	Overruled     *Overrule
	Faults        string // words, with | around each, for the filter
	Treatment     []string
	Views         []pageView
	Measured      []named
	Unseen        []string
	Swatches      template.HTML
	Clipped       bool // some swatch shows a colour the screen cannot
	Plane, Angles template.HTML
	Deviation     template.HTML
	SortBare      float64
	SortLump      float64
	SortTravel    float64
	Rank          int // fail, retake, pass
}

// A pageView is a photo as the page shows it.
type pageView struct {
	*inspect.Photo
	Title  string
	Alt    string
	Src    template.HTMLAttr
	Marks  template.HTML
	Faults []pageFault
}

// A pageFault is a fault in words and, where there is room, enlarged.
type pageFault struct {
	Number int
	Says   string
	Src    template.HTMLAttr
	W, H   int
	Marks  template.HTML
}

func showPiece(dir string, r *inspect.Results, i int, room picRoom) (pagePiece, error) {
	p := &r.Pieces[i]
	out := pagePiece{Piece: p, ID: fmt.Sprintf("p%d", i+1), Why: unbroken(why(p)), Measured: measured(p), Unseen: unseenIn(p), Faults: "|" + strings.Join(faultWords(p), "|") + "|"}
	for _, c := range r.Batch.Columns {
		if v := p.Sheet[c]; v != "" {
			out.Treatment = append(out.Treatment, columnWord(c)+": "+v)
		}
	}
	if p.LimitsFor != "" {
		out.Treatment = append(out.Treatment, "judged by the limits for "+p.LimitsFor)
	}
	for n := range p.Photos {
		v, err := showView(dir, p, n, fmt.Sprintf("%sv%d", out.ID, n+1), room)
		if err != nil {
			return out, err
		}
		out.Views = append(out.Views, v)
	}
	// The front picture is the one that shows the main reason best, else the first there is.
	reason, _ := MainReason(p)
	out.Close = reason.CloseCall
	sort.SliceStable(out.Views, func(a, b int) bool { return out.Views[a].frontness(reason) > out.Views[b].frontness(reason) })

	if t := p.Travel; t != nil && len(t.Curve) > 0 {
		var s drawing
		s, out.Clipped = swatches(t)
		out.Swatches = s.svg("plot wide", "Colour by viewing angle: "+travelWords(t))
		out.Plane = planePlot(t, nil).svg("plot", "Travel in the a*b* plane: "+travelWords(t))
		out.Angles = anglePlot(t).svg("plot", "Lightness and hue angle against viewing angle: "+travelWords(t))
	}
	if rel := p.Relief; rel != nil && len(rel.Deviation) > 0 {
		limits, _ := r.Limits.For(p.Sheet)
		out.Deviation = outlinePlot(rel, limits.OutlineDeviationMM).svg("plot wide",
			fmt.Sprintf("Deviation of the outline, at most %s against a limit of %g mm", amount(rel.OutlineDeviationMM, rel.U, "mm"), limits.OutlineDeviationMM))
	}
	out.Rank = map[inspect.Outcome]int{inspect.Fail: 0, inspect.Retake: 1, inspect.Pass: 2}[p.Verdict]
	out.SortBare, out.SortLump, out.SortTravel = -1, -1, -1 // not measured goes last
	if c := p.Coverage; c != nil && c.BareAreaPct != nil {
		out.SortBare = *c.BareAreaPct
	}
	if rel := p.Relief; rel != nil && rel.LumpHeightMM != nil {
		out.SortLump = *rel.LumpHeightMM
	}
	if t := p.Travel; t != nil && t.DeltaE00Max != nil {
		out.SortTravel = *t.DeltaE00Max
	}
	return out, nil
}

func (v pageView) frontness(reason inspect.Reason) int {
	switch {
	case v.Src == "":
		return 0
	case v.File == reason.File:
		return 2
	}
	return 1
}

func showView(dir string, p *inspect.Piece, n int, id string, room picRoom) (pageView, error) {
	ph := &p.Photos[n]
	v := pageView{Photo: ph, Title: "view " + ph.View}
	if ph.Lamp != "" {
		v.Title += ", lamp moved (" + ph.Lamp + ")"
	}
	v.Alt = fmt.Sprintf("%s, %s, verdict %s. %s", p.Piece, v.Title, p.Verdict, photoWords(ph))
	if ph.Picture == nil {
		return v, nil
	}
	pic, err := openPicture(filepath.Join(dir, filepath.FromSlash(ph.Picture.File)))
	if err != nil {
		return v, fmt.Errorf("%s: %w", ph.File, err)
	}
	whole, err := pic.whole(room.photo)
	if err != nil {
		return v, fmt.Errorf("%s: %w", ph.Picture.File, err)
	}
	v.Src = dataURL(whole)
	v.Marks = marked(ph).overlay(id)
	all := faults(ph)
	least := smallestShown(all, room.zooms)
	for k, m := range all {
		f := pageFault{Number: m.number, Says: m.says}
		if m.r >= least {
			w := m.window(ph)
			part, err := pic.part(w, room.zoom)
			if err != nil {
				return v, fmt.Errorf("%s: %w", ph.Picture.File, err)
			}
			f.Src = dataURL(part)
			f.W, f.H, f.Marks = w.Dx(), w.Dy(), zoomed(ph, m, w).overlay(fmt.Sprintf("%sz%d", id, k+1))
		}
		v.Faults = append(v.Faults, f)
	}
	return v, nil
}

// smallestShown is how large a mark must be to be among the n largest.
func smallestShown(all []mark, n int) float64 {
	if len(all) <= n {
		return 0
	}
	var r []float64
	for _, m := range all {
		r = append(r, m.r)
	}
	sort.Float64s(r)
	return r[len(r)-n]
}

// photoWords says in a line what a photo shows.
func photoWords(ph *inspect.Photo) string {
	if !ph.Usable {
		return "Not usable: " + strings.Join(ph.Problems, " ")
	}
	words := []string{plural(len(ph.BareSpots), "bare spot"), plural(len(ph.ReliefFaults), "relief fault")}
	if n := len(ph.DarkSpots); n > 0 {
		words = append(words, plural(n, "doubtful spot"))
	}
	if n := len(ph.DoubtfulRelief); n > 0 {
		words = append(words, plural(n, "place")+" that may be a lump")
	}
	if n := len(ph.ClearedSpots) + len(ph.ClearedRelief); n > 0 {
		words = append(words, plural(n, "cleared mark"))
	}
	if ph.Eye != "" {
		words = append(words, "eye "+string(ph.Eye))
	}
	return strings.Join(words, ", ") + "."
}

func plural(n int, one string) string {
	switch n {
	case 0:
		return "no " + one + "s"
	case 1:
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// travelWords says in a line how far the colour travels.
func travelWords(t *inspect.Travel) string {
	if t.DeltaE00Max == nil || t.BetweenDeg == nil {
		return "how far it travels was not measured."
	}
	s := fmt.Sprintf("ΔE00 %s between %.0f° and %.0f°", difference(t.DeltaE00Max, t.U, t.Interval), t.BetweenDeg[0], t.BetweenDeg[1])
	if t.Shift != nil {
		s += fmt.Sprintf(", without shading %s", difference(&t.Shift.DeltaE00, &t.Shift.U, &t.Shift.Interval))
	}
	if t.HueArcDeg != nil {
		s += fmt.Sprintf(", hue arc %s", amount(t.HueArcDeg, t.HueArcU, "°"))
	}
	if t.TrustedDeg != nil {
		s += fmt.Sprintf("; to be relied on from %.0f° to %.0f°", t.TrustedDeg[0], t.TrustedDeg[1])
	}
	return s + "."
}
