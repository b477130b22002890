package page

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"

	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// tie keeps a number and its unit on one line: a space between a digit and
// what follows it becomes a no-break space, and so does one after a sign.
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
	switch v.Bound {
	case record.AtLeast:
		return tie("≥ " + outward(q, -1))
	case record.AtMost:
		return tie("≤ " + outward(q, 1))
	}
	if v.U > 0 {
		m := quantity.NewMeasured(q, quantity.Contribution{Source: "U", Std: v.U / 2, Sens: 1, Dist: "normal"})
		return tie(m.String())
	}
	return tie(rounded(q, knownDigits))
}

// The significant digits of what has no uncertainty to round by: the limits
// of the standard have up to four (1.164 V).
const (
	limitDigits = 4
	knownDigits = 6
)

// rounded prints a quantity with at most a number of significant digits, and
// no zeros at the end: "600 mΩ", "1.164 V".
func rounded(q quantity.Quantity, digits int) string {
	if v, err := strconv.ParseFloat(strconv.FormatFloat(q.SI, 'g', digits, 64), 64); err == nil {
		q.SI = v
	}
	return q.String()
}

// outward prints a bound with limitDigits digits, rounded to the side on
// which it stays true, -1 for down: "at least 1.30087" is also at least
// 1.300, but not at least 1.301.
func outward(q quantity.Quantity, side float64) string {
	near, err := strconv.ParseFloat(strconv.FormatFloat(q.SI, 'g', limitDigits, 64), 64)
	if err != nil || q.SI == 0 {
		return q.String()
	}
	if (near-q.SI)*side < 0 {
		near += side * math.Pow(10, math.Floor(math.Log10(math.Abs(near)))-limitDigits+1)
	}
	return rounded(quantity.Quantity{SI: near, Dim: q.Dim}, limitDigits)
}

func limitText(l *record.Limit) string {
	q, err := l.Quantity()
	if err != nil {
		return fmt.Sprintf("%g %s", l.Value, l.Unit)
	}
	return rounded(q, limitDigits)
}

// limitsText prints the limits of a check as a range, with the numbers of
// their sources, once where both agree: "4.59 kΩ to 5.61 kΩ [3]".
func limitsText(lower, upper *record.Limit, number func(source string) string) string {
	ref := func(l *record.Limit) string { return "\u00a0[" + number(l.Source) + "]" }
	switch {
	case lower != nil && upper != nil && lower.Source == upper.Source:
		return tie(limitText(lower)+" to "+limitText(upper)) + ref(lower)
	case lower != nil && upper != nil:
		return tie(limitText(lower)) + ref(lower) + tie(" to "+limitText(upper)) + ref(upper)
	case lower != nil:
		return tie("≥ "+limitText(lower)) + ref(lower)
	case upper != nil:
		return tie("≤ "+limitText(upper)) + ref(upper)
	}
	return ""
}

// acceptedText says what was compared with under a guarded rule; empty where
// that is the limit itself. It is rounded inwards: what the page shows as
// accepted was.
func acceptedText(lower, upper *record.Limit) string {
	drawn := func(l *record.Limit, side float64) string {
		if l == nil || l.Acceptance == l.Value {
			return ""
		}
		q, err := record.Value{Value: l.Acceptance, Unit: l.Unit}.Quantity()
		if err != nil {
			return fmt.Sprintf("%g %s", l.Acceptance, l.Unit)
		}
		return outward(q, side)
	}
	low, high := drawn(lower, 1), drawn(upper, -1)
	switch {
	case low != "" && high != "":
		return tie(low + " to " + high)
	case low != "":
		return tie("≥ " + low)
	case high != "":
		return tie("≤ " + high)
	}
	return ""
}

// offsetText prints an instant of the run in seconds and milliseconds.
func offsetText(us int64) string {
	return strconv.FormatFloat(float64(us)/1e6, 'f', 3, 64) + "\u00a0s"
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
