package record

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
)

// published compiles the published schema of a version with an independent
// validator.
func published(t testing.TB, version string) *jsonschema.Schema {
	t.Helper()
	compiler := jsonschema.NewCompiler()
	compiler.AssertFormat()
	ids := map[string]string{}
	for _, v := range SchemaVersions() {
		text, err := Schema(v)
		require.NoError(t, err)
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		require.NoError(t, err)
		ids[v] = doc.(map[string]any)["$id"].(string)
		require.NoError(t, compiler.AddResource(ids[v], doc))
	}
	schema, err := compiler.Compile(ids[version])
	require.NoError(t, err)
	return schema
}

// accepts returns the independent validator's complaint.
func accepts(t testing.TB, schema *jsonschema.Schema, data []byte) error {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	require.NoError(t, err)
	return schema.Validate(doc)
}

func TestSchemasAcceptWhatIsWritten(t *testing.T) {
	for i, data := range sampleChain(t) {
		require.NoError(t, accepts(t, published(t, EntrySchema), data), "entry %d", i+1)
	}
	schema := published(t, RunSchema)
	rapid.Check(t, func(rt *rapid.T) {
		data, err := EncodeRun(drawRun(rt))
		require.NoError(rt, err)
		require.NoError(rt, accepts(t, schema, data))
	})
}

func TestSchemaOfAnUnknownVersion(t *testing.T) {
	_, err := Schema("sinkproof-run/0")
	require.ErrorIs(t, err, ErrSchema)
}

// broken lists runs that break one rule each. Where the schema cannot say it,
// because the rule is between members, beyond is true.
func broken() map[string]struct {
	change func(*Run)
	says   string
	beyond bool
} {
	type broke = struct {
		change func(*Run)
		says   string
		beyond bool
	}
	return map[string]broke{
		"other schema":           {func(r *Run) { r.Schema = "x" }, "schema is", false},
		"negative duration":      {func(r *Run) { r.DurationUS = -1 }, "duration is negative", false},
		"serial with end space":  {func(r *Run) { r.Serial = "A " }, "no space first or last", false},
		"serial not ASCII":       {func(r *Run) { r.Serial = "Ä1" }, "printable ASCII", false},
		"serial too long":        {func(r *Run) { r.Serial = strings.Repeat("x", 65) }, "1 to 64", false},
		"no serial":              {func(r *Run) { r.Serial = "" }, "1 to 64", false},
		"id of version 4":        {func(r *Run) { r.ID = "01890a5d-ac96-474b-bcce-b302099a8057" }, "UUIDv7", false},
		"no product":             {func(r *Run) { r.Product = "" }, "product is missing", false},
		"attempt 0":              {func(r *Run) { r.Attempt = 0 }, "attempt is 0", false},
		"negative nest":          {func(r *Run) { r.Nest = -1 }, "nest is -1", false},
		"local time":             {func(r *Run) { r.Started = "2026-05-04T07:30:00+02:00" }, "RFC 3339 in UTC", false},
		"month 13":               {func(r *Run) { r.Started = "2026-13-04T07:30:00Z" }, "RFC 3339 in UTC", false},
		"nanoseconds":            {func(r *Run) { r.Started = "2026-05-04T07:30:00.1234567Z" }, "RFC 3339 in UTC", false},
		"bench without name":     {func(r *Run) { r.Bench.Name = "" }, "bench name", false},
		"bench of another kind":  {func(r *Run) { r.Bench.Kind = "toy" }, "must be twin or hardware", false},
		"no program":             {func(r *Run) { r.Bench.Program = "" }, "program version", false},
		"no files":               {func(r *Run) { r.Files = nil }, "files are missing", false},
		"file without name":      {func(r *Run) { r.Files[0].Name = "" }, "name is missing", false},
		"file of another role":   {func(r *Run) { r.Files[0].Role = "log" }, "role is", false},
		"hash in capitals":       {func(r *Run) { r.Files[0].SHA256 = strings.Repeat("AB", 32) }, "lower-case hex", false},
		"guard with simple rule": {func(r *Run) { r.Decision.Rule = Simple }, "simple goes with 0", false},
		"guarded without guard":  {func(r *Run) { r.Decision.Guard = 0 }, "guarded with more than 0", false},
		"no verdict":             {func(r *Run) { r.Verdict = "" }, "verdict is", false},
		"passed with a fail":     {func(r *Run) { r.Verdict, r.Bin, r.Fault = Pass, BinPass, nil }, "a check failed", false},
		"failed in bin pass":     {func(r *Run) { r.Bin = BinPass }, "bin is", false},
		"failed without a fail":  {func(r *Run) { r.Checks = r.Checks[2:] }, "no check failed", false},
		"none without a reason":  {func(r *Run) { r.Verdict, r.Reason = None, "" }, "the reason is missing", false},
		"none in bin pass":       {func(r *Run) { r.Verdict, r.Bin = None, BinPass }, "bin is", false},
		"passed with no check": {func(r *Run) {
			r.Verdict, r.Bin, r.Fault, r.Checks = Pass, BinPass, nil, nil
		}, "no check was answered", false},
		"passed unanswered": {func(r *Run) {
			r.Verdict, r.Bin, r.Fault = Pass, BinPass, nil
			r.Checks = append(r.Checks[:1], r.Checks[2])
		}, "not answered", false},
		"passed on a failed bench": {func(r *Run) {
			r.Verdict, r.Bin = Pass, BinPass
			r.Checks = r.Checks[:1]
		}, "the bench failed", false},
		"passed in bin rework": {func(r *Run) {
			r.Verdict, r.Fault = Pass, nil
			r.Checks = r.Checks[:1]
		}, "must be pass", false},
		"check without title":      {func(r *Run) { r.Checks[0].Title = "" }, "name or title", false},
		"check answered maybe":     {func(r *Run) { r.Checks[0].Answer = "maybe" }, "answer is", false},
		"fail without cause":       {func(r *Run) { r.Checks[1].Why = "" }, "no cause", false},
		"check before the start":   {func(r *Run) { r.Checks[0].AtUS = -1 }, "before the start", false},
		"unit with a prefix":       {func(r *Run) { r.Checks[0].Value.Unit = "kΩ" }, `"kΩ"`, false},
		"negative uncertainty":     {func(r *Run) { r.Checks[0].Value.U = -1 }, "uncertainty is negative", false},
		"unknown bound":            {func(r *Run) { r.Checks[0].Value.Bound = "about" }, "bound is", false},
		"limit without source":     {func(r *Run) { r.Checks[0].Lower.Source = "" }, "no source", false},
		"limit with unknown unit":  {func(r *Run) { r.Checks[0].Lower.Unit = "ohm" }, "ohm", false},
		"reading without channel":  {func(r *Run) { r.Readings[0].Channel = "" }, "channel is missing", false},
		"reading without name":     {func(r *Run) { r.Readings[1].Name = "" }, "name is missing", false},
		"reading before the start": {func(r *Run) { r.Readings[0].AtUS = -5 }, "before the start", false},
		"contribution unnamed":     {func(r *Run) { r.Readings[0].Contributions[0].Source = "" }, "contribution lacks", false},
		"contribution negative":    {func(r *Run) { r.Readings[0].Contributions[0].Std = -1 }, "contribution is negative", false},
		"waveform unnamed":         {func(r *Run) { r.Waveforms[0].Title = "" }, "title or channel", false},
		"waveform with odd unit":   {func(r *Run) { r.Waveforms[0].Unit = "" }, "unit", false},
		"waveform empty":           {func(r *Run) { r.Waveforms[0].Samples, r.Waveforms[0].AtUS = nil, nil }, "no sample", false},
		"waveform before start":    {func(r *Run) { r.Waveforms[0].StartUS = -1 }, "before the run", false},
		"waveform interval 0":      {func(r *Run) { r.Waveforms[0].IntervalUS = 0 }, "interval", false},
		"threshold unnamed":        {func(r *Run) { r.Waveforms[0].Thresholds[0].Label = "" }, "threshold", false},
		"mark unnamed":             {func(r *Run) { r.Waveforms[0].Marks[0].Label = "" }, "mark", false},
		"move without condition":   {func(r *Run) { r.Relays[0].Condition = "" }, "relay move", false},
		"unobservable, no cause":   {func(r *Run) { r.NotObservable[0].Why = "" }, "not observable", false},
		"note without text":        {func(r *Run) { r.Notes[0].Text = "" }, "note lacks", false},
		"fault says nothing":       {func(r *Run) { r.Fault.What = "" }, "says nothing", false},
		"finding without title":    {func(r *Run) { r.Suspects[0].Title = "" }, "finding has no title", false},
		"probability above 1":      {func(r *Run) { *r.Suspects[0].Probability = 1.01 }, "outside 0 to 1", false},
		"testimony without text": {func(r *Run) {
			r.Suspects[0].ReadingsFor = []Testimony{{Reading: "r-cc2"}}
		}, "without name or text", false},
		"testimony of no reading": {func(r *Run) {
			r.Suspects[0].ReadingsAgainst = []Testimony{{Text: "open"}}
		}, "without name or text", false},
		"diagnosis of nothing":         {func(r *Run) { r.Diagnosis = &Diagnosis{} }, "neither a dictionary nor a reason", false},
		"dictionary by name":           {func(r *Run) { r.Diagnosis = &Diagnosis{Dictionary: "faults"} }, "64 lower-case", false},
		"dictionary of minus one unit": {func(r *Run) { r.Diagnosis = &Diagnosis{Why: "x", Units: -1} }, "fewer than no units", false},
		"good above 1": {func(r *Run) {
			p := 1.5
			r.Diagnosis = &Diagnosis{Why: "x", Good: &p}
		}, "outside 0 to 1", false},
		"check answered twice":      {func(r *Run) { r.Checks[1].Name = r.Checks[0].Name }, "answered twice", true},
		"refers to nowhere":         {func(r *Run) { r.Checks[0].Readings[0] = "cc9" }, "no reading of this run", true},
		"limit in another unit":     {func(r *Run) { r.Checks[0].Upper.Unit = "V" }, "where the value is in", true},
		"instants for some samples": {func(r *Run) { r.Waveforms[0].AtUS = r.Waveforms[0].AtUS[:2] }, "2 instants for 3", true},
		"instants go back":          {func(r *Run) { r.Waveforms[0].AtUS[1] = 4_000_000 }, "back in time", true},
		"instants start elsewhere":  {func(r *Run) { r.Waveforms[0].StartUS = 1 }, "not the start", true},
	}
}

// The rules stand twice, in Go and in the published schema; a run that breaks
// one is refused by both.
func TestBrokenRunsAreRefusedTwice(t *testing.T) {
	schema := published(t, RunSchema)
	for name, c := range broken() {
		t.Run(name, func(t *testing.T) {
			r := sampleRun()
			c.change(&r)
			_, err := EncodeRun(r)
			require.ErrorIs(t, err, ErrInvalid)
			require.ErrorContains(t, err, c.says)

			data, err := json.Marshal(r)
			require.NoError(t, err)
			if c.beyond {
				require.NoError(t, accepts(t, schema, data))
			} else {
				require.Error(t, accepts(t, schema, data))
			}
		})
	}
}

func TestBrokenInterruptionsAreRefusedTwice(t *testing.T) {
	schema := published(t, InterruptionSchema)
	for name, change := range map[string]func(*Interruption){
		"serial": func(i *Interruption) { i.Serial = "" },
		"id":     func(i *Interruption) { i.ID = "7" },
		"hash":   func(i *Interruption) { i.Opened = "abc" },
		"reason": func(i *Interruption) { i.Reason = "" },
	} {
		i := sampleInterruption()
		change(&i)
		_, err := EncodeInterruption(i)
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(interruptionDocument{InterruptionSchema, i})
		require.NoError(t, err)
		require.Error(t, accepts(t, schema, data), name)
	}
}

// The patterns in Go and in the schema are the same texts.
func TestPatternsStandInTheSchema(t *testing.T) {
	text, err := Schema(OpeningSchema)
	require.NoError(t, err)
	for _, form := range []string{serialForm, idForm, hashForm, startedForm} {
		quoted, err := json.Marshal(form)
		require.NoError(t, err)
		require.Contains(t, string(text), string(quoted))
	}
}

// The units in Go are those in the schema, and each one is what the
// quantities print and parse.
func TestUnitsStandInTheSchema(t *testing.T) {
	text, err := Schema(RunSchema)
	require.NoError(t, err)
	var doc struct {
		Defs struct {
			Unit struct {
				Enum []string `json:"enum"`
			} `json:"unit"`
		} `json:"$defs"`
	}
	require.NoError(t, json.Unmarshal(text, &doc))
	var symbols []string
	for _, u := range units() {
		symbols = append(symbols, u.symbol)
		dim, err := Dimension(u.symbol)
		require.NoError(t, err)
		symbol, err := Unit(dim)
		require.NoError(t, err)
		require.Equal(t, u.symbol, symbol)
	}
	require.Equal(t, doc.Defs.Unit.Enum, symbols)
	_, err = Unit(quantity.Voltage + quantity.Voltage)
	require.ErrorIs(t, err, ErrInvalid)
	_, err = Dimension("kΩ")
	require.ErrorIs(t, err, ErrInvalid)
}
