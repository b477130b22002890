package record

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The numbers of RFC 8785, appendix B: bits of the double and its text.
func TestNumbersOfRFC8785(t *testing.T) {
	for _, c := range []struct {
		bits uint64
		want string
	}{
		{0x0000000000000000, "0"},
		{0x8000000000000000, "0"},
		{0x0000000000000001, "5e-324"},
		{0x8000000000000001, "-5e-324"},
		{0x7fefffffffffffff, "1.7976931348623157e+308"},
		{0xffefffffffffffff, "-1.7976931348623157e+308"},
		{0x4340000000000000, "9007199254740992"},
		{0xc340000000000000, "-9007199254740992"},
		{0x4430000000000000, "295147905179352830000"},
		{0x44b52d02c7e14af5, "9.999999999999997e+22"},
		{0x44b52d02c7e14af6, "1e+23"},
		{0x44b52d02c7e14af7, "1.0000000000000001e+23"},
		{0x444b1ae4d6e2ef4e, "999999999999999700000"},
		{0x444b1ae4d6e2ef4f, "999999999999999900000"},
		{0x444b1ae4d6e2ef50, "1e+21"},
		{0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
		{0x3eb0c6f7a0b5ed8d, "0.000001"},
		{0x41b3de4355555553, "333333333.3333332"},
		{0x41b3de4355555554, "333333333.33333325"},
		{0x41b3de4355555555, "333333333.3333333"},
		{0x41b3de4355555556, "333333333.3333334"},
		{0x41b3de4355555557, "333333333.33333343"},
		{0xbecbf647612f3696, "-0.0000033333333333333333"},
		{0x43143ff3c1cb0959, "1424953923781206.2"},
	} {
		got, err := canonical(struct {
			N float64 `json:"n"`
		}{math.Float64frombits(c.bits)})
		require.NoError(t, err)
		require.Equal(t, `{"n":`+c.want+`}`, string(got), "bits %016x", c.bits)
	}
	for _, bits := range []uint64{0x7fffffffffffffff, 0x7ff0000000000000, 0xfff0000000000000} {
		_, err := canonical(struct {
			N float64 `json:"n"`
		}{math.Float64frombits(bits)})
		require.ErrorIs(t, err, ErrNumber, "bits %016x", bits)
	}
}

// The structures of RFC 8785, 3.2.2, with the octets of 3.2.4.
func TestStructuresOfRFC8785(t *testing.T) {
	input := json.RawMessage(`{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}`)
	want, err := hex.DecodeString("7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273" +
		"223a5b3333333333333333332e333333333333332c31652b33302c342e352c302e3030322c31652d32375d2c22737472696e67223a22" +
		"e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d")
	require.NoError(t, err)
	got, err := canonical(input)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
}

// The order of names in RFC 8785, 3.2.3: by UTF-16 code units.
func TestOrderOfNamesOfRFC8785(t *testing.T) {
	got, err := canonical(json.RawMessage(`{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face",
  "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
}`))
	require.NoError(t, err)
	last := -1
	for _, name := range []string{
		"Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis", "Euro Sign",
		"Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh",
	} {
		at := strings.Index(string(got), name)
		require.Greater(t, at, last, name)
		last = at
	}
}

func TestDocumentsComeBackAsTheyWent(t *testing.T) {
	run, err := EncodeRun(sampleRun())
	require.NoError(t, err)
	gotRun, err := DecodeRun(run)
	require.NoError(t, err)
	require.Empty(t, cmp.Diff(sampleRun(), gotRun))

	opening, err := EncodeOpening(sampleOpening())
	require.NoError(t, err)
	gotOpening, err := DecodeOpening(opening)
	require.NoError(t, err)
	require.Empty(t, cmp.Diff(sampleOpening(), gotOpening))

	interruption, err := EncodeInterruption(sampleInterruption())
	require.NoError(t, err)
	gotInterruption, err := DecodeInterruption(interruption)
	require.NoError(t, err)
	require.Empty(t, cmp.Diff(sampleInterruption(), gotInterruption))
}

func TestUndefinedMembersAreAbsent(t *testing.T) {
	r := sampleRun()
	r.Opening.Lot, r.Opening.Supplier, r.Opening.Nest = "", "", 0
	r.Checks[1].Value.Bound, r.Fault, r.Notes, r.Waveforms = "", nil, nil, nil
	data, err := EncodeRun(r)
	require.NoError(t, err)
	for _, absent := range []string{"null", "lot", "supplier", "nest", "bound", "fault", "notes", "waveforms", `""`, "[]"} {
		require.NotContains(t, string(data), absent)
	}
	require.Contains(t, string(data), `"value":0`, "a reading of zero is a reading")
}

// What cannot be kept is refused before anything is signed, with the place.
func TestWhatJSONWouldLoseIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Run)
		cause  error
		place  string
	}{
		"NaN in a check":          {func(r *Run) { r.Checks[0].Value.Value = math.NaN() }, ErrNumber, "checks[0].value.value is NaN"},
		"infinite reading":        {func(r *Run) { r.Readings[1].Value.Value = math.Inf(1) }, ErrNumber, "readings[1].value is +Inf"},
		"infinite limit":          {func(r *Run) { r.Checks[0].Upper.Acceptance = math.Inf(1) }, ErrNumber, "checks[0].upper.acceptance"},
		"NaN among the samples":   {func(r *Run) { r.Waveforms[0].Samples[2] = math.NaN() }, ErrNumber, "waveforms[0].samples[2] is NaN"},
		"instant beyond 2^53":     {func(r *Run) { r.Notes[0].AtUS = 1 << 53 }, ErrNumber, "notes[0].at_us is 9007199254740992"},
		"reading at 2^62":         {func(r *Run) { r.Readings[0].AtUS = 1 << 62 }, ErrNumber, "readings[0].at_us is 4611686018427387904"},
		"infinite sensitivity":    {func(r *Run) { r.Readings[0].Contributions[1].Sensitivity = math.Inf(-1) }, ErrNumber, "contributions[1].sensitivity is -Inf"},
		"title that is not UTF-8": {func(r *Run) { r.Checks[0].Title = "a\xffb" }, ErrText, `checks[0].title is "a\xffb"`},
	} {
		t.Run(name, func(t *testing.T) {
			r := sampleRun()
			c.change(&r)
			_, err := EncodeRun(r)
			require.ErrorIs(t, err, c.cause)
			require.ErrorContains(t, err, c.place)
		})
	}
	edge := sampleRun()
	edge.DurationUS = 1<<53 - 1
	data, err := EncodeRun(edge)
	require.NoError(t, err)
	require.Contains(t, string(data), `"duration_us":9007199254740991`)
}

// Only one way of writing a document is read; anything else is a change.
func TestOtherFormsOfTheSameDocumentAreRefused(t *testing.T) {
	data, err := EncodeRun(sampleRun())
	require.NoError(t, err)
	text := string(data)
	for name, c := range map[string]struct {
		from, to string
		cause    error
	}{
		"space":                {`"attempt":1`, `"attempt": 1`, ErrForm},
		"number written else":  {`"attempt":1`, `"attempt":1.0`, ErrForm},
		"member in other case": {`"attempt":1`, `"Attempt":1`, ErrForm},
		"member twice":         {`"attempt":1`, `"attempt":1,"attempt":1`, ErrForm},
		"null for absent":      {`"attempt":1`, `"allowed_by":null,"attempt":1`, ErrForm},
		"unknown member":       {`"attempt":1`, `"attempt":1,"attitude":1`, ErrForm},
		"text for a number":    {`"attempt":1`, `"attempt":"1"`, ErrForm},
		"escaped letter":       {`"bench 3"`, `"\u0062ench 3"`, ErrForm},
		"rounded integer":      {`"attempt":1`, `"attempt":9007199254740993`, ErrNumber},
		"later schema":         {`sinkproof-run/1`, `sinkproof-run/2`, ErrSchema},
		"rule broken":          {`"verdict":"fail"`, `"verdict":"pass"`, ErrInvalid},
		"member gone":          {`"schema":"sinkproof-run/1"`, ``, ErrForm},
	} {
		t.Run(name, func(t *testing.T) {
			require.Contains(t, text, c.from)
			_, err := DecodeRun([]byte(strings.Replace(text, c.from, c.to, 1)))
			require.ErrorIs(t, err, c.cause)
		})
	}
	_, err = DecodeRun([]byte(strings.Replace(text, `"attempt":1`, `"attempt":1,"attitude":1`, 1)))
	require.ErrorContains(t, err, `unknown field "attitude"`, "the member is named")
	_, err = DecodeRun([]byte(text + "\n"))
	require.ErrorIs(t, err, ErrForm, "a line end after the document")
	_, err = DecodeOpening(data)
	require.ErrorIs(t, err, ErrSchema, "a run is no opening")
	_, err = DecodeInterruption(data)
	require.ErrorIs(t, err, ErrSchema, "a run is no interruption")
}

// drawRun draws a valid run with random content in every kind of member.
func drawRun(t *rapid.T) Run {
	r := sampleRun()
	finite := rapid.Float64()
	instant := rapid.Int64Range(0, maxInteger)
	text := rapid.StringN(1, 12, -1)
	unit := rapid.SampledFrom([]string{"V", "A", "Ω", "F", "s", "Hz", "K", "C", "W", "J", "S", "V/s", "1"})
	value := func(label string) Value {
		return Value{
			Value: finite.Draw(t, label), Unit: unit.Draw(t, label+" unit"),
			U:     math.Abs(finite.Draw(t, label+" u")),
			Bound: rapid.SampledFrom([]string{"", AtLeast, AtMost}).Draw(t, label+" bound"),
		}
	}
	r.Reason, r.DurationUS = text.Draw(t, "reason"), instant.Draw(t, "duration")
	r.Serial = rapid.StringMatching(serialForm).Draw(t, "serial")
	r.Readings = nil
	for i := range rapid.IntRange(0, 4).Draw(t, "readings") {
		r.Readings = append(r.Readings, Reading{
			Name: fmt.Sprint(i), Channel: text.Draw(t, "channel"), Value: value("reading"), AtUS: instant.Draw(t, "at"),
			Contributions: []Contribution{{text.Draw(t, "source"), math.Abs(finite.Draw(t, "std")), finite.Draw(t, "sens"),
				math.Abs(finite.Draw(t, "dof")), "normal"}},
		})
	}
	r.Checks = r.Checks[1:]
	r.Checks[0].Value, r.Checks[0].Lower, r.Checks[0].Upper = nil, nil, nil
	for i := range r.Readings {
		v := value("check")
		r.Checks = append(r.Checks, Check{
			Name: fmt.Sprint(i), Title: text.Draw(t, "title"), Answer: Failed, Why: text.Draw(t, "why"), Value: &v,
			Lower: &Limit{finite.Draw(t, "limit"), v.Unit, text.Draw(t, "source"), finite.Draw(t, "acceptance")},
			AtUS:  instant.Draw(t, "at"), Readings: []string{fmt.Sprint(i)},
		})
	}
	r.Suspects = append(r.Suspects, drawFinding(t))
	if rapid.Bool().Draw(t, "diagnosed") {
		good := rapid.Float64Range(0, 1).Draw(t, "good")
		r.Diagnosis = &Diagnosis{Dictionary: strings.Repeat("3d", 32), Units: rapid.IntRange(1, 1e6).Draw(t, "units"), Priors: text.Draw(t, "priors"), Good: &good}
	}
	r.Waveforms[0].AtUS = nil
	r.Waveforms[0].Samples = rapid.SliceOfN(finite, 1, 50).Draw(t, "samples")
	return r
}

func TestAnyValidRunComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRun(t)
		data, err := EncodeRun(r)
		require.NoError(t, err)
		again, err := DecodeRun(data)
		require.NoError(t, err)
		// The sign of a zero is not kept (RFC 8785, appendix B).
		require.Empty(t, cmp.Diff(r, again, cmpopts.EquateEmpty()))
	})
}

func FuzzDecodeRun(f *testing.F) {
	data, err := EncodeRun(sampleRun())
	require.NoError(f, err)
	f.Add(data)
	f.Add([]byte(`{"schema":"sinkproof-run/1"}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := DecodeRun(data)
		if err != nil {
			return
		}
		again, err := EncodeRun(r)
		require.NoError(t, err)
		require.Equal(t, string(data), string(again), "what is read is what would be written")
	})
}
