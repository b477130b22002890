package scenarios_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

func names(rounds []scenarios.Round) []string {
	var out []string
	for _, r := range rounds {
		out = append(out, r.Name)
	}
	return out
}

func roundNamed(t *testing.T, sc *scenarios.Scenario, name string) scenarios.Round {
	t.Helper()
	all := sc.Rounds()
	i := slices.IndexFunc(all, func(r scenarios.Round) bool { return r.Name == name })
	require.GreaterOrEqual(t, i, 0, "%s among %v", name, names(all))
	return all[i]
}

func loadShipped(t *testing.T, productName, scenarioName string) *scenarios.Scenario {
	t.Helper()
	file, err := scenarios.Shipped(scenarioName)
	require.NoError(t, err)
	sc, found := scenarios.Load(file, benchOne(t), shippedProduct(t, productName))
	require.NoError(t, found.Err())
	return sc
}

func TestARoundComesAfterWhatItStandsOn(t *testing.T) {
	sc := loadShipped(t, "hand-lamp", "charge-path")
	for name, c := range map[string]struct {
		after, not []string
	}{
		"cc1":                       {after: []string{"seat"}, not: []string{"cc2"}},
		"legacy[normal]":            {after: []string{"seat", "cc1", "cc2"}, not: []string{"legacy[flipped]"}},                                      // blames rd-cc1
		"c-supply[1.5 A, normal]":   {after: []string{"stand-in", "legacy[normal]"}, not: []string{"portable", "c-supply[default, normal]"}},        // trusts supply-works
		"phases[4.1 V]":             {after: []string{"legacy[flipped]"}, not: []string{"phases[3.0 V]", "trickle", "stand-in", "detached", "end"}}, // blames legacy-current
		"detached":                  {after: []string{"seat", "portable", "marked[flipped]"}, not: []string{"end"}},                                 // the order of harm
		"c-supply[default, normal]": {after: []string{"cc1", "cc2", "stand-in"}, not: []string{"detached"}},                                         // back-feed may come later
	} {
		t.Run(name, func(t *testing.T) {
			r := roundNamed(t, sc, name)
			require.Subset(t, r.After, c.after)
			for _, other := range c.not {
				require.NotContains(t, r.After, other)
			}
		})
	}
	require.True(t, roundNamed(t, sc, "end").Hazard())
	require.False(t, roundNamed(t, sc, "trickle").Hazard())
	require.Empty(t, roundNamed(t, sc, "portable").Behind)
	behind := roundNamed(t, sc, "marked[normal]").Behind
	require.Contains(t, behind, "stand-in")
	require.Contains(t, behind, "c-supply[3.0 A, flipped]")
	require.NotContains(t, behind, "portable", "it leaves another supply on")
}

func TestARoundThatUsesAReadingComesAfterIt(t *testing.T) {
	sc := loadShipped(t, "desk-sensor", "charge-path")
	require.Contains(t, roundNamed(t, sc, "legacy[normal]").After, "own-cell", "its current means something only with the cell's voltage")
}

func TestInOrderRefuses(t *testing.T) {
	sc := loadShipped(t, "hand-lamp", "charge-path")
	file := names(sc.Rounds())
	swapped := func(a, b string) []string {
		out := slices.Clone(file)
		i, j := slices.Index(out, a), slices.Index(out, b)
		out[i], out[j] = out[j], out[i]
		return out
	}
	for name, c := range map[string]struct {
		order []string
		says  string
	}{
		"a round that is missing":           {file[:len(file)-1], `"detached" is missing`},
		"a round twice":                     {append(slices.Clone(file), "cc1"), `"cc1" stands twice`},
		"a round that is not there":         {append(slices.Clone(file), "cc3"), `no round "cc3"`},
		"a supply before the probe":         {swapped("seat", "legacy[normal]"), `needs "seat"`},
		"the control after what trusts it":  {swapped("stand-in", "portable"), `"c-supply[default, normal]" needs "stand-in"`},
		"a hazard before harmless checks":   {swapped("end", "trickle"), `"end" needs`},
		"a fall of a supply that is not on": {swapped("portable", "marked[normal]"), `"marked[flipped]" watches a supply let go`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := sc.InOrder(c.order)
			require.ErrorIs(t, err, scenarios.ErrOrder)
			require.ErrorContains(t, err, c.says)
		})
	}
}

func TestInOrderAsksTheSame(t *testing.T) {
	sc := loadShipped(t, "hand-lamp", "charge-path")
	order := names(sc.Rounds())
	i, j := slices.Index(order, "cc1"), slices.Index(order, "cc2")
	order[i], order[j] = order[j], order[i]
	moved, err := sc.InOrder(order)
	require.NoError(t, err)
	require.Equal(t, order, names(moved.Rounds()))
	require.ElementsMatch(t, checkNames(sc), checkNames(moved))
	require.Equal(t, "cc1", sc.Rounds()[i].Name, "the scenario it was made from stays as it is")
	again, err := moved.InOrder(names(sc.Rounds()))
	require.NoError(t, err)
	require.Equal(t, sc.Stages, again.Stages)
}

func checkNames(sc *scenarios.Scenario) []string {
	var out []string
	for _, c := range sc.Checks() {
		out = append(out, c.Name)
	}
	return out
}

// lateFirst is a scenario that states its order; the last round of the file is
// a form of it for products without a cell.
const lateFirst = `scenario "late-first" {
  title      = "The last stage first"
  version    = "1"
  decision   = "simple"
  after_fail = "hazards"
  order      = ["seat", "plug[b]", "plug[no cell]", "plug[a]", "back"]
  stage "seat" {
    probe "seat" {}
    check "shorted" {
      title = "Not shorted"
      value = reading.seat.top
      low = "1 V"
      source = "none"
      gate = true
      rework = "Look."
    }
  }
  stage "plug" {
    for_each = [{ key = "a", side = "normal" }, { key = "b", side = "flipped" }, { key = "no cell", side = "normal", only = "cell.absent" }]
    enter "legacy-a" { orientation = each.side }
    read "v" { channel = channel.vbus }
    check "vbus" {
      title = "VBUS"
      value = reading.v
      low = "5.9 V"
      source = "none"
      rework = "Look."
    }
  }
  stage "back" {
    enter "detached" { cell = "4.1 V" }
    read "w" { channel = channel.vbus }
    check "held" {
      title = "VBUS is off"
      value = reading.w
      high = "0.8 V"
      source = "none"
      bin = "quarantine"
      rework = "Look."
    }
  }
}
`

// TestAFileStatesItsOrder: it also says that after a fail only hazards are
// asked for, and no supply has 5.9 V.
func TestAFileStatesItsOrder(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	sc, found := loadText(t, "late-first.hcl", []byte(lateFirst))
	require.NoError(t, found.Err())
	require.Equal(t, []string{"seat", "plug[b]", "plug[a]", "back"}, names(sc.Rounds()), "what the product does not have is passed over")
	s.scenario = sc
	run := s.run("ORDER")
	require.Equal(t, record.Fail, run.Verdict)
	require.Equal(t, []string{"vbus[b]"}, failed(run))
	require.Equal(t, record.Unanswered, checkNamed(t, run, "vbus[a]").Answer)
	require.Contains(t, checkNamed(t, run, "vbus[a]").Why, "vbus[b] has failed")
	require.Equal(t, record.Passed, checkNamed(t, run, "held").Answer, "a hazard is asked for all the same")
	require.Equal(t, record.BinRework, run.Bin)

	run = s.run("ORDER-2", row{fault: "back-feed"}.at(1))
	require.Equal(t, record.BinQuarantine, run.Bin, "a fail before it does not hide the hazard")
}

// TestWhoWatchesTheTimeIsToldWhereTheRunIs: each stage, then its steps.
func TestWhoWatchesTheTimeIsToldWhereTheRunIs(t *testing.T) {
	s := newStation(t, "hand-lamp", "terminations-only")
	var told []string
	job := s.job("WATCHED")
	job.At = func(st scenarios.Stage, step string) { told = append(told, st.Name+" "+step) }
	_, err := scenarios.Run(t.Context(), job)
	require.NoError(t, err)
	require.Equal(t, []string{"seat ", "seat seat"}, told[:2])
	require.Contains(t, told, "cc1 ")
	require.Contains(t, told, "cc1 r-cc1")
}

// TestReadingsThatShareTheirTimeSayTheSame: a complete run with shared windows
// gives every reading of the run without them, and takes less time. The supplies
// of two benches of one seed take theirs alike.
func TestReadingsThatShareTheirTimeSayTheSame(t *testing.T) {
	shared := newStation(t, "hand-lamp", "charge-path").run("SHARED")
	s := newStation(t, "hand-lamp", "charge-path")
	require.Equal(t, scenarios.Shared, s.scenario.Windows)
	apart := *s.scenario
	apart.Windows = scenarios.OneByOne
	s.scenario = &apart
	alone := s.run("SHARED")
	require.Equal(t, record.Pass, shared.Verdict, shared.Reason)
	require.Equal(t, readingNames(alone), readingNames(shared))
	require.Less(t, shared.DurationUS, alone.DurationUS-300_000)
}

func readingNames(run record.Run) []string {
	var out []string
	for _, x := range run.Readings {
		out = append(out, x.Name)
	}
	return out
}
