package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/fixtures"
	"sinkproof/reports/page"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

func TestNestWords(t *testing.T) {
	good := nestStudy{Nests: 4, Hertz: 400e3, One: 400, All: 1520, Times: 3.8, OneLoad: 0.14, Load: 0.55}
	require.Equal(t, "4 nests at 400 kHz: 1520 units an hour, 3.80 times one nest (400); buses busy 55.0 %, of one nest 14.0 %; every unit judged as alone", nestWords(good))
	require.Equal(t, page.Good, nestRows([]nestStudy{good})[0].Tone)

	full := nestStudy{Nests: 4, Hertz: 100e3, One: 300, All: 750, Times: 2.5, OneLoad: 0.5, Load: 0.98}
	require.Contains(t, nestWords(full), "less than 3.5 times, because the bus is full: this frequency cannot give it")
	require.Equal(t, page.Open, nestRows([]nestStudy{full})[0].Tone)
	full.Load = 0.6
	require.Contains(t, nestWords(full), "less than 3.5 times;")

	good.Differences = []string{"nest 2, U-1: alone pass, side by side none"}
	require.Contains(t, nestWords(good), "1 judged otherwise than alone: nest 2, U-1")
	require.Equal(t, page.Bad, nestRows([]nestStudy{good})[0].Tone)
}

// TestPlannedScenarioReplacesAnOrder that the file states already, over one line
// or several, and refuses a file that has no place for one.
func TestPlannedScenarioReplacesAnOrder(t *testing.T) {
	p := shippedPapers(t)
	var order []string
	for _, r := range p.scenario.Rounds() {
		order = append(order, r.Name)
	}
	file, err := scenarios.Shipped(defaultScenario)
	require.NoError(t, err)
	once, err := plannedScenario(p, file.Bytes, order)
	require.NoError(t, err)
	require.Contains(t, string(once), `windows  = "shared"`)
	again := *p
	loaded := *p.scenario
	loaded.Version = "1-planned"
	again.scenario = &loaded
	twice, err := plannedScenario(&again, once, order)
	require.NoError(t, err)
	require.Equal(t, string(once), string(twice))

	_, err = plannedScenario(p, []byte("scenario \"x\" {\n  decision = \"simple\"\n}"), order)
	require.ErrorContains(t, err, "no empty line")
}

// The page says what the means may be off by, and where a saving may be none.
func TestTaktLeadSaysWhatChanceDoes(t *testing.T) {
	r := takt.Report{File: takt.Run{Mean: takt.Mean{Units: 40, Rigs: 14, Seconds: 9.2, SE: 0.03}}, Planned: takt.Run{Mean: takt.Mean{Units: 40, Rigs: 14, Seconds: 9.1, SE: 0.04}}}
	require.Contains(t, taktLead(r), "9.200\u00a0s\u00a0±\u00a00.065\u00a0s in the order of the file")
	require.Contains(t, taktLead(r), "1.1 % less, which is no more than chance does with 40 good units on 14 rigs. Physics")
	r.Planned.Mean.SE, r.File.Mean.SE = 0.02, 0.02
	require.Contains(t, taktLead(r), "1.1 % less. Physics", "0.1 s is more than 2.16 · √2 · 0.02 s")
	r.Planned.Mean.Rigs = 1
	require.Contains(t, taktLead(r), "and 9.100\u00a0s in the planned one")
}

// Where no good unit passes there is no time to tell, which is the bench's matter: at
// 100 kHz bench-one cannot prove its nest empty.
// A scenario without a wait for an answer has none that could be fixed: the sum of its
// fixed waits is its floor, and no saving follows from that.
func TestTaktWithoutConditionalWaits(t *testing.T) {
	var r takt.Report
	r.FixedSeconds, r.File.FloorSeconds, r.Planned.Mean.Seconds = 1.2, 1.2, 1.35
	var b bytes.Buffer
	printTaktRuns(&b, r)
	require.NotContains(t, b.String(), "-12.5")
	require.Regexp(t, "saved against fixed waits +nothing +the scenario waits for no answer", b.String())
	require.Contains(t, taktLead(r), "waits for no answer")
	require.Equal(t, "0", fixedTally(r).Figure)
	r.FixedSeconds = 2.7
	b.Reset()
	printTaktRuns(&b, r)
	require.Regexp(t, "saved against fixed waits +50.0 %", b.String())
	require.Contains(t, taktLead(r), "With fixed waits it would take 2.700")
}

func TestTaktOfARigThatPassesNoGoodUnit(t *testing.T) {
	rig, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	slow := filepath.Join(t.TempDir(), "slow.hcl")
	require.NoError(t, os.WriteFile(slow, bytes.ReplaceAll(rig.File.Bytes, []byte(`"400 kHz"`), []byte(`"100 kHz"`)), 0o600))
	var out, said bytes.Buffer
	require.Equal(t, exitNoJudge, run(context.Background(), []string{"takt", "--rig", slow, "--units", "2", "--nests", "0"}, nil, &out, &said))
	require.Empty(t, out.String())
	require.Contains(t, said.String(), "takt of charge-path on rig bench-one: ")
	require.Contains(t, said.String(), "no good unit passed")
	require.Contains(t, said.String(), "next: sinkproof run --twin-unit good")
}
