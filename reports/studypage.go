package reports

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"
)

// A StudyPage is the answer of a study, for the terminal and as a page.
type StudyPage struct {
	Kind     string   // what kind of study, over the title
	Title    string   // of what
	Answer   string   // in one sentence
	Says     []string // what else to know first
	Sections []StudySection
	Cautions []string
	Method   []string // how it was reckoned, for those who ask
}

// A StudySection is a part of a study: sentences, pictures, a table.
type StudySection struct {
	Heading  string
	Says     []string
	Pictures []template.HTML // the page only
	Table    *StudyTable
}

// StudyTable is a table of words.
type StudyTable struct {
	Head []string
	Rows [][]string
}

//go:embed studypage.html
var studyHTML string

var studyTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("study").Funcs(template.FuncMap{
		"css": func() template.CSS { return template.CSS(pageCSS) },
	}).Parse(studyHTML))
})

// WriteHTML writes the study as one file that asks nothing of a network.
func (p StudyPage) WriteHTML(path string) error {
	var b bytes.Buffer
	if err := studyTemplate().Execute(&b, p); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return writeWhole(path, bytes.Map(noTurning, b.Bytes()))
}

// WriteText writes the study for a terminal, sentences wrapped at width.
func (p StudyPage) WriteText(w io.Writer, width int) error {
	var b strings.Builder
	wrap(&b, p.Answer, "", width)
	for _, s := range p.Says {
		wrap(&b, s, "", width)
	}
	for _, s := range p.Sections {
		fmt.Fprintf(&b, "\n%s\n", plain(s.Heading))
		for _, line := range s.Says {
			wrap(&b, line, "  ", width)
		}
		if s.Table != nil {
			s.Table.text(&b, width)
		}
	}
	if len(p.Cautions) > 0 {
		b.WriteString("\nMind this\n")
		for _, c := range p.Cautions {
			wrap(&b, c, "  ", width)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// wrap writes a sentence in lines of at most width runes.
func wrap(b *strings.Builder, text, indent string, width int) {
	length := 0
	for _, word := range strings.Fields(plain(text)) {
		n := utf8.RuneCountInString(word)
		switch {
		case length == 0:
			b.WriteString(indent)
			length = len(indent)
		case length+1+n > width:
			b.WriteString("\n" + indent)
			length = len(indent)
		default:
			b.WriteByte(' ')
			length++
		}
		b.WriteString(word)
		length += n
	}
	b.WriteByte('\n')
}

// text writes the table with its columns aligned; what makes it wider than width is
// wrapped in the widest.
func (t StudyTable) text(b *strings.Builder, width int) {
	rows := append([][]string{t.Head}, t.Rows...)
	widths := make([]int, len(t.Head))
	for _, row := range rows {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(plain(cell)))
		}
	}
	for _, w := range widths {
		width -= 2 + w
	}
	const narrow = 24 // no narrower than this
	if widest := slices.Index(widths, slices.Max(widths)); width < 0 && widths[widest] > narrow {
		widths[widest] = max(narrow, widths[widest]+width)
	}
	for _, row := range rows {
		cells := make([][]string, len(row))
		high := 0
		for i, cell := range row {
			var lines strings.Builder
			wrap(&lines, cell, "", widths[i])
			cells[i] = strings.Split(strings.TrimSuffix(lines.String(), "\n"), "\n")
			high = max(high, len(cells[i]))
		}
		for k := range high {
			var line strings.Builder
			for i, lines := range cells {
				part := ""
				if k < len(lines) {
					part = lines[k]
				}
				line.WriteString("  " + part + strings.Repeat(" ", max(0, widths[i]-utf8.RuneCountInString(part))))
			}
			b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
		}
	}
}
