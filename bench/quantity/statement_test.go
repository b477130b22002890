package quantity

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The budget of the end gauge as JCGM 100:2008, H.1, table H.1 prints it: each
// standard uncertainty in nanometres, the combined one, ν and U for 99 %.
func TestBudgetOfTheEndGauge(t *testing.T) {
	c := readGuide(t).Cases.EndGauge
	parts := make([]Contribution, 0, len(c.Input.Contributions))
	for _, p := range c.Input.Contributions {
		parts = append(parts, Normal(p.Name, p.U, 1e-9, p.Nu))
	}
	b := NewMeasured(Quantity{0.050000838, metre}, parts...).Budget(c.Input.Confidence)
	require.Len(t, b.Lines, len(c.Input.Contributions))
	total := 0.0
	for i, l := range b.Lines {
		in := c.Input.Contributions[i]
		require.Equal(t, in.Name, l.Source)
		require.InEpsilon(t, in.U, l.Std, 1e-12)
		require.InEpsilon(t, in.U*1e-9, l.Share, 1e-12)
		if in.Nu == 0 {
			require.True(t, math.IsInf(l.DOF, 1), l.Source)
		} else {
			require.Equal(t, in.Nu, l.DOF)
		}
		total += l.Percent
	}
	require.InDelta(t, 100, total, 1e-9)
	published := c.Expect.Published
	require.Equal(t, published.Uc, math.Round(b.Combined*1e9))
	require.Equal(t, published.Nu, b.DOF)
	require.InDelta(t, published.K, b.K, 0.005)
	require.InEpsilon(t, c.Expect.U99, b.U*1e9, 1e-9)
}

// JCGM 100:2008, 4.3.7 and 4.3.9, and F.2.2.1 for a step.
func TestBudgetShowsWhatWasDividedByWhat(t *testing.T) {
	b := NewMeasured(Volts(1),
		Uniform("gain", 0.0015, 1), Triangular("shunt", 0.001, -2), Resolution("step", 1e-3, 1), Normal("noise", 2e-3, 1, 4)).Budget(0.95)
	for i, want := range []struct{ half, divisor, std, share float64 }{
		{0.0015, math.Sqrt(3), 0.0015 / math.Sqrt(3), 0.0015 / math.Sqrt(3)},
		{0.001, math.Sqrt(6), 0.001 / math.Sqrt(6), 0.002 / math.Sqrt(6)},
		{0.5e-3, math.Sqrt(3), 1e-3 / math.Sqrt(12), 1e-3 / math.Sqrt(12)},
		{2e-3, 1, 2e-3, 2e-3},
	} {
		l := b.Lines[i]
		require.InEpsilon(t, want.half, l.Half, 1e-12, l.Source)
		require.InEpsilon(t, want.divisor, l.Divisor, 1e-12, l.Source)
		require.InEpsilon(t, want.std, l.Std, 1e-12, l.Source)
		require.InEpsilon(t, want.share, l.Share, 1e-12, l.Source)
	}
	require.Equal(t, -2.0, b.Lines[1].Sens, "the sign stays")
}

func TestBudgetOfAnExactValueHasNoLines(t *testing.T) {
	b := Known(Volts(5)).Budget(0.95)
	require.Empty(t, b.Lines)
	require.Zero(t, b.U)
	require.True(t, math.IsInf(b.DOF, 1))
}

func TestBudgetAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "parts")
		m := Known(Volts(1))
		for i := range n {
			m.Parts = append(m.Parts, Normal(string(rune('a'+i%26)), 1,
				rapid.Float64Range(-1, 1).Draw(t, "share"), float64(rapid.IntRange(0, 50).Draw(t, "dof"))))
		}
		b := m.Budget(0.95)
		squares, percent := 0.0, 0.0
		for _, l := range b.Lines {
			squares += l.Share * l.Share
			percent += l.Percent
		}
		require.InDelta(t, m.Std(), math.Sqrt(squares), 1e-12)
		if m.Std() > 0 {
			require.InDelta(t, 100, percent, 1e-6)
		}
	})
}
