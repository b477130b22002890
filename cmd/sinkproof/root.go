package main

import (
	"github.com/spf13/cobra"
)

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "sinkproof",
		Short: "Proves that a USB-C powered unit charges from every supply",
		Long: `sinkproof drives a test bench that puts a unit in front of a legacy A supply,
a C supply (both plug orientations, plain and marked cables) and no supply at
all, judges it, and keeps a signed record per serial.

Start with "sinkproof demo": the whole job on a simulated bench.`,
		Version:       version,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.AddCommand(newDemo(), newRun(), newCheck(), newUnit(), newLedger())
	return root
}

// described gives a subcommand an example for its help.
func described(c *cobra.Command, example string) *cobra.Command {
	c.Example = example
	return c
}
