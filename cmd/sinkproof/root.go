package main

import (
	"errors"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/cmd/sinkproof/statistics"
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
	root.SetFlagErrorFunc(flagError)
	root.AddCommand(newDemo(), newQualify(), newRun(), newDictionary(), newCheck(), newUnit(), newLedger(), newCoverage(), newTakt(), newRig())
	root.AddCommand(statistics.NewStudy(ledgerTrouble), newLot())
	for _, c := range root.Commands() {
		refuseUnknown(c)
	}
	return root
}

// refuseUnknown makes a command that only holds others end with wrong usage at a
// word that is none of them: the library shows the help then and ends as done, so
// that a script with a misspelt command goes on.
func refuseUnknown(c *cobra.Command) {
	for _, sub := range c.Commands() {
		refuseUnknown(sub)
	}
	if !c.HasSubCommands() || c.Runnable() {
		return
	}
	c.DisableFlagsInUseLine = true
	c.FParseErrWhitelist.UnknownFlags = true // they belong to the word
	c.Args, c.RunE = cobra.ArbitraryArgs, statistics.OnlySubcommands
}

// flagError says what is wrong with a flag, without the words of the library
// that reads numbers.
func flagError(c *cobra.Command, err error) error {
	text := err.Error()
	var number *strconv.NumError
	if errors.As(err, &number) {
		text = strings.TrimSuffix(text, ": "+number.Error()) + ": " + number.Err.Error()
	} else if at := strings.Index(text, ": strconv."); at > 0 {
		text = text[:at] + ": a whole number is wanted"
	}
	return usage(c.CommandPath()+" --help shows the flags", "%s", text)
}

// noArgs refuses words that no flag takes.
func noArgs(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usage(c.CommandPath()+" --help shows what it takes", "%s takes flags only, found %q", c.CommandPath(), args[0])
	}
	return nil
}

// someFiles demands at least one file.
func someFiles(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return usage(c.CommandPath()+" FILE...", "no file to check")
	}
	return nil
}

// described gives a subcommand an example for its help.
func described(c *cobra.Command, example string) *cobra.Command {
	c.Example = example
	return c
}
