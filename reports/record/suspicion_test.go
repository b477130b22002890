package record

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

func sampleSuspicion(t testing.TB) Suspicion {
	t.Helper()
	s, err := judged(func(r *Run) { r.Checks[0].Value.Value = 6000 }).Suspect(3, []Suspect{
		{5, "01890a5d-ac96-774b-bcce-b302099a8057", "LMP-000017"}, {7, "01890a5d-ac96-774b-bcce-b302099a8058", "LMP-000018"},
		{9, "01890a5d-ac96-774b-bcce-b302099a8060", "LMP-000017"},
	})
	require.NoError(t, err)
	return s
}

func sampleWithdrawal() Withdrawal {
	return Withdrawal{Run: goldenRecord(nil).ID, Bench: sampleGolden().Bench, Made: "2026-05-04T09:00:00Z", By: "Q. Engineer", Reason: "the golden unit's receptacle was dirty"}
}

func sampleClock() Clock {
	return Clock{Bench: sampleGolden().Bench, Made: "2026-05-04T10:00:00Z", By: "A. Engineer", Reason: "the clock was a day ahead"}
}

func TestASuspicionFollowsFromTheGoldenRun(t *testing.T) {
	s := sampleSuspicion(t)
	require.Equal(t, "2026-05-04T07:30:18.984112Z", s.Made, "start and duration of the golden run")
	require.Equal(t, []string{"check rd-cc1: 6.0000 kΩ is outside 5.0800 kΩ to 5.1200 kΩ"}, s.Why)
	require.Equal(t, []string{"LMP-000017", "LMP-000018"}, s.Serials(), "each serial once")
	require.NoError(t, s.Validate())
}

// The rules stand twice, in Go and in the published schema.
func TestBrokenSuspicionsAreRefusedTwice(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Suspicion)
		beyond bool
	}{
		"registration":   {func(s *Suspicion) { s.Golden = "" }, false},
		"serial":         {func(s *Suspicion) { s.Serial = "" }, false},
		"run":            {func(s *Suspicion) { s.Run = "7" }, false},
		"bench":          {func(s *Suspicion) { s.Bench.Name = "" }, false},
		"made":           {func(s *Suspicion) { s.Made = "" }, false},
		"no why":         {func(s *Suspicion) { s.Why = nil }, false},
		"since":          {func(s *Suspicion) { s.Since = 0 }, false},
		"suspect run":    {func(s *Suspicion) { s.Suspects[0].Run = "" }, false},
		"suspect serial": {func(s *Suspicion) { s.Suspects[0].Serial = "" }, false},
		"before since":   {func(s *Suspicion) { s.Suspects[0].Seq = 3 }, true},
		"out of order":   {func(s *Suspicion) { s.Suspects[2].Seq = 6 }, true},
	} {
		s := sampleSuspicion(t)
		c.change(&s)
		_, err := s.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(suspicionDocument{SuspicionSchema, s})
		require.NoError(t, err)
		require.Equal(t, c.beyond, accepts(t, published(t, SuspicionSchema), data) == nil, name)
	}
}

func TestBrokenWithdrawalsAndClocksAreRefusedTwice(t *testing.T) {
	for name, change := range map[string]func(*Withdrawal){
		"run":       func(w *Withdrawal) { w.Run = "" },
		"bench":     func(w *Withdrawal) { w.Bench.Kind = "" },
		"made":      func(w *Withdrawal) { w.Made = "" },
		"nobody":    func(w *Withdrawal) { w.By = "" },
		"no reason": func(w *Withdrawal) { w.Reason = "" },
	} {
		w := sampleWithdrawal()
		change(&w)
		_, err := w.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(withdrawalDocument{WithdrawalSchema, w})
		require.NoError(t, err)
		require.Error(t, accepts(t, published(t, WithdrawalSchema), data), name)
	}
	for name, change := range map[string]func(*Clock){
		"bench":     func(c *Clock) { c.Bench.Name = "" },
		"made":      func(c *Clock) { c.Made = "x" },
		"nobody":    func(c *Clock) { c.By = "" },
		"no reason": func(c *Clock) { c.Reason = "" },
	} {
		c := sampleClock()
		change(&c)
		_, err := c.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(clockDocument{ClockSchema, c})
		require.NoError(t, err)
		require.Error(t, accepts(t, published(t, ClockSchema), data), name)
	}
}
