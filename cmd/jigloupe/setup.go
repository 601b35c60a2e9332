package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"jigloupe/calib"
	"jigloupe/inspect"
)

func newSetupCmd() *cobra.Command {
	var card float64
	var corners string
	var greys []string
	cmd := &cobra.Command{
		Use:   "setup BATCH PHOTO",
		Short: "Learn the camera's tone curve from a photo of a colour target",
		Long: `Setup learns how the camera bends tones and colours, from one photo per session: lay
the 24-patch target on the grey card, card visible all around it, in the light of
the batch, and photograph it with the same camera and settings. What it learns goes
into setup.toml in the folder BATCH, and grade undoes it in photos of that camera.

Each patch is predicted from the others; where that brings the colours no nearer to
the target's, the camera's are taken as they are. Without a set-up photo grade undoes
the curve usual for cameras. If the target isn't found, say where the middles
of its corner patches are. Without a target, two or more flat greys will do.`,
		Example: `  jigloupe setup rack8 target.jpg
  jigloupe setup rack8 target.jpg --corners 410,220,1630,240,1610,1010,400,990
  jigloupe setup rack8 greys.jpg --grey 500,400=0.9 --grey 900,400=0.05`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 {
				return hinted{errors.New("a folder and a photo are needed"), "for example: jigloupe setup rack8 target.jpg"}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkCard(card); err != nil {
				return err
			}
			o := inspect.SetupOptions{Card: card}
			if corners != "" {
				at, err := numbersIn(corners, 8)
				if err != nil {
					return hinted{fmt.Errorf("--corners %s: %w", corners, err), "write x and y of four middles: dark skin, bluish green, black, white"}
				}
				o.Corners = &[4][2]float64{{at[0], at[1]}, {at[2], at[3]}, {at[4], at[5]}, {at[6], at[7]}}
			}
			for _, g := range greys {
				at, err := numbersIn(strings.Replace(g, "=", ",", 1), 3)
				if err != nil || !(at[2] > 0 && at[2] <= 1) {
					return hinted{fmt.Errorf("--grey %s can't be read", g), "write place and share of light it reflects, such as --grey 500,400=0.9"}
				}
				o.Greys = append(o.Greys, inspect.GreyPatch{X: at[0], Y: at[1], Share: at[2]})
			}
			if info, err := os.Stat(args[0]); err != nil || !info.IsDir() {
				return notABatch(args[0], fmt.Errorf("%s is no folder: %w", args[0], err))
			}
			s, err := inspect.NewSetup(args[1], o)
			if err != nil {
				return setupError(args[1], err)
			}
			text, err := s.Text()
			if err != nil {
				return err
			}
			path := filepath.Join(args[0], inspect.SetupFile)
			if err := os.WriteFile(path, text, 0o644); err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			fmt.Fprintf(out, "%d patches of the photo could be used.\n", s.Patches)
			fmt.Fprintf(out, "As the camera made them they are off by %.1f ΔE00 in the mean. ", s.Without)
			if s.Plain() {
				fmt.Fprintf(out, "Undoing anything would\nnot bring them nearer: grade will take its colours as they are. If that is much,\nlook for reflections and shadows on the target.\n")
			} else {
				fmt.Fprintf(out, "Undone, and each\npredicted from the others, they are off by %.1f in the mean and %.1f at worst.\n", s.DeltaE00, s.WorstDeltaE00)
			}
			whose := "all photos in the folder: this one names no camera"
			if s.Camera != "" {
				whose = "photos of the camera " + oneLine(s.Camera)
			}
			fmt.Fprintf(out, "%s written; grade uses it for %s\n", short(path), whose)
			return nil
		},
	}
	cardFlag(cmd, &card)
	cmd.Flags().StringVar(&corners, "corners", "", "`x,y` of the middles of four patches: dark skin, bluish green, black, white")
	cmd.Flags().StringArrayVar(&greys, "grey", nil, "a flat grey at `x,y=share` of the light it reflects; may be repeated")
	return cmd
}

// numbersIn reads so many numbers with commas between them.
func numbersIn(list string, n int) ([]float64, error) {
	var out []float64
	for _, word := range strings.Split(list, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(word), 64)
		if err != nil {
			return nil, fmt.Errorf("%q is no number", word)
		}
		out = append(out, v)
	}
	if len(out) != n {
		return nil, fmt.Errorf("%d numbers, %d are needed", len(out), n)
	}
	return out, nil
}

// setupError says what to do about a set-up photo that says nothing.
func setupError(photo string, err error) error {
	switch {
	case errors.Is(err, calib.ErrNoTarget):
		return hinted{fmt.Errorf("%s: %w", photo, err), "lay it flat and whole on the card, without reflections, or say where it is with --corners"}
	case errors.Is(err, calib.ErrFewPatches):
		return hinted{fmt.Errorf("%s: %w", photo, err), "lower the exposure"}
	case errors.Is(err, calib.ErrNoCard):
		return hinted{fmt.Errorf("%s: %w", photo, err), "lay the target on the grey card so that the card shows all around it"}
	}
	return fmt.Errorf("%s: %w", photo, err)
}
