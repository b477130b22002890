package page

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// tie keeps a number and its unit on one line: a space after a digit and
// before a unit becomes a no-break space, and so does one around a sign.
func tie(text string) string {
	runes := []rune(text)
	for i := 1; i+1 < len(runes); i++ {
		if runes[i] == ' ' && (unicode.IsDigit(runes[i-1]) || strings.ContainsRune("≥≤±", runes[i-1])) {
			runes[i] = '\u00a0'
		}
	}
	return string(runes)
}

// valueText prints a value as "4.987 V ± 0.006 V", or as a bound.
func valueText(v record.Value) string {
	q, err := v.Quantity()
	if err != nil {
		return fmt.Sprintf("%g %s", v.Value, v.Unit)
	}
	m := quantity.Known(q)
	if v.U > 0 {
		m = quantity.NewMeasured(q, quantity.Contribution{Source: "U", Std: v.U / 2, Sens: 1, Dist: "normal"})
	}
	switch v.Bound {
	case record.AtLeast:
		m.Bound = quantity.AtLeast
	case record.AtMost:
		m.Bound = quantity.AtMost
	}
	return tie(m.String())
}

// limitText prints a tolerance limit, and the acceptance limit where the
// decision rule drew it in.
func limitText(l *record.Limit) string {
	q, err := l.Quantity()
	if err != nil {
		return fmt.Sprintf("%g %s", l.Value, l.Unit)
	}
	return q.Text(limitDigits)
}

// limitDigits is how many significant digits a limit prints with: the limits
// of the standard have up to four (1.164 V).
const limitDigits = 4

// limitsText prints both limits of a check as a range.
func limitsText(lower, upper *record.Limit) string {
	switch {
	case lower != nil && upper != nil:
		return tie(limitText(lower) + " to " + limitText(upper))
	case lower != nil:
		return tie("≥ " + limitText(lower))
	case upper != nil:
		return tie("≤ " + limitText(upper))
	}
	return ""
}

// acceptanceText says what was compared with under a guarded rule; empty
// where that is the limit itself.
func acceptanceText(lower, upper *record.Limit) string {
	var parts []string
	add := func(sign string, l *record.Limit) {
		if l == nil || l.Acceptance == l.Value {
			return
		}
		if q, err := (record.Value{Value: l.Acceptance, Unit: l.Unit}).Quantity(); err == nil {
			parts = append(parts, sign+" "+q.Text(limitDigits))
		}
	}
	add("≥", lower)
	add("≤", upper)
	return tie(strings.Join(parts, ", "))
}

// sourceText names where the limits come from, once where both agree.
func sourceText(lower, upper *record.Limit) string {
	switch {
	case lower == nil && upper == nil:
		return ""
	case upper == nil || (lower != nil && lower.Source == upper.Source):
		return lower.Source
	case lower == nil:
		return upper.Source
	}
	return "low: " + lower.Source + "; high: " + upper.Source
}

// offsetText prints an instant of the run in seconds and milliseconds.
func offsetText(us int64) string {
	return strconv.FormatFloat(float64(us)/1e6, 'f', 3, 64) + " s"
}

// startText prints the wall-clock start for a person: to the second, in UTC.
func startText(started string) string {
	at, err := time.Parse(time.RFC3339Nano, started)
	if err != nil {
		return started
	}
	return at.UTC().Format("2006-01-02 15:04:05") + " UTC"
}

// grouped breaks a hash into groups of eight, as people read long numbers.
func grouped(hash string) string {
	var groups []string
	for len(hash) > 8 {
		groups, hash = append(groups, hash[:8]), hash[8:]
	}
	return strings.Join(append(groups, hash), " ")
}
