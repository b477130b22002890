package record

import (
	"bytes"
	"crypto/ed25519"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// sampleKey is a key from a fixed seed, the 32 bytes 0, 1, 2 ... 31.
func sampleKey(t testing.TB) ed25519.PrivateKey {
	t.Helper()
	seed := make([]byte, 32)
	for i := range seed {
		seed[i] = byte(i)
	}
	key, err := GenerateKey(bytes.NewReader(seed))
	require.NoError(t, err)
	return key
}

func sampleOpening() Opening {
	return Opening{
		ID: "01890a5d-ac96-774b-bcce-b302099a8057", Serial: "LMP-000017", Product: "bicycle lamp L1",
		Lot: "2026-19", Supplier: "board house A", Attempt: 1,
		Bench:   Bench{Name: "bench 3", Kind: Twin, Program: "0.1.0", Computer: "c-17", Calibration: "cal-2026-05"},
		Nest:    1,
		Started: "2026-05-04T07:30:00.25Z",
		Files: []File{
			{RoleWiring, "shipped rig", "1", strings.Repeat("0a", 32)},
			{RoleProduct, "lamp", "3", strings.Repeat("1b", 32)},
			{RoleScenario, "charge path", "2", strings.Repeat("2c", 32)},
		},
		Decision: Decision{Guarded, 1},
	}
}

// sampleRun is a run that uses every member of the document.
func sampleRun() Run {
	probability := 0.82
	return Run{
		Schema: RunSchema, Opening: sampleOpening(), DurationUS: 18_734_112,
		Verdict: Fail, Reason: "Rd at CC2 is missing", Bin: BinRework,
		Checks: []Check{
			{
				Name: "rd-cc1", Title: "Termination at CC1", Answer: Passed, Condition: "probe-cc1",
				Value:    &Value{Value: 5103.25, Unit: "Ω", U: 14.5},
				Lower:    &Limit{4590, "Ω", "USB Type-C R2.5, table 4-28", 4604.5},
				Upper:    &Limit{5610, "Ω", "USB Type-C R2.5, table 4-28", 5595.5},
				AtUS:     812_000,
				Readings: []string{"cc1 high", "cc1 low"},
			},
			{
				Name: "rd-cc2", Title: "Termination at CC2", Answer: Failed, Condition: "probe-cc2",
				Why: "the pin is open: more than 1 MΩ", Rework: "fit R12 (5.1 kΩ)",
				Value: &Value{Value: 1e6, Unit: "Ω", Bound: AtLeast},
				Upper: &Limit{5610, "Ω", "USB Type-C R2.5, table 4-28", 5595.5}, AtUS: 1_204_000,
			},
			{
				Name: "cold", Title: "Supply stays cold <without> Rd & pull-down", Answer: Unanswered, Control: true,
				Condition: "no-termination", Why: "VBUS was not yet empty", AtUS: 2_000_000,
			},
		},
		Readings: []Reading{
			{
				Name: "cc1 high", Channel: "cc1", Condition: "probe-cc1", Value: Value{Value: 0.4139, Unit: "V", U: 0.0006},
				AtUS: 805_112, Contributions: []Contribution{
					{"adc1 gain", 0.0005, 0.4139, 0, "uniform"},
					{"adc1 repeatability", 2.5e-5, -1, 9, "t"},
				},
			},
			{Name: "cc1 low", Channel: "cc1", Value: Value{Value: 0, Unit: "V"}, AtUS: 806_000},
		},
		Relays: []RelayMove{
			{AtUS: 0, Condition: "isolated"},
			{AtUS: 700_000, Condition: "probe-cc1", On: []string{"k3"}, Off: []string{"k1"}, Coils: []string{"k3"}},
		},
		Waveforms: []Waveform{{
			Name: "attach", Title: "VBUS after attach", Channel: "vbus", Unit: "V", StartUS: 3_000_000, IntervalUS: 1163,
			AtUS: []int64{3_000_000, 3_001_163, 3_002_330}, Samples: []float64{0.02, 3.25, 5.01},
			Thresholds: []Threshold{{"vSafe5V low", 4.75}}, Marks: []Mark{{"attached", 3_001_163}},
		}},
		NotObservable: []NotObservable{{"vbat-end", "End of charge", "the cell is sealed in"}},
		Notes:         []Note{{900_000, "re-seat", "the operator seated the unit again"}},
		Fault:         &BenchFault{2_100_000, "bleeder: VBUS 1.2 V after 500 ms", "check R40 and K9"},
		Suspects: []Finding{
			{Title: "Rd at CC2 not fitted", Probability: &probability, Rework: "fit R12 (5.1 kΩ)", For: []string{"rd-cc2"}, Against: []string{"rd-cc1"}},
			{Title: "cold joint at the receptacle"},
		},
	}
}

func sampleInterruption() Interruption {
	return Interruption{
		ID: "01890a5d-ac96-774b-bcce-b302099a8058", Serial: "LMP-000018",
		Opened: strings.Repeat("3d", 32), Reason: "power went away",
	}
}

// sampleChain seals an opening, its record, a second opening, and its
// interruption.
func sampleChain(t testing.TB) [][]byte {
	t.Helper()
	key := sampleKey(t)
	second := sampleOpening()
	second.ID, second.Serial = sampleInterruption().ID, sampleInterruption().Serial
	var prev *Entry
	var chain [][]byte
	for _, doc := range []Document{sampleOpening(), sampleRun(), second, sampleInterruption()} {
		if i, ok := doc.(Interruption); ok {
			i.Opened = prev.Hash
			doc = i
		}
		e, err := Seal(prev, doc, key)
		require.NoError(t, err)
		chain = append(chain, e.Bytes())
		prev = &e
	}
	return chain
}

// largeRun has the size of a run of a full scenario: 40 checks, 160 readings
// with six contributions each, ten waveforms of 800 samples.
func largeRun() Run {
	r := sampleRun()
	r.Checks, r.Readings, r.Waveforms = nil, nil, nil
	for i := range 160 {
		reading := Reading{
			Name: fmt.Sprintf("reading %d", i), Channel: "vbus", Condition: "c-supply",
			Value: Value{Value: 5 + math.Sin(float64(i)), Unit: "V", U: 0.0061}, AtUS: int64(i) * 100_003,
		}
		for j := range 6 {
			reading.Contributions = append(reading.Contributions, Contribution{
				fmt.Sprintf("source %d", j), math.Sqrt(float64(j+1)) * 1e-4, -1, 0, "uniform"})
		}
		r.Readings = append(r.Readings, reading)
	}
	for i := range 40 {
		c := sampleRun().Checks[1]
		c.Name, c.Readings = fmt.Sprintf("check %d", i), []string{r.Readings[4*i].Name}
		r.Checks = append(r.Checks, c)
	}
	for i := range 10 {
		w := sampleRun().Waveforms[0]
		w.Name, w.AtUS, w.Samples = fmt.Sprintf("waveform %d", i), nil, nil
		for j := range 800 {
			w.Samples = append(w.Samples, 5*math.Exp(-float64(j)/300))
		}
		r.Waveforms = append(r.Waveforms, w)
	}
	return r
}
