package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"

	"jigloupe/inspect"
	"jigloupe/reports"
)

// printTable prints a line per piece and a last line with the counts. On a
// terminal, lines are cut to its width. A person's verdict is printed beside
// the program's.
func printTable(w io.Writer, r *inspect.Results, overruled map[string]reports.Overrule) {
	width := 0
	if f, ok := w.(*os.File); ok {
		width, _, _ = term.GetSize(int(f.Fd()))
	}
	wide := utf8.RuneCountInString("piece")
	for _, p := range r.Pieces {
		wide = max(wide, utf8.RuneCountInString(oneLine(p.Piece)))
	}
	line := func(piece, verdict, why string) {
		text := []rune(fmt.Sprintf("%-*s  %-7s  %s", wide, piece, verdict, why))
		if width > 0 && len(text) > width {
			text = append(text[:width-1], '…')
		}
		fmt.Fprintln(w, strings.TrimRight(string(text), " "))
	}
	line("piece", "verdict", "why")
	for i := range r.Pieces {
		p := &r.Pieces[i]
		line(oneLine(p.Piece), string(p.Verdict), oneLine(why(p, overruled)))
	}
	fmt.Fprintln(w, counts(r, overruled))
}

// why is the main reason of a verdict, after what a person says against it. A
// piece that passes has a reason only when the call is close or one had better
// look at its eye.
func why(p *inspect.Piece, overruled map[string]reports.Overrule) string {
	said := ""
	if o, ok := overruled[p.Piece]; ok {
		said = fmt.Sprintf("[overruled by %s: %s, %s] ", o.By, o.Verdict, o.Because)
	}
	r, _ := reports.MainReason(p)
	if r.CloseCall {
		said += "Close call. "
	}
	return said + r.Says
}

// counts sums a batch up in a line.
func counts(r *inspect.Results, overruled map[string]reports.Overrule) string {
	s := fmt.Sprintf("%s: %d pass, %d fail, %d retake", plural(len(r.Pieces), "piece"), r.Batch.Pass, r.Batch.Fail, r.Batch.Retake)
	if n := closeCalls(r); n > 0 {
		s += "; " + plural(n, "close call")
	}
	if len(overruled) > 0 {
		s += fmt.Sprintf("; %d overruled", len(overruled))
	}
	return s
}

// closeCalls counts the pieces whose verdict hangs on a value so near its limit
// that its uncertainty reaches across.
func closeCalls(r *inspect.Results) int {
	n := 0
	for _, p := range r.Pieces {
		for _, reason := range p.Reasons {
			if reason.CloseCall && reason.Outcome == p.Verdict {
				n++
				break
			}
		}
	}
	return n
}

func plural(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
