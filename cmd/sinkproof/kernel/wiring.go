package kernel

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"sinkproof/fixtures"
)

// lineLabel is what the driver of the bridge calls its lines.
const lineLabel = "cp2112_gpio"

// BeatGap is the longest gap between heartbeats of the emulated rig. The
// shipped rig's 30 ms ask for an edge every 10 ms, of a computer whose transfer
// takes 0.1 ms. Here one took 4 ms in the middle and 17 ms at the slowest of a
// hundred (measured over a run), looks at the lines between them included: two
// slow ones in a row would cost the coils. So this rig's monostable is slower, as
// a builder would make it for a slow computer. The bench itself gets no room: the
// gap is in the wiring file, and what must be open after it is looked at from
// outside.
const BeatGap = "200 ms"

// Empty is the capacitance below which this rig's nest counts as empty. How
// little can be told is the probe current times the time between two samples,
// by volt: 0.1 mA and 1.4 ms of the shipped rig's computer make its 0.08 µF. A
// conversion takes three transfers with looks at the lines, 25 ms here, and the
// emulated computer tells at most 1.4 µF (measured; with the shipped limit it
// says so, and that it is too slow). A unit of the shipped products has 4 µF and
// more.
const Empty = "2 µF"

// Wiring is a shipped wiring file for the lines of a Bridge, in the order that
// the file names them, and for a bus of the machine. Nothing else is changed
// but the two values above, so the file cannot drift from the shipped.
func Wiring(rig string, bus int) ([]byte, *fixtures.Fixture, error) {
	shipped, err := fixtures.Shipped(rig)
	if err != nil {
		return nil, nil, fmt.Errorf("wiring file of the machine: %w", err)
	}
	text := string(shipped.File.Bytes)
	for i, l := range shipped.Rig.Lines {
		if text, err = replaced(text, `device\s*=\s*`, strconv.Quote(l.Device), strconv.Quote(fmt.Sprintf("%s:%d", lineLabel, i))); err != nil {
			return nil, nil, err
		}
	}
	for _, b := range shipped.Rig.Buses {
		if text, err = replaced(text, `device\s*=\s*`, strconv.Quote(b.Device), strconv.Quote(strconv.Itoa(bus))); err != nil {
			return nil, nil, err
		}
	}
	if text, err = replaced(text, `beat_gap\s*=\s*`, `"30 ms"`, strconv.Quote(BeatGap)); err != nil {
		return nil, nil, err
	}
	if text, err = replaced(text, `empty\s*=\s*`, `"0.08 µF"`, strconv.Quote(Empty)); err != nil {
		return nil, nil, err
	}
	f, diags := fixtures.Parse("machine.hcl", []byte(text))
	if err := diags.Err(); err != nil {
		return nil, nil, fmt.Errorf("wiring file of the machine: %w", err)
	}
	return []byte(text), f, nil
}

// replaced changes the one place where a setting has a value.
func replaced(text, setting, from, to string) (string, error) {
	at := regexp.MustCompile(setting+regexp.QuoteMeta(from)).FindAllStringIndex(text, -1)
	if len(at) != 1 {
		return "", fmt.Errorf("wiring file of the machine: %s%s stands at %d places: %w", setting, from, len(at), ErrMachine)
	}
	start, end := at[0][0], at[0][1]
	return text[:start] + strings.TrimSuffix(text[start:end], from) + to + text[end:], nil
}

// offset is the number of a line of the bridge.
func offset(device string) (int, error) {
	label, number, _ := strings.Cut(device, ":")
	n, err := strconv.Atoi(number)
	if err != nil || label != lineLabel || n < 0 || n > 7 {
		return 0, fmt.Errorf("line %q is none of the bridge's: %w", device, ErrMachine)
	}
	return n, nil
}
