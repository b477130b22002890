package record

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheFirstAnswerThatCanBeTrustedStands(t *testing.T) {
	const run = "01890a5d-ac96-774b-bcce-b302099a8061"
	fail := LotRun{Run: run, Verdict: Fail, Failed: []string{"rd-cc1"}}
	pass, none := LotRun{Run: run, Verdict: Pass}, LotRun{Run: run, Verdict: None}
	doubtful := fail
	doubtful.Suspect = true
	d := sampleDraw()
	d.Plan.Accept = 0
	d.Drawn = []string{"L-4", "L-1"}
	good := []LotRun{pass}
	for name, c := range map[string]struct {
		first   []LotRun
		second  []LotRun
		outcome LotOutcome
		says    string
	}{
		"nothing tested":                       {nil, nil, Undecided, "no answer yet, 0 may be bad; 2 drawn units not tested yet"},
		"one tested":                           {good, nil, Undecided, "1 drawn units not tested yet"},
		"both good":                            {good, good, Accepted, "0 of 2 tested units bad, 0 may be"},
		"one bad is too many at once":          {[]LotRun{fail}, nil, Rejected, "1 of 1 tested units bad, 0 may be: L-4"},
		"a retest does not hide a fail":        {[]LotRun{fail, pass, pass}, good, Rejected, ": L-4"},
		"a later fail does not hide a pass":    {[]LotRun{pass, fail}, good, Accepted, "0 of 2"},
		"a fault of the bench is none of it":   {[]LotRun{none}, good, Undecided, "1 to test again, since the bench could not tell"},
		"and asks for a retest that counts":    {[]LotRun{none, fail}, good, Rejected, ": L-4"},
		"a bench in doubt convicts nobody":     {[]LotRun{doubtful}, good, Undecided, "1 to test again"},
		"its retest does":                      {[]LotRun{doubtful, fail}, good, Rejected, ": L-4"},
		"a bench fault between two is nothing": {[]LotRun{none, none, pass}, good, Accepted, "0 of 2"},
	} {
		t.Run(name, func(t *testing.T) {
			s := d.Standing(map[string][]LotRun{"L-4": c.first, "L-1": c.second, "L-3": {fail}})
			require.Equal(t, c.outcome, s.Outcome())
			require.Contains(t, s.Reason(), c.says)
			require.Len(t, s.Units, 2, "only the drawn units count")
		})
	}
}

// What the score of the switching rules asks: would it have passed one limit
// tighter.
func TestTighter(t *testing.T) {
	runs := sampleRuns()
	require.True(t, sampleDraw().Standing(runs).Judgement().Tighter)
	runs["L-5"][0].Verdict, runs["L-5"][0].Failed = Fail, []string{"x"}
	j := sampleDraw().Standing(runs).Judgement()
	require.Equal(t, Accepted, j.Outcome)
	require.False(t, j.Tighter)
	d := sampleDraw()
	d.Plan.TighterAccept = nil
	require.False(t, d.Standing(sampleRuns()).Judgement().Tighter)
}

func TestTheKeyOfADrawFitsOnePlaceOfTheChain(t *testing.T) {
	d := sampleDraw()
	require.Len(t, d.Key(Genesis), 32)
	require.NotEqual(t, d.Key(Genesis), d.Key(strings.Repeat("1", 64)))
	other := d
	other.Seed = strings.Repeat("0b", 32)
	require.NotEqual(t, d.Key(Genesis), other.Key(Genesis))
	other.Seed = "x"
	require.Nil(t, other.Key(Genesis))
}

func TestBrokenDrawsAreRefusedTwice(t *testing.T) {
	schema := published(t, LotDrawSchema)
	minus := -1
	for name, c := range map[string]struct {
		change func(*LotDraw)
		beyond bool
	}{
		"id":                    {func(d *LotDraw) { d.ID = "7" }, false},
		"bench":                 {func(d *LotDraw) { d.Bench.Name = "" }, false},
		"made":                  {func(d *LotDraw) { d.Made = "today" }, false},
		"nobody":                {func(d *LotDraw) { d.By = "" }, false},
		"lot":                   {func(d *LotDraw) { d.Lot = "" }, false},
		"supplier":              {func(d *LotDraw) { d.Supplier = "" }, false},
		"product":               {func(d *LotDraw) { d.Product = "" }, false},
		"level":                 {func(d *LotDraw) { d.Plan.Level = "" }, false},
		"limit":                 {func(d *LotDraw) { d.Plan.AQL = 0 }, false},
		"severity":              {func(d *LotDraw) { d.Plan.Severity = "discontinued" }, false},
		"letter":                {func(d *LotDraw) { d.Plan.PlanLetter = "I i" }, false},
		"accept":                {func(d *LotDraw) { d.Plan.Accept = -1 }, false},
		"tighter":               {func(d *LotDraw) { d.Plan.TighterAccept = &minus }, false},
		"seed":                  {func(d *LotDraw) { d.Seed = "17" }, false},
		"one unit":              {func(d *LotDraw) { d.Serials, d.Drawn = d.Serials[:1], d.Serials[:1] }, false},
		"none drawn":            {func(d *LotDraw) { d.Drawn = nil }, false},
		"serial":                {func(d *LotDraw) { d.Serials[1] = "ä" }, false},
		"twice in the lot":      {func(d *LotDraw) { d.Serials[1] = d.Serials[0] }, true},
		"drawn twice":           {func(d *LotDraw) { d.Drawn[1] = d.Drawn[0] }, true},
		"drawn from elsewhere":  {func(d *LotDraw) { d.Drawn[1] = "L-77" }, true},
		"proven bench expected": {func(d *LotDraw) { d.Bench.Unproven = "x" }, false},
	} {
		d := sampleDraw()
		c.change(&d)
		_, err := d.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(lotDrawDocument{LotDrawSchema, d})
		require.NoError(t, err)
		require.Equal(t, c.beyond, accepts(t, schema, data) == nil, name)
	}
}

func TestBrokenLotJudgementsAreRefusedTwice(t *testing.T) {
	schema := published(t, LotJudgementSchema)
	for name, c := range map[string]struct {
		change func(*LotJudgement)
		beyond bool
	}{
		"draw":                 {func(j *LotJudgement) { j.Draw = "7" }, false},
		"lot":                  {func(j *LotJudgement) { j.Lot = "" }, false},
		"nobody":               {func(j *LotJudgement) { j.By = "" }, false},
		"undecided":            {func(j *LotJudgement) { j.Outcome = Undecided }, false},
		"reason":               {func(j *LotJudgement) { j.Reason = "" }, false},
		"rejected and tighter": {func(j *LotJudgement) { j.Outcome = Rejected }, false},
		"abandoned and steady": {func(j *LotJudgement) { j.Outcome, j.Tighter = Abandoned, false }, false},
		"no unit":              {func(j *LotJudgement) { j.Units = nil }, false},
		"serial":               {func(j *LotJudgement) { j.Units[0].Serial = "" }, false},
		"verdict":              {func(j *LotJudgement) { j.Units[0].Runs[0].Verdict = "well" }, false},
		"run":                  {func(j *LotJudgement) { j.Units[1].Runs[0].Run = "7" }, false},
		"failed without names": {func(j *LotJudgement) { j.Units[0].Failed = nil }, false},
		"passed with names":    {func(j *LotJudgement) { j.Units[2].Failed = []string{"x"} }, false},
		"unnamed check":        {func(j *LotJudgement) { j.Units[0].Failed = []string{""} }, false},
		"answer of no run":     {func(j *LotJudgement) { j.Units[2].Runs = nil }, false},
		"the retest's answer":  {func(j *LotJudgement) { j.Units[0].Answer, j.Units[0].Failed, j.Bad = Pass, nil, 0 }, true},
		"miscounted":           {func(j *LotJudgement) { j.Bad = 0 }, true},
		"twice":                {func(j *LotJudgement) { j.Units[2].Serial = "L-1" }, true},
		"runs in disorder":     {func(j *LotJudgement) { j.Units[0].Runs[1].Seq = 2 }, true},
	} {
		j := sampleLotJudgement()
		c.change(&j)
		_, err := j.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(lotJudgementDocument{LotJudgementSchema, j})
		require.NoError(t, err)
		require.Equal(t, c.beyond, accepts(t, schema, data) == nil, name)
	}
}

func TestBrokenResumptionsAreRefusedTwice(t *testing.T) {
	schema := published(t, SupplierResumedSchema)
	for name, change := range map[string]func(*SupplierResumption){
		"supplier": func(r *SupplierResumption) { r.Supplier = "" },
		"product":  func(r *SupplierResumption) { r.Product = "" },
		"bench":    func(r *SupplierResumption) { r.Bench.Program = "" },
		"made":     func(r *SupplierResumption) { r.Made = "" },
		"nobody":   func(r *SupplierResumption) { r.By = "" },
		"reason":   func(r *SupplierResumption) { r.Reason = "" },
	} {
		r := sampleResumption()
		change(&r)
		_, err := r.encode()
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(supplierResumptionDocument{SupplierResumedSchema, r})
		require.NoError(t, err)
		require.Error(t, accepts(t, schema, data), name)
	}
}
