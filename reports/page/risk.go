package page

import (
	"fmt"

	"sinkproof/reports/record"
)

// riskLegend explains the risks in the table of checks.
const riskLegend = "Risk: the probability that this one answer is wrong, consumer's of a pass, producer's of a fail (JCGM 106:2012, 7.2)."

// smallest is the least risk that is printed as a number: one in a million. The
// law of a reading is hardly known farther out. Own choice.
const smallest = 1e-6

// riskText says how likely the answer of a check is wrong, where its uncertainty
// tells.
func riskText(c record.Check) string {
	k := c.Conformity()
	switch {
	case k == nil:
		return ""
	case k.Risk < smallest:
		return fmt.Sprintf("risk below %.4f\u00a0%%", 100*smallest)
	case k.Risk < 0.01:
		return fmt.Sprintf("risk %.1g\u00a0%%", 100*k.Risk)
	}
	return fmt.Sprintf("risk %.2g\u00a0%%", 100*k.Risk)
}
