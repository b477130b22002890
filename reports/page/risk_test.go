package page

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// Shares of the normal law beyond z: 0.158655 for 1, 0.00134990 for 3, 9.9e-10 for
// 6 (NIST/SEMATECH e-Handbook, 1.3.6.7.1).
func TestRiskStandsBesideEachCheck(t *testing.T) {
	upper := &record.Limit{Value: 5, Unit: "V", Source: "s", Acceptance: 5}
	at := func(v float64) record.Check {
		return record.Check{Answer: record.Passed, Value: &record.Value{Value: v, Unit: "V", U: 0.02}, Upper: upper}
	}
	require.Equal(t, "risk 16\u00a0%", riskText(at(4.99)))
	require.Equal(t, "risk 0.1\u00a0%", riskText(at(4.97)))
	require.Equal(t, "risk below 0.0001\u00a0%", riskText(at(4.94)))
	require.Empty(t, riskText(record.Check{Answer: record.Unanswered}))

	r := NewReport(richRun(), proof())
	html, err := r.HTML()
	require.NoError(t, err)
	_, text := parsed(t, html)
	require.Contains(t, text, "risk below 0.0001\u00a0%")
	require.Contains(t, text, "the probability that this one answer is wrong")
	pdf, err := r.PDF()
	require.NoError(t, err)
	require.Contains(t, pdfText(t, pdf), "risk below 0.0001")
}
