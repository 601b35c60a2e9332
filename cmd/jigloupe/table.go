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
		reason := why(p)
		if o, ok := overruled[p.Piece]; ok {
			reason = fmt.Sprintf("[overruled by %s: %s, %s] %s", o.By, o.Verdict, o.Because, reason)
		}
		line(oneLine(p.Piece), string(p.Verdict), oneLine(reason))
	}
	last := counts(r)
	if len(overruled) > 0 {
		last += fmt.Sprintf("; %d overruled", len(overruled))
	}
	fmt.Fprintln(w, last)
}

// why is the main reason of a verdict; a piece that passes has one only when
// the call is close or one had better look at its eye.
func why(p *inspect.Piece) string {
	r, ok := reports.MainReason(p)
	switch {
	case !ok:
		return ""
	case r.CloseCall:
		return "Close call. " + r.Says
	}
	return r.Says
}

// counts sums a batch up in a line.
func counts(r *inspect.Results) string {
	s := fmt.Sprintf("%s: %d pass, %d fail, %d to photograph again", plural(len(r.Pieces), "piece"), r.Batch.Pass, r.Batch.Fail, r.Batch.Retake)
	if n := closeCalls(r); n > 0 {
		s += "; " + plural(n, "close call")
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
