package main

import (
	"bytes"
	"context"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/fixtures"
	"sinkproof/reports/record"
	"sinkproof/scenarios/findings"
)

// shippedDictionaries are those that come with the program, by rig.
func shippedDictionaries() map[string][]byte {
	return map[string][]byte{"bench-one": dictionaryOfOne, "bench-four": dictionaryOfFour}
}

// The shipped dictionaries are of the shipped files, as they are now. Where this
// fails, "go generate ./cmd/sinkproof" makes them again.
func TestTheShippedDictionariesAreOfTheShippedFiles(t *testing.T) {
	require.ElementsMatch(t, fixtures.Names(), slices.Collect(maps.Keys(shippedDictionaries())))
	for rig, data := range shippedDictionaries() {
		d, err := findings.Decode(data)
		require.NoError(t, err)
		p, err := load(rig, defaultProduct, defaultScenario, io.Discard)
		require.NoError(t, err)
		require.Equal(t, dictionaryKey(p, dictionaryUnits), d.Key, "%s: files, faults or version have changed: go generate ./cmd/sinkproof", rig)
		require.Equal(t, dictionaryUnitsOf(p, dictionaryUnits), d.Units)
		require.Empty(t, d.Groups(), "the shipped scenario tells every fault apart")
		opened, err := openDictionary(p)
		require.NoError(t, err)
		require.Equal(t, d.Key, opened.Key)
	}
}

// The key names everything that a dictionary is made from.
func TestTheKeyOfADictionaryNamesItsInputs(t *testing.T) {
	p := shippedPapers(t)
	keys := map[string]bool{dictionaryKey(p, 200): true, dictionaryKey(p, 100): true}
	other, err := load(defaultRig, "desk-sensor", defaultScenario, io.Discard)
	require.NoError(t, err)
	keys[dictionaryKey(other, 200)] = true
	require.Len(t, keys, 3)
	require.Equal(t, dictionaryKey(p, 200), dictionaryKey(shippedPapers(t), 200))
}

// Every fault of the twin has a title, something to do about it, and a
// measurement by hand that tells it from a good unit.
func TestEveryFaultCanBeReworkedAndMeasured(t *testing.T) {
	measured := map[string]bool{}
	for _, m := range findings.Measurements() {
		for fault := range m.Shows {
			measured[fault] = true
		}
	}
	known := map[string]bool{}
	for _, d := range twin.Faults() {
		known[d.Name] = true
		require.NotEmpty(t, findings.Rework(d.Name), d.Name)
		require.True(t, measured[d.Name], "%s shows in no measurement", d.Name)
	}
	for fault := range measured {
		require.True(t, known[fault], "%s is no fault of the twin", fault)
	}
}

// A dictionary does not depend on how many rigs are simulated side by side.
func TestADictionaryIsTheSameForAnyNumberOfWorkers(t *testing.T) {
	p, err := load(defaultRig, defaultProduct, "terminations-only", io.Discard)
	require.NoError(t, err)
	one, err := buildDictionary(context.Background(), p, 10, 1, nil)
	require.NoError(t, err)
	three, err := buildDictionary(context.Background(), p, 10, 3, nil)
	require.NoError(t, err)
	require.True(t, bytes.Equal(one, three))
	d, err := findings.Decode(one)
	require.NoError(t, err)
	// Without power nothing of the charger can be seen: such faults are alike,
	// and like no fault at all.
	groups := d.Groups()
	require.NotEmpty(t, groups)
	require.Equal(t, findings.Good, groups[0].Classes[0].Name)
	var names []string
	for _, c := range groups[0].Classes {
		names = append(names, c.Name)
	}
	require.Contains(t, names, "overcharge")
	require.Contains(t, names, "charger-dead")
	require.NotContains(t, names, "no-rd")
	require.NotEmpty(t, groups[0].Measure.How)

	// One measurement does not tell all of them apart, and the command says so.
	r := newDictionaryResult(d, nil)
	require.NotEmpty(t, r.Alike[0].Together)
	require.Contains(t, r.Alike[0].Together[0], "indicator-dead")
	require.NotContains(t, r.Alike[0].Together[0], "overcharge")
	var out bytes.Buffer
	r.print(&out)
	require.Contains(t, out.String(), "what would tell most of them apart: ")
	require.Contains(t, out.String(), "it gives the same for: "+findings.Good+", ")
}

func TestAKeptDictionaryIsTakenAndADamagedOneIsNot(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	p, err := load(defaultRig, "desk-sensor", defaultScenario, io.Discard)
	require.NoError(t, err)
	_, err = openDictionary(p)
	require.ErrorIs(t, err, errNoDictionary)

	d, err := findings.Decode(dictionaryOfOne)
	require.NoError(t, err)
	key := dictionaryKey(p, dictionaryUnits)
	d.Key = key
	data, err := d.Encode()
	require.NoError(t, err)
	path, err := keepDictionary(key, data)
	require.NoError(t, err)
	kept, err := openDictionary(p)
	require.NoError(t, err)
	require.Equal(t, key, kept.Key)

	require.NoError(t, os.WriteFile(path, data[:100], 0o600))
	_, err = openDictionary(p)
	require.ErrorIs(t, err, errNoDictionary)
	require.ErrorIs(t, err, findings.ErrFormat)
	require.NoError(t, os.WriteFile(path, dictionaryOfOne, 0o600))
	_, err = openDictionary(p)
	require.ErrorContains(t, err, "that of others")
}

// Where nothing can be kept, a dictionary serves all the same.
func TestADictionaryThatCannotBeKeptStillServes(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	t.Setenv("XDG_CACHE_HOME", file)
	p, err := load(defaultRig, defaultProduct, "terminations-only", io.Discard)
	require.NoError(t, err)
	var said bytes.Buffer
	data, err := madeDictionary(context.Background(), p, 10, 0, newScreen(&said))
	require.NoError(t, err)
	_, err = findings.Decode(data)
	require.NoError(t, err)
	require.Contains(t, said.String(), "it serves this time only")
}

func TestFindingsCanBeLeftOut(t *testing.T) {
	p := shippedPapers(t)
	s := newScreen(io.Discard)
	off, err := newDiagnostician(context.Background(), p, findingsOff, s)
	require.NoError(t, err)
	require.Equal(t, "findings were not asked for", off.attach(record.Run{}).Diagnosis.Why)
	_, err = newDiagnostician(context.Background(), p, "sometimes", s)
	require.ErrorContains(t, err, "sometimes")
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	other, err := load(defaultRig, "desk-sensor", defaultScenario, io.Discard)
	require.NoError(t, err)
	none, err := newDiagnostician(context.Background(), other, findingsAuto, s)
	require.NoError(t, err)
	require.Contains(t, none.attach(record.Run{}).Diagnosis.Why, "sinkproof dictionary makes one")
}

func TestFindingsOnATerminal(t *testing.T) {
	p := 0.871
	run := record.Run{
		Verdict: record.Fail, Diagnosis: &record.Diagnosis{Priors: "all alike"},
		Suspects: []record.Finding{
			{
				Title: "no termination", Fault: "no-rd", Probability: &p, Rework: "Fit it.", Alike: []string{"one pin"}, Measure: "Ohms at A5",
				ReadingsFor:     []record.Testimony{{Reading: "r", Text: "CC1: open"}},
				ReadingsAgainst: []record.Testimony{{Reading: "q", Text: "CC2: 5.1 kΩ"}},
			},
			{Title: "CC1", Rework: "Check CC1."},
		},
	}
	var b bytes.Buffer
	printFindings(&b, run)
	require.Equal(t, `    87.1 %  no termination
           rework: Fit it.
           for: CC1: open
           against: CC2: 5.1 kΩ
           these readings do not always tell it from: one pin; what would: ohms at A5
  before the run: all alike
`, b.String())
	b.Reset()
	run.Suspects, run.Diagnosis = run.Suspects[1:], &record.Diagnosis{Why: "the bench failed"}
	printFindings(&b, run)
	require.Equal(t, "  no findings: the bench failed\n  rework: Check CC1.\n", b.String())
	b.Reset()
	printFindings(&b, record.Run{Verdict: record.Pass, Diagnosis: &record.Diagnosis{}})
	require.Empty(t, b.String())
	b.Reset()
	p = 0.99996
	printFindings(&b, record.Run{Suspects: []record.Finding{{Title: "x", Probability: &p}}, Diagnosis: &record.Diagnosis{}})
	require.Contains(t, b.String(), "  more than 99.9 %  x\n", "nothing is certain")
}

// BenchmarkDiagnose is what findings add to a run of the shipped scenario.
// Goal: below 5 ms.
func BenchmarkDiagnose(b *testing.B) {
	p := shippedPapers(b)
	l, err := newLine(context.Background(), p, 1)
	require.NoError(b, err)
	run, err := l.take(context.Background(), "B-1", nil, twin.Fault{Name: "no-rd"})
	require.NoError(b, err)
	d, err := newDiagnostician(context.Background(), p, findingsAuto, newScreen(io.Discard))
	require.NoError(b, err)
	require.NotNil(b, d.dictionary, d.why)
	b.ReportAllocs()
	for b.Loop() {
		d.attach(run)
	}
}

// BenchmarkOpenDictionary is what findings add to the start of the program.
func BenchmarkOpenDictionary(b *testing.B) {
	p := shippedPapers(b)
	for b.Loop() {
		_, err := openDictionary(p)
		require.NoError(b, err)
	}
}
