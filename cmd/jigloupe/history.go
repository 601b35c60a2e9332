package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"jigloupe/reports"
	"jigloupe/reports/history"
)

func newHistoryCmd() *cobra.Command {
	var path string
	cmd := &cobra.Command{
		Use:   "history",
		Short: "Keep every graded batch, find pieces again, see whether the process moves",
		Long: `History keeps graded batches in one file in your data folder (or where --db says):
what was painted how, what came out, and the whole results. Find a piece, a powder
or an order again, look for the recipe that came nearest to a wanted colour, and
see on control charts whether faults get more.`,
		Example: `  jigloupe history add rack7
  jigloupe history find "dusk teal"
  jigloupe history trend --page trend.html`,
	}
	cmd.PersistentFlags().StringVar(&path, "db", "", "the history's `file`; in your data folder if not given")
	// with opens the history for one command.
	with := func(run func(*history.Store) error) error {
		file := path
		if file == "" {
			var err error
			if file, err = history.DefaultPath(); err != nil {
				return err
			}
		}
		store, err := history.Open(file)
		if err != nil {
			return err
		}
		defer store.Close()
		return run(store)
	}
	cmd.AddCommand(newHistoryAddCmd(with), newHistoryListCmd(with), newHistoryFindCmd(with),
		newHistoryTrendCmd(with), newHistoryDeleteCmd(with), newHistoryExportCmd(with))
	needsCommand(cmd)
	return cmd
}

// withStore runs a command on the open history.
type withStore func(run func(*history.Store) error) error

func newHistoryAddCmd(with withStore) *cobra.Command {
	var date string
	cmd := &cobra.Command{
		Use:   "add RESULTS...",
		Short: "Add graded batches",
		Long: `Add puts graded batches into the history, each named by its folder or results.json,
old ones too. The date is that of the file unless --date says otherwise. The
same photos graded again replace the earlier grading.`,
		Example: `  jigloupe history add rack7 --date 2026-03-14`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return with(func(store *history.Store) error {
				for _, name := range args {
					name, err := resultsFile(name)
					if err != nil {
						return err
					}
					content, err := os.ReadFile(name)
					if err != nil {
						return err
					}
					info, err := os.Stat(name)
					if err != nil {
						return err
					}
					when := info.ModTime()
					if date != "" {
						if when, err = time.ParseInLocation(time.DateOnly, date, time.Local); err != nil {
							return fmt.Errorf("--date %s: write it as year-month-day, e.g. 2026-03-14", date)
						}
					}
					b, added, err := store.Add(content, when)
					if err != nil {
						return fmt.Errorf("%s: %w", name, err)
					}
					fmt.Fprintf(cmd.OutOrStdout(), "batch %d, %s: %s (%d pieces)\n", b.ID, b.Name, added, b.Pieces)
				}
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&date, "date", "", "when the batch was graded, as `year-month-day`")
	return cmd
}

func newHistoryListCmd(with withStore) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the batches, the latest first",
		Example: `  jigloupe history list`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return with(func(store *history.Store) error {
				batches, err := store.List()
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd, batches)
				}
				return reports.BatchesPage(batches).WriteText(cmd.OutOrStdout(), terminalWidth)
			})
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the list as JSON")
	return cmd
}

func newHistoryFindCmd(with withStore) *cobra.Command {
	var asJSON bool
	var like string
	var most int
	cmd := &cobra.Command{
		Use:   "find [WORDS...]",
		Short: "Find pieces by any word of their batch sheet, or by their colour",
		Long: `Find lists the pieces in whose name, batch or batch sheet all the words occur: a
powder, a customer, an order, a note.

With --like it looks for a colour instead, and lists the pieces whose travel curve
comes nearest, with how they were made. What it should look like is a piece in the
history, written as batch number and piece (3/A02), or a table in a file with the
columns viewing_deg, L, a, b. Keep what was mixed in columns of the batch sheet, say
clear_to_pigment and lot, and the nearest piece brings its recipe with it.`,
		Example: `  jigloupe history find order 1042
  jigloupe history find --like 3/A02`,
		RunE: func(cmd *cobra.Command, args []string) error {
			return with(func(store *history.Store) error {
				if like != "" {
					return findLike(cmd, store, like, most, asJSON)
				}
				found, err := store.Find(strings.Join(args, " "))
				if err != nil {
					return err
				}
				if asJSON {
					return printJSON(cmd, found)
				}
				return reports.FoundPage(found).WriteText(cmd.OutOrStdout(), terminalWidth)
			})
		},
	}
	cmd.Flags().StringVar(&like, "like", "", "find the nearest in colour to this `piece or file`")
	cmd.Flags().IntVar(&most, "most", 10, "with --like, list so many `pieces` at the most")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the pieces as JSON")
	return cmd
}

func findLike(cmd *cobra.Command, store *history.Store, like string, most int, asJSON bool) error {
	matches, err := store.Nearest(like)
	if err != nil {
		return err
	}
	matches = matches[:min(most, len(matches))]
	if asJSON {
		return printJSON(cmd, matches)
	}
	return reports.MatchPage(like, matches).WriteText(cmd.OutOrStdout(), terminalWidth)
}

func newHistoryTrendCmd(with withStore) *cobra.Command {
	var powder, fault string
	var output studyOutput
	cmd := &cobra.Command{
		Use:   "trend",
		Short: "Control charts of faults and colour, batch by batch",
		Long: `Trend charts the share of faulty pieces and the mean size of each fault over all
batches in order of date, with the limits within which a process that does not
change stays, and warns when a point or a run of points says that it moved.`,
		Example: `  jigloupe history trend --powder "dusk teal" --page trend.html`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return with(func(store *history.Store) error {
				trends, err := store.Trends(powder, fault)
				if err != nil {
					return err
				}
				return output.show(cmd, trends, reports.TrendPage(trends))
			})
		},
	}
	cmd.Flags().StringVar(&powder, "powder", "", "only this `powder`; all if not given")
	cmd.Flags().StringVar(&fault, "fault", "", "only this `fault`: "+strings.Join(history.Charted(), ", ")+"; all if not given")
	output.flags(cmd)
	return cmd
}

func newHistoryDeleteCmd(with withStore) *cobra.Command {
	var sure bool
	cmd := &cobra.Command{
		Use:     "delete NUMBER",
		Short:   "Delete a batch from the history",
		Long:    `Delete removes a batch and its pieces from the history; list shows the numbers. The graded folder itself stays.`,
		Example: `  jigloupe history delete 3 --yes`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := batchNumber(args[0])
			if err != nil {
				return err
			}
			if !sure {
				return fmt.Errorf("nothing deleted; to delete batch %d for good, add --yes", id)
			}
			return with(func(store *history.Store) error {
				b, err := store.Delete(id)
				if err != nil {
					return err
				}
				fmt.Fprintf(cmd.OutOrStdout(), "batch %d, %s: deleted (%d pieces)\n", b.ID, b.Name, b.Pieces)
				return nil
			})
		},
	}
	cmd.Flags().BoolVar(&sure, "yes", false, "yes, delete it")
	return cmd
}

func newHistoryExportCmd(with withStore) *cobra.Command {
	return &cobra.Command{
		Use:   "export [NUMBER]",
		Short: "Print all pieces as a table, or a batch's results.json",
		Long: `Export prints every piece in the history as a table (CSV), one row each. With a
batch's number it prints that batch's results.json exactly as it was added.`,
		Example: `  jigloupe history export > pieces.csv
  jigloupe history export 3 > results.json`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return with(func(store *history.Store) error {
				if len(args) == 0 {
					return store.WriteCSV(cmd.OutOrStdout())
				}
				id, err := batchNumber(args[0])
				if err != nil {
					return err
				}
				results, err := store.Results(id)
				if err != nil {
					return err
				}
				_, err = cmd.OutOrStdout().Write(results)
				return err
			})
		},
	}
}

func batchNumber(text string) (int64, error) {
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no batch number; history list shows them", text)
	}
	return id, nil
}
