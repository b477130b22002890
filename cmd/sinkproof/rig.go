package main

import "github.com/spf13/cobra"

func newRig() *cobra.Command {
	c := &cobra.Command{
		Use:   "rig",
		Short: "Shows, guards and proves the hardware of a bench",
	}
	c.AddCommand(newShow(), newGuard(), newBudget(), newCalibrate(), newSelftest(), newWear(), newGolden(), newClock())
	return c
}
