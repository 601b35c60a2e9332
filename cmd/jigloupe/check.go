package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
)

func newCheckCmd() *cobra.Command {
	var card float64
	cmd := &cobra.Command{
		Use:   "check PHOTO...",
		Short: "Say whether a photo will do, while the set-up still stands",
		Long: `Check looks at one photo, or several, as grade would, and says what to change about
card, light, focus, distance or glare before you photograph the rest of the rack.
It judges no piece and writes nothing.

It ends with 0 when every photo can be graded, 1 when one can't.`,
		Example: `  jigloupe check rack7/A03_1.jpg`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return hinted{errors.New("which photo?"), "for example: jigloupe check rack7/A03_1.jpg"}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkCard(card); err != nil {
				return err
			}
			good := true
			for _, name := range args {
				ph, err := look(cmd.Context(), name, card)
				if err != nil {
					return err
				}
				printAdvice(cmd.OutOrStdout(), ph)
				good = good && ph.Usable
			}
			if !good {
				return errFaults
			}
			return nil
		},
	}
	cardFlag(cmd, &card)
	return cmd
}

// look measures a single photo.
func look(ctx context.Context, name string, card float64) (*inspect.Photo, error) {
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, hinted{fmt.Errorf("there is no photo %s", name), checkSpelling}
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, hinted{fmt.Errorf("%s is a folder; check takes photos", name), "for all photos in it: jigloupe grade " + name}
	}
	// Scale and batch sheet stay out of it: what is asked for is the set-up.
	one := &inspect.BatchFolder{
		Photos: []inspect.BatchFile{{File: name, Piece: name}},
		Pieces: []inspect.BatchRow{{Piece: name}},
	}
	r, err := inspect.Grade(ctx, one, inspect.Options{Reflectance: card}, func(*inspect.Photo, *inspect.Evidence) error { return nil })
	if err != nil {
		return nil, err
	}
	return &r.Pieces[0].Photos[0], nil
}

// printAdvice says what a photo is like and what to change.
func printAdvice(w io.Writer, ph *inspect.Photo) {
	verdict := "will do"
	if !ph.Usable {
		verdict = "can't be graded"
	}
	fmt.Fprintf(w, "%s: %s\n", oneLine(filepath.Base(ph.File)), verdict)
	for _, p := range ph.Problems {
		fmt.Fprintf(w, "  ! %s\n", oneLine(p))
	}
	if c := ph.Card; c != nil {
		light := ""
		if c.CCTK != nil {
			light = fmt.Sprintf(", in light of about %.0f K", math.Round(*c.CCTK/100)*100)
		}
		fmt.Fprintf(w, "  card   %.0f %% of the photo, its darkest place %.0f %% darker than its brightest%s\n", c.SharePct, c.UnevennessPct, light)
	}
	if ph.SharpnessPx != nil {
		fmt.Fprintf(w, "  focus  edges %.1f px wide\n", inspect.EdgeWidths**ph.SharpnessPx)
	}
	if t := ph.Tag; t != nil {
		fmt.Fprintf(w, "  tag    of piece %s", oneLine(t.Piece))
		if ph.ScaleU != nil {
			fmt.Fprintf(w, ", %.4f ± %.4f mm per px", *ph.ScaleMMPerPx, *ph.ScaleU)
		}
		fmt.Fprintf(w, ", the card tilted by %.0f° ± %.0f°\n", t.TiltDeg, t.TiltUDeg)
	}
	if ph.Head != nil {
		b := ph.Head.BBox
		fmt.Fprintf(w, "  head   %d by %d px of %d by %d\n", b[2], b[3], ph.Width, ph.Height)
	}
	if ph.Usable {
		for _, tip := range tips(ph) {
			fmt.Fprintf(w, "  tip: %s\n", tip)
		}
	}
}

// tips are what would make a usable photo better. The bounds are common
// practice, no source.
func tips(ph *inspect.Photo) []string {
	var out []string
	if side := min(ph.Head.BBox[2], ph.Head.BBox[3]); side < 300 {
		out = append(out, fmt.Sprintf("the head is %d px across; from 300 px on, pinholes show: go closer or use more zoom", side))
	}
	if ph.Card.UnevennessPct > 40 {
		out = append(out, "the light falls off by almost half across the card: move the lamp further away, or put a white sheet of paper opposite to it")
	}
	if ph.Card.ClippedPct > 0.1 {
		out = append(out, "parts of the card are at the camera's limit: lower the exposure a little")
	}
	return out
}
