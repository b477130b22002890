package scenarios_test

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// shelf is a prover and the keeper of a check receptacle that note what is asked of
// them, on the fake bench.
type shelf struct {
	*fake
	empty, pins []string // what is found
	none        error    // why there is no receptacle
	broken      error    // why the pins cannot be proved
}

func (s *shelf) Prove(context.Context) ([]string, error) { return s.empty, s.call("prove", "") }

func (s *shelf) ProvePins(context.Context) ([]string, error) {
	return s.pins, errors.Join(s.call("prove-pins", ""), s.broken)
}

func (s *shelf) SeatReceptacle(_ context.Context, why string) error {
	return errors.Join(s.call("receptacle", why), s.none)
}

func (s *shelf) TakeReceptacle(context.Context) error { return s.call("no-receptacle", "") }

// failing is a bench with a unit that draws too little.
func failing() *fake {
	f := good()
	plain := f.value
	f.value = func(channel string) quantity.Measured {
		if channel == "ibus" {
			return quantity.Known(quantity.Amperes(0.1))
		}
		if channel == "cc1" {
			return quantity.Known(quantity.Volts(3))
		}
		return plain(channel)
	}
	return f
}

func playShelf(t *testing.T, s *shelf, change func(*scenarios.Job)) record.Run {
	t.Helper()
	sc, found := loadText(t, "pins.hcl", []byte(empties))
	require.NoError(t, found.Err())
	job := scenarios.Job{Opening: opening(sc, "S1"), Scenario: sc, Bench: s.fake, Handler: s.fake, Prover: s, Keeper: s}
	if change != nil {
		change(&job)
	}
	run, err := scenarios.Run(t.Context(), job)
	require.NoError(t, err)
	require.NoError(t, run.Validate())
	return run
}

// texts are the remarks of a run, in order.
func texts(run record.Run) []string {
	var out []string
	for _, n := range run.Notes {
		out = append(out, n.Text)
	}
	return out
}

const pinsUnproved = "the unit is failed without a proof of the pins of the test plug: "

// Before a unit is failed the empty nest is proved and then the pins; what neither
// finds is the unit's.
func TestThePinsAreProvedBeforeAUnitIsFailed(t *testing.T) {
	s := &shelf{fake: failing()}
	run := playShelf(t, s, nil)
	require.Equal(t, record.Fail, run.Verdict, run.Reason)
	require.Nil(t, run.Fault)
	require.Equal(t, []string{
		"unseat S1", "begin ", "empty ", "prove ",
		"receptacle a check failed; the check receptacle proves the pins of the test plug", "prove-pins ", "no-receptacle ", "safe ",
	}, s.log[len(s.log)-8:])
	require.Equal(t, []string{
		"a check failed; the bench proves itself with the unit lifted before the unit is failed",
		"the bench proved itself with its nest empty: nothing was found",
		"the check receptacle is seated, so that the pins of the test plug are proved before the unit is failed",
		"the check receptacle proved the pins of the test plug: nothing was found",
	}, texts(run))
	require.Equal(t, "receptacle", run.Notes[2].Kind, "it wears the plug as a unit does")
}

// A pin that the receptacle shows to be bad is the bench's, and the receptacle comes
// out again.
func TestABadPinIsTheBenchs(t *testing.T) {
	s := &shelf{fake: failing(), pins: []string{"pin cc1 does not touch"}}
	run := playShelf(t, s, nil)
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, record.BinRetest, run.Bin)
	require.Contains(t, run.Reason, "the bench has a fault of its own: pin cc1 does not touch")
	require.Contains(t, run.Fault.Hint, "replace the test plug")
	require.Equal(t, 1, s.done("no-receptacle"))
}

// Nobody is asked for the receptacle by a unit that is good, or where the empty nest
// has said enough.
func TestTheReceptacleIsAskedForWhereItDecides(t *testing.T) {
	fine := failing()
	fine.value = unseatedBench(quantity.Known(quantity.Volts(3))).value
	s := &shelf{fake: fine}
	require.Equal(t, record.Pass, playShelf(t, s, nil).Verdict)
	require.Zero(t, s.done("prove")+s.done("receptacle"))

	s = &shelf{fake: failing(), empty: []string{"k_cut does not close"}}
	require.Equal(t, record.None, playShelf(t, s, nil).Verdict)
	require.Zero(t, s.done("receptacle"))

	s = &shelf{fake: failing()}
	run := playShelf(t, s, func(j *scenarios.Job) { j.Prover, j.NoProof = nil, "quick" })
	require.Equal(t, record.Fail, run.Verdict)
	require.Zero(t, s.done("receptacle"))
	require.Equal(t, []string{"the unit is failed without a proof of the bench: quick"}, texts(run))
}

// Where there is no receptacle the unit is failed, and the record says that the pins
// were not proved and why.
func TestAUnitThatIsFailedWithoutTheReceptacleSaysSo(t *testing.T) {
	for _, c := range []struct {
		name   string
		none   error
		change func(*scenarios.Job)
		says   string
	}{
		{"reason given before", nil, func(j *scenarios.Job) { j.Keeper, j.NoReceptacle = nil, "lent to the other line" }, "lent to the other line"},
		{"no reason given", nil, func(j *scenarios.Job) { j.Keeper = nil }, "nobody seats a check receptacle"},
		{"said when asked", fmt.Errorf("%w: left at home", scenarios.ErrNoReceptacle), nil, "no check receptacle: left at home"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &shelf{fake: failing(), none: c.none}
			run := playShelf(t, s, c.change)
			require.Equal(t, record.Fail, run.Verdict, run.Reason)
			require.Equal(t, pinsUnproved+c.says, run.Notes[len(run.Notes)-1].Text)
			for _, n := range run.Notes {
				require.NotEqual(t, "receptacle", n.Kind, "nothing was plugged")
			}
			require.Zero(t, s.done("prove-pins")+s.done("no-receptacle"))
		})
	}
}

// What keeps the pins from being proved costs the verdict, and the receptacle comes
// out even then; hands that fail are the bench's, too.
func TestPinsThatCannotBeProvedFailNoUnit(t *testing.T) {
	lock := &bench.Interlock{Kind: bench.LidOpen, Thing: "lid", Hint: "Close the lid, then open the rig again."}
	for _, c := range []struct {
		name  string
		shelf shelf
		taken int
	}{
		{"lid", shelf{broken: lock}, 1},
		{"hands", shelf{none: errors.New("the keyboard is gone")}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &c.shelf
			s.fake = failing()
			run := playShelf(t, s, nil)
			require.Equal(t, record.None, run.Verdict)
			require.NotNil(t, run.Fault)
			require.Equal(t, c.taken, s.done("no-receptacle"))
		})
	}
}

// On the twin: the pin is named and the good unit keeps its chance, a bad unit is
// failed, and one whose nest stays empty is not.
func TestTheTwinsPlugIsProved(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	s.prove()
	require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.PinOpen, Part: "cell"}))
	run := s.run("GOOD")
	s.twin.Mend()
	require.Equal(t, record.None, run.Verdict)
	require.Contains(t, run.Reason, "pin cell does not touch")
	require.Equal(t, []string{"seat", "unseat", "receptacle", "no receptacle"}, s.moved)

	s.prove()
	run = s.run("BAD", twin.Fault{Name: "charger-dead"})
	require.Equal(t, record.Fail, run.Verdict, run.Reason)
	require.Contains(t, texts(run), "the check receptacle proved the pins of the test plug: nothing was found")

	s.prove()
	s.keeper = &shelf{fake: good()}
	run = s.run("BAD", twin.Fault{Name: "charger-dead"})
	require.Equal(t, record.None, run.Verdict)
	require.Contains(t, run.Reason, "check receptacle: prove the pins of the test plug: nothing is seated")
	require.Contains(t, run.Fault.Hint, "seat the check receptacle when it is asked for")
}
