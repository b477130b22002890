package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"sinkproof/reports/record"
)

// clockFlags are the flags of sinkproof rig clock.
type clockFlags struct {
	goldenPlace
	signed
}

func newClock() *cobra.Command {
	var f clockFlags
	c := described(&cobra.Command{
		Use:   "clock --by PERSON --reason WHY",
		Short: "Says that the clock is right and later entries of the ledger are wrong",
		Long: `A clock that lies behind the ledger cannot be trusted, and production is refused.
Where it was the entries that were made with a clock ahead of its time, a named
person says so here, once the clock is right. The entries stay as they are; what
is said becomes one of its own.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig clock --rig bench.hcl --ledger line/ledger.db --by "A. Engineer" --reason "the clock was a day ahead after the battery was changed"`)
	f.goldenPlace.flags(c.Flags())
	f.signed.flags(c.Flags())
	return c
}

func (f *clockFlags) run(c *cobra.Command) (err error) {
	if err := f.complete(); err != nil {
		return err
	}
	p, err := f.onlyRig(c)
	if err != nil {
		return err
	}
	s, err := f.signs(c, p)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	return s.setClock(c, f.by, f.reason)
}

// setClock commits that the clock is right as it is.
func (s *station) setClock(c *cobra.Command, by, reason string) error {
	now := s.now()
	if now.Before(firstDay()) {
		return refused(fmt.Errorf("it shows %s, before this program was made: %w", record.Instant(now), errClock), setClock)
	}
	if _, err := s.ledger.SetClock(c.Context(), record.Clock{Bench: s.bench, Made: record.Instant(now), By: by, Reason: reason}); err != nil {
		return goldenTrouble(err)
	}
	_, err := fmt.Fprintf(c.OutOrStdout(), "from here on the ledger counts from %s\n", record.Instant(now))
	return err
}
