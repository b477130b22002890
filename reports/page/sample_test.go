package page

import (
	"fmt"
	"math"
	"strings"

	"sinkproof/reports/record"
)

func proof() Proof {
	return Proof{
		Hash: strings.Repeat("4e5f", 16), Head: strings.Repeat("a0b1", 16), Seq: 48,
		Key: strings.Repeat("9c", 16),
	}
}

func opening() record.Opening {
	return record.Opening{
		ID: "01890a5d-ac96-774b-bcce-b302099a8057", Serial: "LMP-000017", Product: "bicycle lamp L1",
		Lot: "2026-19", Supplier: "board house A", Attempt: 2, AllowedBy: "E. Noether",
		Bench: record.Bench{Name: "bench 3", Kind: record.Hardware, Program: "0.1.0", Computer: "c-17", Calibration: "cal-2026-05"},
		Nest:  1, Started: "2026-05-04T07:30:00.25Z",
		Files: []record.File{
			{Role: record.RoleWiring, Name: "shipped rig", Version: "1", SHA256: strings.Repeat("0a", 32)},
			{Role: record.RoleProduct, Name: "lamp", SHA256: strings.Repeat("1b", 32)},
		},
		Decision: record.Decision{Rule: record.Guarded, Guard: 1},
	}
}

// The sources of the sample's limits.
const (
	sourceRd     = "USB Type-C R2.5, Table 4-28: Rd ± 10 %"
	sourceSafe   = "USB Type-C R2.1: vSafe0V"
	sourceAttach = "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON"
)

func ohms(v float64) *record.Value { return &record.Value{Value: v, Unit: "Ω", U: 14.5} }

func bound(v, accept float64, unit, source string) *record.Limit {
	return &record.Limit{Value: v, Unit: unit, Source: source, Acceptance: accept}
}

// richRun has one of everything: a cause with consequences, checks that were
// not asked, a control, notes, findings, a waveform with level and marks.
func richRun() record.Run {
	probability := 0.82
	low, high := bound(4590, 4604.5, "Ω", sourceRd), bound(5610, 5595.5, "Ω", sourceRd)
	return record.Run{
		Schema: record.RunSchema, Opening: opening(), DurationUS: 18_734_112,
		Verdict: record.Fail, Reason: "failed: Termination at CC2", Bin: record.BinRework,
		Checks: []record.Check{
			{Name: "bulk", Title: "VBUS capacitance", Answer: record.Passed, Condition: "probe-vbus",
				Value: &record.Value{Value: 5.78e-6, Unit: "F", U: 4e-8},
				Lower: bound(3.008e-6, 3.047e-6, "F", "product file"), Upper: bound(1e-5, 9.96e-6, "F", "USB Type-C R2.5, Table 4-3")},
			{Name: "rd-cc1", Title: "Termination at CC1", Answer: record.Passed, Condition: "probe-cc1",
				Value: ohms(5103.25), Lower: low, Upper: high, AtUS: 812_000},
			{Name: "rd-cc2", Title: "Termination at CC2", Answer: record.Failed, Condition: "probe-cc2",
				Why: "at least 1 MΩ is above 5.61 kΩ", Rework: "fit R12 (5.1 kΩ)",
				Value: &record.Value{Value: 1e6, Unit: "Ω", Bound: record.AtLeast}, Lower: low, Upper: high},
			{Name: "cold", Title: "The supply stays cold", Answer: record.Passed, Control: true, Condition: "no-termination",
				Value: &record.Value{Value: 0.0016, Unit: "V", U: 0.0007}, Upper: bound(0.8, 0.7993, "V", sourceSafe)},
			{Name: "attach[flipped]", Title: "A C supply finds the unit (flipped)", Answer: record.Failed, Condition: "c-supply",
				Why:   "at least 1.301 s is above 1.15 s; follows from the fail of rd-cc2",
				Value: &record.Value{Value: 1.30099, Unit: "s", Bound: record.AtLeast}, Upper: bound(1.15, 1.15, "s", sourceAttach)},
			{Name: "current[flipped]", Title: "Charge current from a C supply (flipped)", Answer: record.Unanswered,
				Condition: "c-supply", Why: "not asked: attach[flipped] has not passed"},
			{Name: "marked", Title: "Through a marked cable", Answer: record.Unanswered, Condition: "c-supply-marked",
				Why: "vbus: the converter did not answer"},
			{Name: "over-voltage", Title: "VBUS stays below 5.5 V", Answer: record.Passed},
		},
		Waveforms: []record.Waveform{{
			Name: "attach", Title: "VBUS after attach", Channel: "vbus", Unit: "V", StartUS: 3_000_000, IntervalUS: 1163,
			AtUS: []int64{3_000_000, 3_001_163, 3_002_330}, Samples: []float64{0.02, 3.25, 5.01},
			Thresholds: []record.Threshold{{Label: "vSafe5V low", Value: 4.75}},
			Marks:      []record.Mark{{Label: "attached", AtUS: 3_001_163}, {Label: "plugged", AtUS: 2_000_000}},
		}},
		NotObservable: []record.NotObservable{
			{Check: "vbat-end", Title: "End of charge", Why: "the cell is sealed in"},
			{Check: "clamp", Title: "Clamp at CC1", Why: "its terminations are in no controller"},
			{Check: "vbat-low", Why: "the cell is sealed in"},
		},
		Notes: []record.Note{
			{AtUS: 900_000, Kind: "re-seat", Text: "the operator seated the unit again"},
			{AtUS: 950_000, Kind: "guard", Text: "VBUS held at 1.79 V"},
			{AtUS: 990_000, Kind: "guard", Text: "VBUS held at 1.80 V"},
		},
		Suspects: []record.Finding{
			{Title: "Rd at CC2 not fitted", Probability: &probability, Rework: "fit R12 (5.1 kΩ)",
				For: []string{"rd-cc2", "attach[flipped]", "not-of-this-run"}, Against: []string{"rd-cc1"}},
		},
	}
}

// longRun has the size of a run of the complete scenario: 58 checks under
// twelve sources, 16 waveforms of 970 samples.
func longRun() record.Run {
	r := richRun()
	r.Checks, r.Waveforms = nil, nil
	conditions := []string{"probe-vbus", "probe-cc1", "probe-cc2", "legacy-a", "no-termination", "stand-in", "c-supply", "detached"}
	for i := range 58 {
		c := record.Check{
			Name: fmt.Sprintf("current[%d]", i), Condition: conditions[i*len(conditions)/58], Answer: record.Passed,
			Title: fmt.Sprintf("Charge current from a C supply (round %d, flipped)", i),
			Value: &record.Value{Value: 0.3953, Unit: "A", U: 0.00066},
			Lower: bound(0.3667, 0.3674, "A", fmt.Sprintf("product file %d: the programmed current with its tolerance, 3.5 %% beyond, and 4 mA for charger and indicator", i%12)),
		}
		c.Upper = bound(0.4387, 0.438, "A", c.Lower.Source)
		if i == 4 {
			c.Answer, c.Why = record.Failed, "395.3 mA ± 0.7 mA is below 367.4 mA"
		}
		if i%6 == 5 {
			c.Answer, c.Why = record.Failed, "395.3 mA ± 0.7 mA is below 367.4 mA; follows from the fail of current[4]"
		}
		r.Checks = append(r.Checks, c)
	}
	for i := range 16 {
		r.Waveforms = append(r.Waveforms, attach(i))
	}
	return r
}

// attach is 970 samples of a supply that comes on.
func attach(i int) record.Waveform {
	w := record.Waveform{
		Name: fmt.Sprintf("on %d", i), Title: fmt.Sprintf("VBUS from a C supply (round %d)", i), Channel: "vbus", Unit: "V",
		StartUS: int64(i) * 4_000_000, IntervalUS: 1162,
		Thresholds: []record.Threshold{{Label: "lowest at a sink", Value: 4}, {Label: "vSafe0V", Value: 0.8}},
	}
	w.Marks = []record.Mark{{Label: "reached", AtUS: w.StartUS + 300_000}}
	for j := range 970 {
		v := 0.002 * math.Sin(float64(i+j))
		if j > 258 {
			v += 5.08 - 0.4*math.Exp(-float64(j-258)/20)
		}
		w.Samples = append(w.Samples, v)
	}
	return w
}
