package scenarios_test

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// empties is a scenario with a control that is asked before the unit is seated,
// in two rounds, and a check that trusts it.
const empties = `scenario "fake" {
  title    = "Fake"
  version  = "1"
  decision = "simple"

  stage "before" {
    nest     = "empty"
    for_each = ["normal", "flipped"]
    enter "data-pair" {
      orientation = each.value
    }
    read "load" {
      channel = channel.cc1
    }
    control "contacts" {
      kind   = "positive"
      title  = "Contacts"
      value  = reading.load
      low    = "2 V"
      source = "test"
    }
  }

  stage "seat" {
    probe "seat" {}
    check "not-shorted" {
      title  = "Not shorted"
      value  = reading.seat.top
      low    = "1 V"
      source = "test"
      gate   = true
      rework = "Look for a bridge."
    }
  }

  stage "charge" {
    enter "legacy-a" {}
    read "i" {
      channel = channel.ibus
    }
    check "charges" {
      title  = "Charges"
      value  = reading.i
      low    = "0.3 A"
      source = "test"
      trusts = ["contacts"]
      rework = "Check the charger."
    }
  }
}
`

// proves is a prover that says what it was told to.
type proves struct{ found []string }

func (p proves) Prove(context.Context) ([]string, error) { return p.found, nil }

func (p proves) ProvePins(context.Context) ([]string, error) { return nil, nil }

// unseatedBench is a bench whose channel cc1 reads a value.
func unseatedBench(volts quantity.Measured) *fake {
	f := good()
	plain := f.value
	f.value = func(channel string) quantity.Measured {
		if channel == "cc1" {
			return volts
		}
		return plain(channel)
	}
	return f
}

func playUnseated(t *testing.T, f *fake, p scenarios.Prover) record.Run {
	t.Helper()
	sc, found := loadText(t, "unseated.hcl", []byte(empties))
	require.NoError(t, found.Err())
	run, err := scenarios.Run(t.Context(), scenarios.Job{Opening: opening(sc, "S1"), Scenario: sc, Bench: f, Handler: f, Prover: p})
	require.NoError(t, err)
	require.NoError(t, run.Validate())
	return run
}

// The control is asked before the unit is seated, in an isolated rig.
func TestTheBenchIsAskedBeforeTheUnitIsSeated(t *testing.T) {
	f := unseatedBench(quantity.Known(quantity.Volts(3)))
	run := playUnseated(t, f, nil)
	require.Equal(t, record.Pass, run.Verdict, run.Reason)
	require.True(t, checkNamed(t, run, "contacts[flipped]").Control)
	i := slices.Index(f.log, "seat S1")
	require.Equal(t, []string{
		"begin ", "empty ", "enter data-pair[orientation = normal]", "read cc1",
		"enter data-pair[orientation = flipped]", "read cc1", "enter isolated",
	}, f.log[:i])
	require.Equal(t, "probe ", f.log[i+1])
}

// A wrong answer with nothing seated is the bench's: no unit is put in front of
// it, and the bench says what is wrong where it can.
func TestABenchThatIsNotSoundGetsNoUnit(t *testing.T) {
	for _, c := range []struct {
		name   string
		prover scenarios.Prover
		says   string
	}{
		{"named", proves{[]string{"k_flip2 stays closed"}}, "the bench has a fault of its own: k_flip2 stays closed"},
		{"not named", proves{}, "contacts[normal]: vouch for the bench before the unit is seated"},
		{"nobody to name it", nil, "1 V is below"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := unseatedBench(quantity.Known(quantity.Volts(1)))
			run := playUnseated(t, f, c.prover)
			require.Equal(t, record.None, run.Verdict)
			require.Equal(t, record.BinRetest, run.Bin)
			require.Contains(t, run.Reason, c.says)
			require.NotNil(t, run.Fault)
			require.NotEmpty(t, run.Fault.Hint)
			require.Zero(t, f.done("seat"))
			require.Zero(t, f.done("unseat"))
			require.Contains(t, checkNamed(t, run, "contacts[normal]").Why, "nothing is seated, so it is the bench's")
			for _, name := range []string{"contacts[flipped]", "not-shorted", "charges"} {
				require.Equal(t, record.Unanswered, checkNamed(t, run, name).Answer, name)
			}
		})
	}
}

// A control that could not be told says nothing against the bench, and what
// trusts it is unanswered.
func TestAControlOfTheEmptyNestThatIsOpen(t *testing.T) {
	f := unseatedBench(quantity.Known(quantity.Volts(1)).WithBound(quantity.AtLeast))
	run := playUnseated(t, f, nil)
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, 1, f.done("seat"))
	require.Equal(t, record.Unanswered, checkNamed(t, run, "charges").Answer)
	require.Contains(t, checkNamed(t, run, "charges").Why, "contacts[normal] does not vouch for the bench")
}

// A fault of the bench with nothing seated is no interlock of a unit: nobody is
// asked to take one out.
func TestATripWithNothingSeatedIsTheBenchs(t *testing.T) {
	f := unseatedBench(quantity.Known(quantity.Volts(3)))
	f.fail = func(call, what string) error {
		if call == "read" && what == "cc1" {
			return &bench.Interlock{Kind: bench.OverCurrent, Thing: "meter1", Value: quantity.Amperes(2), Limit: quantity.Amperes(0.9), Hint: "Look at the rig."}
		}
		return nil
	}
	run := playUnseated(t, f, nil)
	require.Equal(t, record.None, run.Verdict)
	require.Zero(t, f.done("seat")+f.done("unseat"))
}

// On the twin the contact is named in the record of the run.
func TestAWeldedContactOfTheDataPairIsNamed(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	s.prove()
	require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.ContactWelded, Part: "k_flip2", Index: 1}))
	run := s.run("GOOD")
	s.twin.Mend()
	require.Equal(t, record.None, run.Verdict)
	require.Contains(t, run.Reason, "k_flip2, contact m, stays closed")
	require.Empty(t, s.moved, "the unit was never seated")
}
