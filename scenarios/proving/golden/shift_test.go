package golden_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/golden"
)

func morning() time.Time { return time.Date(2026, 5, 4, 6, 0, 0, 0, time.UTC) }

func terms() golden.Terms {
	return golden.Terms{Product: "lamp", Calibration: "cal-1", Files: []record.File{
		{Role: record.RoleWiring, SHA256: "aa"}, {Role: record.RoleProduct, SHA256: "bb"}, {Role: record.RoleScenario, SHA256: "cc"},
	}}
}

// unit is a golden unit that answered as expected in the morning.
func unit(serial string) golden.Unit {
	last := &golden.Run{Answer: record.AsExpected, Opening: record.Opening{
		Started: record.Instant(morning()), Files: terms().Files, Bench: record.Bench{Calibration: "cal-1"}}}
	return golden.Unit{
		Golden: record.Golden{Serial: serial, Title: "board " + serial, Product: "lamp", ValidS: 12 * 3600},
		Last:   last,
	}
}

func TestAShiftIsOpenWhileEveryGoldenUnitStands(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*golden.Unit)
		terms  func(*golden.Terms)
		after  time.Duration
		cause  error
		says   string
	}{
		"just answered":       {nil, nil, time.Minute, nil, ""},
		"the last second":     {nil, nil, 12*time.Hour - time.Second, nil, ""},
		"overdue":             {nil, nil, 12 * time.Hour, golden.ErrOverdue, "it stood until 2026-05-04T18:00:00Z"},
		"a longer time":       {func(u *golden.Unit) { u.ValidS = 24 * 3600 }, nil, 13 * time.Hour, nil, ""},
		"the twin's morning":  {nil, nil, -time.Minute, nil, ""},
		"never run":           {func(u *golden.Unit) { u.Last = nil }, nil, 0, golden.ErrMissing, ""},
		"deviates":            {answered(record.Deviates, "check rd failed: open"), nil, 0, golden.ErrDeviates, "check rd failed: open"},
		"could not judge":     {answered(record.NoAnswer, "lid open"), nil, 0, golden.ErrUnanswered, "lid open"},
		"left open":           {answered("", ""), nil, 0, golden.ErrUnanswered, "is not closed"},
		"another scenario":    {nil, func(t *golden.Terms) { t.Files[2].SHA256 = "dd" }, 0, golden.ErrOther, "another scenario file"},
		"another wiring":      {nil, func(t *golden.Terms) { t.Files[0].SHA256 = "dd" }, 0, golden.ErrOther, "another wiring file"},
		"a later calibration": {nil, func(t *golden.Terms) { t.Calibration = "cal-2" }, 0, golden.ErrOther, "stood on calibration cal-1, these stand on calibration cal-2"},
		"no calibration":      {nil, func(t *golden.Terms) { t.Calibration = "" }, 0, golden.ErrOther, "these stand on no calibration"},
	} {
		t.Run(name, func(t *testing.T) {
			u, m := unit("G-2"), terms()
			if c.change != nil {
				c.change(&u)
			}
			if c.terms != nil {
				c.terms(&m)
			}
			good := unit("G-1")
			good.Last.Files, good.Last.Bench.Calibration = m.Files, m.Calibration
			good.ValidS = 48 * 3600
			s := golden.NewShift([]golden.Unit{good, u}, m, morning().Add(c.after))
			if c.cause == nil {
				require.NoError(t, s.Open())
				require.Equal(t, morning().Add(time.Duration(u.ValidS)*time.Second), s.Until(), "the first that ends")
				return
			}
			require.ErrorIs(t, s.Open(), c.cause)
			require.ErrorContains(t, s.Open(), "G-2 (board G-2)")
			require.ErrorContains(t, s.Open(), c.says)
			require.NotContains(t, s.Open().Error(), "G-1")
			require.Zero(t, s.Until())
		})
	}
}

func answered(a record.GoldenAnswer, why string) func(*golden.Unit) {
	return func(u *golden.Unit) {
		u.Last.Answer = a
		if why != "" {
			u.Last.Deviations = []string{why}
		}
	}
}

func TestRunsUnderOtherTermsCountOnlyWhenTheyDeviate(t *testing.T) {
	r := *unit("G-1").Last
	require.True(t, terms().Counts(r))
	r.Bench.Calibration = "cal-0"
	require.False(t, terms().Counts(r))
	r.Answer = record.NoAnswer
	require.False(t, terms().Counts(r))
	r.Answer = record.Deviates
	require.True(t, terms().Counts(r))
}

func TestOnlyGoldenUnitsOfTheProductCount(t *testing.T) {
	other := unit("G-2")
	other.Product, other.Last = "torch", nil
	s := golden.NewShift([]golden.Unit{other}, terms(), morning())
	require.ErrorIs(t, s.Open(), golden.ErrNone)
	s = golden.NewShift([]golden.Unit{other, unit("G-3")}, terms(), morning())
	require.NoError(t, s.Open())
}

func TestEveryGoldenUnitThatIsMissingIsNamed(t *testing.T) {
	a, b := unit("G-1"), unit("G-2")
	a.Last, b.Last.Answer = nil, record.Deviates
	err := golden.NewShift([]golden.Unit{a, b}, terms(), morning()).Open()
	require.ErrorIs(t, err, golden.ErrMissing)
	require.ErrorIs(t, err, golden.ErrDeviates)
	require.ErrorContains(t, err, "G-1")
	require.ErrorContains(t, err, "G-2")
}

func ExampleShift() {
	u := unit("G-1")
	s := golden.NewShift([]golden.Unit{u}, terms(), morning().Add(13*time.Hour))
	fmt.Println(s.Open())
	// Output: golden unit G-1 (board G-1): the answer of a golden unit is overdue: it stood until 2026-05-04T18:00:00Z
}
