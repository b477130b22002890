package page

import (
	"fmt"
	"strings"

	"sinkproof/reports/record"
)

func identity(run record.Run) []Row {
	return filled([]Row{
		{"Serial", run.Serial},
		{"Product", run.Product},
		{"Lot", run.Lot},
		{"Supplier", run.Supplier},
		{"Attempt", attemptText(run.Attempt)},
		{"Allowed by", run.AllowedBy},
		{"Started", startText(run.Started)},
		{"Duration", offsetText(run.DurationUS)},
		{"Bench", benchText(run)},
		{"Decision rule", decisionText(run.Decision)},
	})
}

// filled drops the rows without text.
func filled(rows []Row) []Row {
	kept := rows[:0]
	for _, r := range rows {
		if r.Text != "" {
			kept = append(kept, r)
		}
	}
	return kept
}

func attemptText(n int) string {
	if n <= 1 {
		return "first"
	}
	return fmt.Sprintf("retest (attempt %d); the earlier answer stays in the ledger", n)
}

func benchText(run record.Run) string {
	if run.Nest > 0 {
		return fmt.Sprintf("%s, nest %d", run.Bench.Name, run.Nest)
	}
	return run.Bench.Name
}

func decisionText(d record.Decision) string {
	if d.Rule == record.Guarded {
		return fmt.Sprintf("guarded: limits drawn in by %g U (JCGM 106, 8.3)", d.Guard)
	}
	return "simple acceptance (JCGM 106, 8.2)"
}

func evidence(run record.Run, proof Proof) []Row {
	rows := []Row{
		{"Record", run.ID},
		{"Record hash", grouped(proof.Hash)},
		{"Entry", fmt.Sprintf("%d of this bench's chain", proof.Seq)},
		{"Chain head", grouped(proof.Head)},
		{"Signing key", grouped(proof.Key)},
		{"Program", "sinkproof " + run.Bench.Program},
		{"Computer", run.Bench.Computer},
		{"Calibration", calibrationText(run.Bench.Calibration, run.Bench.Uncalibrated)},
	}
	for _, f := range run.Files {
		rows = append(rows, Row{
			capital(f.Role) + " file",
			strings.TrimSpace(f.Name+" "+f.Version) + ", SHA-256 " + grouped(f.SHA256),
		})
	}
	return filled(rows)
}

func calibrationText(id, without string) string {
	if without != "" {
		return "run without one in force: " + without + "; uncertainties from the tolerances of the wiring file"
	}
	if id == "" {
		return "none in force: uncertainties from the tolerances of the wiring file"
	}
	return id
}
