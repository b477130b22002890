package main

import (
	"bufio"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// notes are the texts of the remarks of a run.
func notes(run record.Run) string {
	var out strings.Builder
	for _, n := range run.Notes {
		out.WriteString(n.Text + "\n")
	}
	return out.String()
}

// TestOpenPinOfThePlug: the unit is good, a pin of the plug is not; the record names
// it and says what to do, and the bench is at rest.
func TestOpenPinOfThePlug(t *testing.T) {
	s := deploy(t)
	require.NoError(t, s.sim.twin.Break(twin.RigFault{Kind: twin.PinOpen, Part: "dp1"}))
	d, err := s.judge(t.Context(), unit{serial: "HL-1"})
	require.NoError(t, err)
	s.noVerdict(t, d)
	require.Contains(t, d.run.Reason, "pin dp1 does not touch")
	require.Contains(t, d.run.Fault.Hint, "replace the test plug")
	s.atRest(t)
}

// TestRigWithoutAReceptacle: a unit is failed on the word of the empty nest, or of
// nothing, and its record says what was not proved and why.
func TestRigWithoutAReceptacle(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*station)
		says   string
	}{
		{"none in the wiring file", func(s *station) { s.papers.rig.Rig.Nest.Check = nil },
			"without a proof of the pins of the test plug: the wiring file has no check receptacle"},
		{"none at hand", func(s *station) { s.noReceptacle = "lent" }, "without a proof of the pins of the test plug: lent"},
		{"no self-test", func(s *station) { s.papers.rig.Rig.Conditions = withoutSelfTest(s.papers.rig.Rig) },
			"without a proof of the bench: the wiring file has no condition whose name begins with self-test"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := deploy(t)
			c.change(s.station)
			s.sim.truth["HL-1"] = []twin.Fault{{Name: "charger-dead"}}
			d, err := s.judge(t.Context(), unit{serial: "HL-1"})
			require.NoError(t, err)
			require.Equal(t, record.Fail, d.run.Verdict, d.run.Reason)
			require.Contains(t, notes(d.run), c.says)
		})
	}
}

func withoutSelfTest(w *wiring.Rig) []wiring.Condition {
	return slices.DeleteFunc(slices.Clone(w.Conditions), func(c wiring.Condition) bool { return strings.HasPrefix(c.Name, "self-test") })
}

// TestOperatorAnswersForTheReceptacle: Enter is done, words are why not; the rig is
// shut meanwhile and nobody beats its heart.
func TestOperatorAnswersForTheReceptacle(t *testing.T) {
	s := deploy(t)
	var asked strings.Builder
	s.handler = &operator{in: bufio.NewReader(strings.NewReader("\n\nleft at home\n")), out: &asked}
	k := s.keeper()
	require.NoError(t, k.SeatReceptacle(t.Context(), "a check failed"))
	require.NoError(t, k.TakeReceptacle(t.Context()))
	err := k.SeatReceptacle(t.Context(), "a check failed")
	require.ErrorIs(t, err, scenarios.ErrNoReceptacle)
	require.EqualError(t, err, "no check receptacle: left at home")
	require.ErrorIs(t, k.SeatReceptacle(t.Context(), "a check failed"), io.EOF)
	require.True(t, strings.HasPrefix(asked.String(), "Seat the check receptacle and press Enter, or type why there is none: a check failed.\n"+
		"Take the check receptacle out and press Enter.\n"), asked.String())
}

// TestNestAsksForTheReceptacle: at a desk each nest asks for itself, while the units
// of the others go on.
func TestNestAsksForTheReceptacle(t *testing.T) {
	p, err := load(nestsRig, "key-tag", "terminations-only", io.Discard)
	require.NoError(t, err)
	s := deployRow(t, p, nil)
	lines := make(chan string)
	operator := &promptly{says: lines}
	d := &desk{out: operator, names: s.names(), lines: lines, chosen: -1, asked: make([]bool, 4), answers: make([]bool, 4), serials: make([][]string, 4)}
	var one sync.Mutex
	for i, n := range s.nests {
		sim := n.handler.(*simulated)
		sim.truth["HL-2"] = []twin.Fault{{Name: "no-rd"}}
		n.handler = &scanned{&hands{desk: d, nest: i}, sim}
		n.now = time.Now // a clock that may be read beside the loop
		n.beside = besideLoop(n.hardware.Clock, &one)
	}
	require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.PinOpen, Part: "nest-3/cc1"}))
	f := &runFlags{serials: []string{"1=HL-1", "2=HL-2", "3=HL-3"}}
	require.NoError(t, f.serve(s.row, d, takesOut{keyboard{d, s.row}, s.rig}))
	require.Empty(t, s.run(t.Context()))
	require.Equal(t, record.Pass, s.runs["HL-1"].Verdict)
	require.Equal(t, record.Fail, s.runs["HL-2"].Verdict, s.runs["HL-2"].Reason)
	require.Equal(t, record.None, s.runs["HL-3"].Verdict)
	require.Contains(t, s.runs["HL-3"].Reason, "cc1 does not touch")
	const why = "(a check failed; the check receptacle proves the pins of the test plug)"
	require.Contains(t, operator.asked, "nest-2: seat the check receptacle "+why+", then scan the nest or type 2.\n")
	require.Contains(t, operator.asked, "nest-3: take the check receptacle out, then scan the nest or type 3.\n")
}
