package main

import (
	"errors"
	"fmt"
	"net/url"

	"github.com/spf13/cobra"

	"jigloupe/cmd/jigloupe/fleet"
)

func newFleetCmd() *cobra.Command {
	var s fleet.Server
	cmd := &cobra.Command{
		Use:   "fleet",
		Short: "Let several machines grade one batch: the place where they meet",
		Long: `Fleet is where jigloupe grade and any number of jigloupe workers meet: a NATS
JetStream server that keeps the photos under way in files. Run it on one machine of
your network. A NATS cluster that you have already does as well, and this command
is not needed then.

It makes a key, and lets in only who has it: copy the file fleet.nk to the other
machines by a way that you trust, and give it to grade and worker with --fleet-nkey.
Without --tls-cert photos and results cross your network for anyone on it to read.

Photos stay until whoever asked has the result of their piece; what a stopped run
leaves behind goes after a day.

It runs until you press Ctrl-C, and goes on where it stopped when started again.`,
		Example: `  jigloupe fleet --store /srv/jigloupe-fleet`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if (s.TLSCert == "") != (s.TLSKey == "") {
				return errors.New("--tls-cert and --tls-key go together")
			}
			for _, name := range []string{"store", "listen", "tls-cert"} {
				if s.Config != "" && cmd.Flags().Changed(name) {
					return hinted{fmt.Errorf("--config and --%s don't go together", name), "say it in " + s.Config}
				}
			}
			s.Say = sayOn(cmd)
			return s.Run(cmd.Context(), func(address string) {
				s.Say("the fleet is at " + address)
				if s.Config == "" {
					u, err := url.Parse(address)
					if err != nil {
						return // the server's own address
					}
					s.Say("on each machine: jigloupe worker --fleet " + u.Scheme + "://THIS-MACHINE:" + u.Port() + " --fleet-nkey " + short(s.KeyFile()))
				}
			})
		},
	}
	cmd.Flags().StringVar(&s.Dir, "store", "jigloupe-fleet", "keep photos, results and the key in this `folder`")
	cmd.Flags().StringVar(&s.Listen, "listen", "0.0.0.0:4222", "be reached at this `HOST:PORT`; 0.0.0.0 is from everywhere")
	cmd.Flags().StringVar(&s.TLSCert, "tls-cert", "", "prove who it is with the certificate in this `file`, and let nobody read along")
	cmd.Flags().StringVar(&s.TLSKey, "tls-key", "", "the certificate's key is in this `file`")
	cmd.Flags().StringVar(&s.Config, "config", "", "go by this NATS server configuration `file` instead, as for a cluster")
	return cmd
}
