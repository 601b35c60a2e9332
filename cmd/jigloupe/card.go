package main

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
	"jigloupe/reports"
)

func newCardCmd() *cobra.Command {
	var piece, powder, against, out, paper string
	cmd := &cobra.Command{
		Use:   "card RESULTS",
		Short: "Make colour cards to show customers, or compare a piece with a reference",
		Long: `Card shows how the colour of a powder or a piece travels: a picture of 1200 by 1500 px
for a shop page, and a PDF with a page each. RESULTS is a graded batch. Without --piece
and --powder every powder of the batch sheet gets a card, made from its pieces that
passed, if any did; a person's overrule counts. Without powders in the sheet every
piece gets one.

With --against the card sets the colour beside a reference, angle by angle, and the
answer is printed too. The reference is a piece of the same batch, or another graded
batch, of which the pieces of the same powder count, or all when none is named so.`,
		Example: `  jigloupe card rack7 --piece A03 --against approved`,
		Args:    oneFolder,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkPaper(paper); err != nil {
				return err
			}
			r, dir, err := readBatch(args[0])
			if err != nil {
				return err
			}
			people, err := reports.ReadOverrules(dir)
			if err != nil {
				return err
			}
			standing := people.Standing(r)
			for i := range r.Pieces {
				if o, ok := standing[r.Pieces[i].Piece]; ok {
					r.Pieces[i].Verdict = o.Verdict
				}
			}
			cards, err := cardsOf(r, dir, piece, powder)
			if err != nil {
				return err
			}
			for _, c := range cards {
				if against == "" {
					continue
				}
				name, reference, err := referenceFor(c, r, against)
				if err == nil {
					err = c.Compare(name, reference)
				}
				if err != nil {
					return fmt.Errorf("--against %s: %w", against, err)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "%s against %s: %s\n", c.Title, name, c.Against.Says)
				for _, a := range c.Against.ByAngle {
					fmt.Fprintf(cmd.OutOrStdout(), "  %2.0f°  ΔE00 %4.1f ± %.1f\n", a.ViewingDeg, a.DeltaE00, 2*a.U)
				}
			}
			if out == "" {
				out = filepath.Join(dir, "cards")
			}
			return writeCards(cmd, out, cards, r.Tool, paper)
		},
	}
	cmd.Flags().StringVar(&piece, "piece", "", "only the card of the `piece` of this name")
	cmd.Flags().StringVar(&powder, "powder", "", "only the card of the `powder` of this name")
	cmd.Flags().StringVar(&against, "against", "", "compare with this `piece` of the batch, or with this other graded batch")
	cmd.Flags().StringVar(&out, "out", "", "write the cards to this `folder`; without it, cards beside the results")
	paperFlag(cmd, &paper, "cards.pdf")
	cmd.MarkFlagsMutuallyExclusive("piece", "powder")
	return cmd
}

// cardsOf makes the cards that were asked for.
func cardsOf(r *inspect.Results, dir, piece, powder string) ([]*reports.Card, error) {
	byPowder := piece == "" && (powder != "" || slices.ContainsFunc(r.Pieces, func(p inspect.Piece) bool { return p.Sheet["powder"] != "" }))
	var names []string
	groups := map[string][]inspect.Piece{}
	for _, p := range r.Pieces {
		name, wanted := p.Piece, piece
		if byPowder {
			name, wanted = p.Sheet["powder"], powder
		}
		if name == "" || wanted != "" && name != wanted {
			continue
		}
		if groups[name] == nil {
			names = append(names, name)
		}
		groups[name] = append(groups[name], p)
	}
	switch {
	case len(names) == 0 && piece != "":
		_, err := pieceNamed(r, piece)
		return nil, err
	case len(names) == 0:
		powders := map[string]bool{}
		for _, p := range r.Pieces {
			powders[p.Sheet["powder"]] = true
		}
		delete(powders, "")
		return nil, hinted{fmt.Errorf("no piece of batch %s has the powder %s in its batch sheet", r.Batch.Name, powder),
			"its powders are " + strings.Join(slices.Sorted(maps.Keys(powders)), "; ")}
	}
	var cards []*reports.Card
	var why error
	for _, name := range names {
		pieces := groups[name]
		if passed := slices.DeleteFunc(slices.Clone(pieces), func(p inspect.Piece) bool { return p.Verdict != inspect.Pass }); byPowder && len(passed) > 0 {
			pieces = passed
		}
		c, err := reports.NewCard(name, pieces, dir)
		if err != nil {
			why = err
			continue
		}
		cards = append(cards, c)
	}
	if len(cards) == 0 {
		return nil, why
	}
	return cards, nil
}

// referenceFor finds what to compare a card with.
func referenceFor(c *reports.Card, r *inspect.Results, against string) (string, *inspect.Travel, error) {
	for _, p := range r.Pieces {
		if p.Piece == against {
			return against, p.Travel, nil
		}
	}
	other, _, err := readBatch(against)
	if err != nil {
		return "", nil, err
	}
	pieces := other.Pieces
	same := study.Only(pieces, "powder", c.Pieces[0].Sheet["powder"])
	if len(same) > 0 {
		pieces = same
	}
	pieces, travel := study.SameLight(pieces)
	if travel == nil {
		return "", nil, errors.New("no colour was measured there")
	}
	if len(pieces) == 1 {
		return pieces[0].Piece + " of " + other.Batch.Name, travel, nil
	}
	return fmt.Sprintf("%d pieces of %s", len(pieces), other.Batch.Name), travel, nil
}

// writeCards writes a picture for each card and one PDF of them all.
func writeCards(cmd *cobra.Command, dir string, cards []*reports.Card, tool inspect.Tool, paper string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	var titles []string
	for _, c := range cards {
		titles = append(titles, c.Title+".png")
	}
	names := evidenceNames(titles)
	for _, c := range cards {
		if err := reports.WriteCardPNG(filepath.Join(dir, names[c.Title+".png"]+".png"), c); err != nil {
			return err
		}
	}
	if err := reports.WriteCardPDF(filepath.Join(dir, "cards.pdf"), cards, tool, paper); err != nil {
		return err
	}
	fmt.Fprintf(cmd.ErrOrStderr(), "jigloupe: %s written to %s\n", plural(len(cards), "card"), short(dir))
	return nil
}
