package main

import (
	"errors"
	"runtime"

	"github.com/spf13/cobra"

	"jigloupe/cmd/jigloupe/fleet"
)

func newWorkerCmd() *cobra.Command {
	var o fleet.Options
	jobs := 0
	cmd := &cobra.Command{
		Use:   "worker --fleet ADDRESS",
		Short: "Grade pieces for a fleet, on as many machines as you like",
		Long: `Worker takes pieces from a fleet (see jigloupe fleet), grades them and gives the
results back to the jigloupe grade that asked for them. Start one on each machine;
they may come and go at any time. It takes pieces only from the very same program
file, so copy that to all machines.

It runs until you press Ctrl-C; what it has not finished goes to another worker. A
photo that ends the program takes the worker with it, so let something start it
again: until jigloupe worker --fleet nats://HOST; do sleep 1; done`,
		Example: `  jigloupe worker --fleet nats://192.168.1.20 --fleet-nkey fleet.nk`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.Server == "" {
				return hinted{errors.New("which fleet?"), "for example: jigloupe worker --fleet nats://192.168.1.20"}
			}
			if err := checkJobs(jobs); err != nil {
				return err
			}
			if jobs == 0 {
				jobs = runtime.GOMAXPROCS(0)
			}
			program, err := (&contents{}).thisProgram()
			if err != nil {
				return err
			}
			say := sayOn(cmd)
			keepRoom()
			w := fleet.Worker{AtOnce: jobs, Grade: gradeForOthers, Say: say}
			n, err := w.Work(cmd.Context(), o, program)
			if err != nil && cmd.Context().Err() == nil {
				return fleetError(o, err)
			}
			say("ended; graded " + plural(n, "piece"))
			return nil
		},
	}
	fleetFlags(cmd, &o, "grade for this fleet")
	jobsFlag(cmd, &jobs)
	return cmd
}
