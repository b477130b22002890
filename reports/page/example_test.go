package page_test

import (
	"fmt"
	"strings"

	"sinkproof/reports/page"
	"sinkproof/reports/record"
)

// A report is made of a record and of what the ledger knows of it.
func ExampleNewReport() {
	run := record.Run{
		Schema: record.RunSchema,
		Opening: record.Opening{
			Serial: "LMP-000017", Product: "bicycle lamp", Attempt: 1, Started: "2026-05-04T07:30:00Z",
			Bench: record.Bench{Name: "bench 3", Kind: record.Twin, Program: "0.1.0"},
		},
		Verdict: record.Fail, Bin: record.BinRework, Reason: "failed: Termination at CC2",
		Checks: []record.Check{{
			Name: "rd-cc2", Title: "Termination at CC2", Condition: "probe-cc2", Answer: record.Failed,
			Why:   "51 kΩ is above 5.61 kΩ",
			Value: &record.Value{Value: 51_000, Unit: "Ω", U: 120},
			Upper: &record.Limit{Value: 5610, Unit: "Ω", Source: "USB Type-C R2.5, Table 4-28", Acceptance: 5490},
		}},
	}
	report := page.NewReport(run, page.Proof{Hash: strings.Repeat("4e", 32), Seq: 2})
	fmt.Println(report.Verdict, "-", report.Bin)
	check := report.Groups[0].Checks[0]
	plain := strings.NewReplacer("\u00a0", " ")
	fmt.Println(plain.Replace(check.Title + ": " + check.Value + ", limit " + check.Limits + ", accepted " + check.Accepted))
	html, err := report.HTML()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(strings.Contains(string(html), "Termination at CC2"))
	// Output:
	// FAIL - Bin: rework
	// Termination at CC2: 51.00 kΩ ± 0.12 kΩ, limit ≤ 5.61 kΩ [1], accepted ≤ 5.49 kΩ
	// true
}
