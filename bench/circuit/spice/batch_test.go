package spice

import (
	"fmt"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
)

// decays is a capacitor that empties into a diode and a resistor.
func decays(t testing.TB, volts float64) *circuit.Sim {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("v", in, circuit.Ground, 1, 100)
	n.Resistor("r", in, out, 1000)
	n.Capacitor("c", out, circuit.Ground, 1e-6, volts)
	n.Diode("d", out, circuit.Ground, 0.7, 10, 1e-9)
	s, err := n.Start()
	require.NoError(t, err)
	return s
}

func filled(t testing.TB) *Batch {
	b := &Batch{}
	for _, volts := range []float64{0, 0.5, 3} {
		require.NoError(t, b.Add(decays(t, volts), 5e-3, 1e-4))
	}
	return b
}

// A batch answers what the comparisons one by one answer, in their order.
func TestBatchAnswersAsOneByOne(t *testing.T) {
	b := filled(t)
	require.Equal(t, 3, b.Len())
	answers, err := b.Run()
	require.NoError(t, err)
	require.Zero(t, b.Len())
	for i, volts := range []float64{0, 0.5, 3} {
		s := decays(t, volts)
		rest, err := CompareDC(s)
		require.NoError(t, err)
		time, err := Compare(s, 5e-3, 1e-4)
		require.NoError(t, err)
		require.Equal(t, Agreement{Rest: rest, Time: time}, answers[i])
		require.LessOrEqual(t, answers[i].Time.Of, 1.0)
		require.InDelta(t, 5e-3, answers[i].Time.Covered, 1e-9)
		require.Positive(t, answers[i].Rest.Points)
	}
	answers, err = b.Run()
	require.NoError(t, err)
	require.Empty(t, answers)
}

// An analysis that fails in the batch is repeated alone, and what comes after
// it in the batch is not touched by it.
func TestBatchRepeatsAloneWhatFailed(t *testing.T) {
	for name, text := range map[string]string{
		"not a netlist":  "nothing\n.end\n",
		"no analysis":    "divider\nv1 n1 0 1\nr1 n1 0 1\n.end\n",
		"another one":    "divider\nv1 n1 0 1\nr1 n1 0 1\n.op\n.end\n",
		"fewer seconds":  "divider\nv1 n1 0 1\nr1 n1 n2 1\nr2 n2 0 1\n.tran 1u 1m\n.end\n",
		"no convergence": "endless\nb1 n1 0 i=v(n1)*v(n1)+1\nr1 n1 n2 1\nr2 n2 0 1\n.tran 1u 5m\n.end\n",
	} {
		t.Run(name, func(t *testing.T) {
			b := filled(t)
			b.jobs[1].time = text
			answers, err := b.Run()
			require.NoError(t, err)
			for i, alone := range []int{0, 1, 0} {
				require.Equal(t, alone, answers[i].Alone)
				require.LessOrEqual(t, answers[i].Time.Of, 1.0)
				require.InDelta(t, 5e-3, answers[i].Time.Covered, 1e-9)
			}
		})
	}
	b := filled(t)
	b.jobs[2].rest = "nothing\n.end\n"
	answers, err := b.Run()
	require.NoError(t, err)
	require.Equal(t, 1, answers[2].Alone)
	require.LessOrEqual(t, answers[2].Rest.Of, 1.0)
}

// A circuit that is not the one in the netlist shows.
func TestBatchSeesADifference(t *testing.T) {
	b := filled(t)
	b.jobs[0].time, b.jobs[1].time = b.jobs[1].time, b.jobs[0].time
	b.jobs[2].ours[1] += 0.0025
	answers, err := b.Run()
	require.NoError(t, err)
	require.Greater(t, answers[0].Time.Of, 10.0)
	require.Greater(t, answers[1].Time.Of, 10.0)
	require.Greater(t, answers[2].Rest.Of, 1.0)
	require.LessOrEqual(t, answers[2].Time.Of, 1.0)
}

func TestBatchWithoutNgspiceSaysWhatToInstall(t *testing.T) {
	b := filled(t)
	t.Setenv("PATH", t.TempDir())
	_, err := b.Run()
	require.ErrorIs(t, err, ErrMissing)
}

// A circuit from its initial voltages, at rest and in time.
func ExampleBatch() {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("v", in, circuit.Ground, 5, 1000)
	n.Resistor("r", in, out, 4000)
	n.Capacitor("c", out, circuit.Ground, 1e-6, 0)
	s, err := n.Start()
	if err != nil {
		fmt.Println(err)
		return
	}
	b := &Batch{}
	if err := b.Add(s, 20e-3, 1e-4); err != nil {
		fmt.Println(err)
		return
	}
	answers, err := b.Run()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(answers[0].Rest.Of <= 1, answers[0].Time.Of <= 1)
	// Output: true true
}

// The capacitor of the last try changes no answer beyond the tolerance: a
// supply in its limit charges a capacitor behind a cable.
func TestTheLastTryAgrees(t *testing.T) {
	n := circuit.New()
	out, far := n.Node("out"), n.Node("far")
	n.LimitedSupply("supply", out, circuit.Ground, 5, 0.1, 1, false)
	n.Resistor("cable", out, far, 0.1)
	n.Capacitor("c", far, circuit.Ground, 100e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	last := loosened(len(strictness()) - 1)
	text, err := Netlist(s, 5e-3, 1e-4, last)
	require.NoError(t, err)
	require.Contains(t, text, "\ncs0 n1 0 1e-12\n")
	text, err = Netlist(s, 5e-3, 1e-4)
	require.NoError(t, err)
	require.NotContains(t, text, "\ncs0")
	d := newDeck(s, "", nil)
	text, err = Netlist(s, 5e-3, 1e-4, last)
	require.NoError(t, err)
	waves, err := run(text, d.nodes)
	require.NoError(t, err)
	answer, err := follow(s, waves)
	require.NoError(t, err)
	require.LessOrEqual(t, answer.Of, 1.0, "%v", answer)
	require.Greater(t, answer.Points, 50)
}
