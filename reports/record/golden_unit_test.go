package record

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

func sampleGolden() Golden {
	return Golden{
		ID: "01890a5d-ac96-774b-bcce-b302099a805a", Bench: Bench{Name: "bench 3", Kind: Twin, Program: "0.1.0"},
		Made: "2026-05-04T06:10:00Z", By: "A. Engineer", Serial: "GOLD-2", Product: "bicycle lamp L1",
		Title: "board without the resistor at CC2", Fault: "no-rd",
		Expected: Expected{
			Verdict: Fail, Fails: []string{"rd-cc2"}, MayFail: []string{"c-flipped"},
			Values: []ExpectedValue{{"rd-cc1", "Ω", 5080, 5120}},
		},
		ValidS: 43_200,
	}
}

func sampleRetirement() GoldenRetirement {
	g := sampleGolden()
	return GoldenRetirement{Golden: g.ID, Serial: g.Serial, Bench: g.Bench, Made: "2026-11-04T06:10:00Z", By: "A. Engineer", Reason: "receptacle worn out"}
}

// goldenRecord is the record of a run of the sample's golden unit; change turns
// it into what a bench out of order would say.
func goldenRecord(change func(*Run)) Run {
	r := sampleRun()
	r.ID, r.Serial, r.Fault = "01890a5d-ac96-774b-bcce-b302099a805b", "GOLD-2", nil
	if change != nil {
		change(&r)
	}
	return r
}

func judged(change func(*Run)) GoldenRun {
	r := goldenRecord(change)
	answer, deviations := sampleGolden().Judge(r)
	return GoldenRun{Golden: sampleGolden().ID, Answer: answer, Deviations: deviations, Run: r}
}

func TestGoldenUnitsAreJudged(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Run)
		answer GoldenAnswer
		says   []string
	}{
		"as expected":          {nil, AsExpected, nil},
		"another check failed": {func(r *Run) { r.Checks[0].Answer, r.Checks[0].Why = Failed, "4 kΩ" }, Deviates, []string{"check rd-cc1 failed: 4 kΩ"}},
		"one that may fail fails": {func(r *Run) {
			r.Checks = append(r.Checks, Check{Name: "c-flipped", Title: "x", Answer: Failed, Why: "cold"})
		}, AsExpected, nil},
		"the known fault is not seen": {func(r *Run) { r.Checks[1].Answer = Passed; r.Verdict = Pass }, Deviates,
			[]string{"check rd-cc2 passed where a fail is expected"}},
		"the check was not asked":        {func(r *Run) { r.Checks = append(r.Checks[:1], r.Checks[2]) }, NoAnswer, []string{"check rd-cc2 was not answered"}},
		"the check could not be trusted": {func(r *Run) { r.Checks[1].Answer = Unanswered }, NoAnswer, []string{"check rd-cc2 was not answered"}},
		"a value too high":               {func(r *Run) { r.Checks[0].Value.Value = 5120.5 }, Deviates, []string{"check rd-cc1: 5.1205 kΩ is outside 5.0800 kΩ to 5.1200 kΩ"}},
		"a value too low":                {func(r *Run) { r.Checks[0].Value.Value = 5079.5 }, Deviates, []string{"check rd-cc1: 5.0795 kΩ is outside 5.0800 kΩ to 5.1200 kΩ"}},
		"a value on the edge":            {func(r *Run) { r.Checks[0].Value.Value = 5120 }, AsExpected, nil},
		"no value":                       {func(r *Run) { r.Checks[0].Value = nil }, NoAnswer, []string{"check rd-cc1 has no value in Ω"}},
		"a bound within":                 {func(r *Run) { r.Checks[0].Value.Bound = AtLeast }, NoAnswer, []string{"check rd-cc1: only a bound is known, at least 5.1033 kΩ"}},
		"a bound beyond":                 {func(r *Run) { r.Checks[0].Value.Bound, r.Checks[0].Value.Value = AtLeast, 1e6 }, Deviates, []string{"check rd-cc1: 1.0000 MΩ is outside 5.0800 kΩ to 5.1200 kΩ"}},
		"a bound that says nothing":      {func(r *Run) { r.Checks[0].Value.Bound, r.Checks[0].Value.Value = AtLeast, 100 }, NoAnswer, []string{"check rd-cc1: only a bound is known, at least 100.00 Ω"}},
		"the bench could not judge":      {func(r *Run) { r.Verdict, r.Reason = None, "lid open" }, NoAnswer, []string{"the run has no verdict: lid open"}},
		"it failed in another place and the bench could not judge": {func(r *Run) {
			r.Verdict, r.Reason = None, "lid open"
			r.Checks[0].Answer, r.Checks[0].Why = Failed, "4 kΩ"
		}, Deviates, []string{"check rd-cc1 failed: 4 kΩ", "the run has no verdict: lid open"}},
	} {
		t.Run(name, func(t *testing.T) {
			answer, says := sampleGolden().Judge(goldenRecord(c.change))
			require.Equal(t, c.answer, answer)
			require.Equal(t, c.says, says)
		})
	}
	good := sampleGolden()
	good.Expected = Expected{Verdict: Pass}
	answer, says := good.Judge(goldenRecord(func(r *Run) { r.Checks = r.Checks[:1] }))
	require.Equal(t, Deviates, answer, "no check failed that may not, and still")
	require.Equal(t, []string{"the verdict is fail where pass is expected"}, says)
}

func TestBrief(t *testing.T) {
	require.Empty(t, Brief(nil))
	require.Equal(t, "a", Brief([]string{"a"}))
	require.Equal(t, "a; and 2 more", Brief([]string{"a", "b", "c"}))
}

// The rules stand twice, in Go and in the published schema.
func TestBrokenGoldenUnitsAreRefusedTwice(t *testing.T) {
	schema := published(t, GoldenSchema)
	for name, c := range map[string]struct {
		change func(*Golden)
		beyond bool
	}{
		"id":            {func(g *Golden) { g.ID = "7" }, false},
		"no bench":      {func(g *Golden) { g.Bench.Name = "" }, false},
		"toy":           {func(g *Golden) { g.Bench.Kind = "toy" }, false},
		"unproven":      {func(g *Golden) { g.Bench.Unproven = "x" }, false},
		"made":          {func(g *Golden) { g.Made = "today" }, false},
		"nobody":        {func(g *Golden) { g.By = "" }, false},
		"serial":        {func(g *Golden) { g.Serial = " " }, false},
		"product":       {func(g *Golden) { g.Product = "" }, false},
		"title":         {func(g *Golden) { g.Title = "" }, false},
		"never valid":   {func(g *Golden) { g.ValidS = 0 }, false},
		"no verdict":    {func(g *Golden) { g.Expected.Verdict = None }, false},
		"fails nowhere": {func(g *Golden) { g.Expected.Fails = nil }, false},
		"pass and fail": {func(g *Golden) { g.Expected.Verdict = Pass }, false},
		"unnamed check": {func(g *Golden) { g.Expected.Fails[0] = "" }, false},
		"check twice":   {func(g *Golden) { g.Expected.MayFail[0] = g.Expected.Fails[0] }, true},
		"unit":          {func(g *Golden) { g.Expected.Values[0].Unit = "kΩ" }, false},
		"value of none": {func(g *Golden) { g.Expected.Values[0].Check = "" }, false},
		"no range":      {func(g *Golden) { g.Expected.Values[0].Upper = 5000 }, true},
		"value twice":   {func(g *Golden) { g.Expected.Values = append(g.Expected.Values, g.Expected.Values[0]) }, true},
	} {
		g := sampleGolden()
		c.change(&g)
		_, err := g.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(goldenDocument{GoldenSchema, g})
		require.NoError(t, err)
		require.Equal(t, c.beyond, accepts(t, schema, data) == nil, name)
	}
}

func TestBrokenGoldenRunsAreRefusedTwice(t *testing.T) {
	schema := published(t, GoldenRunSchema)
	deviating := func(r *Run) { r.Checks[0].Value.Value = 6000 }
	for name, change := range map[string]func(*GoldenRun){
		"registration":      func(g *GoldenRun) { g.Golden = "7" },
		"no answer":         func(g *GoldenRun) { g.Answer = "" },
		"fine and deviates": func(g *GoldenRun) { g.Answer = AsExpected },
		"deviates nowhere":  func(g *GoldenRun) { g.Deviations = nil },
		"says nothing":      func(g *GoldenRun) { g.Deviations[0] = "" },
		"broken run":        func(g *GoldenRun) { g.Run.Verdict = "well" },
		"unproven":          func(g *GoldenRun) { g.Run.Bench.Unproven, g.Run.Schema = "x", RunSchema2 },
	} {
		g := judged(deviating)
		change(&g)
		_, err := g.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(goldenRunDocument{GoldenRunSchema, g})
		require.NoError(t, err)
		require.Error(t, accepts(t, schema, data), name)
	}
}

func TestBrokenRetirementsAreRefusedTwice(t *testing.T) {
	schema := published(t, GoldenRetirementSchema)
	for name, change := range map[string]func(*GoldenRetirement){
		"registration": func(g *GoldenRetirement) { g.Golden = "" },
		"serial":       func(g *GoldenRetirement) { g.Serial = "" },
		"bench":        func(g *GoldenRetirement) { g.Bench.Program = "" },
		"made":         func(g *GoldenRetirement) { g.Made = "" },
		"nobody":       func(g *GoldenRetirement) { g.By = "" },
		"no reason":    func(g *GoldenRetirement) { g.Reason = "" },
	} {
		g := sampleRetirement()
		change(&g)
		_, err := g.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(goldenRetirementDocument{GoldenRetirementSchema, g})
		require.NoError(t, err)
		require.Error(t, accepts(t, schema, data), name)
	}
}

// An opening on a bench that is not proven is of the second version, and
// nothing else is.
func TestUnprovenIsOfTheSecondVersion(t *testing.T) {
	o := sampleOpening()
	o.Bench.Unproven = "the golden board is with the supplier"
	data, err := EncodeOpening(o)
	require.NoError(t, err)
	require.NoError(t, accepts(t, published(t, OpeningSchema2), data))
	require.Error(t, accepts(t, published(t, OpeningSchema), data))
	again, err := DecodeOpening(data)
	require.NoError(t, err)
	require.Equal(t, o, again)
	plain, err := EncodeOpening(sampleOpening())
	require.NoError(t, err)
	require.Error(t, accepts(t, published(t, OpeningSchema2), plain))

	r := sampleRun()
	r.Opening = o
	_, err = EncodeRun(r)
	require.ErrorContains(t, err, "must be")
	var f Fold
	require.NoError(t, f.Apply(Opened{o}))
	r.Schema = f.Run().Schema
	data, err = EncodeRun(r)
	require.NoError(t, err)
	require.NoError(t, accepts(t, published(t, RunSchema2), data))
	require.Error(t, accepts(t, published(t, RunSchema), data))
	got, err := DecodeRun(data)
	require.NoError(t, err)
	require.Equal(t, r, got)
}
