package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// issueFaults are the faults that the twin was asked for, in its order.
func issueFaults() []string {
	return []string{
		"no-rd", "rd-missing-one-pin", "shared-rd", "cc-short", "rd-51k", "rd-510", "rd-10k",
		"cc-vbus-short", "cc-gnd-short", "vbus-gnd-short", "back-feed", "current-half", "current-double",
		"charger-dead", "overcharge", "bulk-missing", "bulk-too-large", "indicator-dead",
		"contact-resistance", "data-pin-open",
	}
}

func TestFaultListIsComplete(t *testing.T) {
	var names []string
	for _, d := range Faults() {
		names = append(names, d.Name)
		for _, text := range []string{d.Title, d.Plain, d.Effect, d.Barely, d.Grossly, d.Revealed} {
			require.NotEmpty(t, text, d.Name)
		}
		require.NotEmpty(t, d.Groups, d.Name)
	}
	require.ElementsMatch(t, issueFaults(), names)
}

func TestFaultsCombine(t *testing.T) {
	for _, c := range []struct {
		faults string
		err    error
	}{
		{"", nil},
		{"good", nil},
		{"no-rd", nil},
		{"no-rd+back-feed", nil},
		{"rd-10k+ cc-vbus-short +current-half+bulk-missing", nil},
		{"current-half+current-double", ErrCombination},
		{"no-rd+rd-51k", ErrCombination},
		{"shared-rd+cc-short", ErrCombination},
		{"charger-dead+overcharge", ErrCombination},
		{"vbus-gnd-short+contact-resistance", ErrCombination},
		{"no-rd+no-rd", ErrCombination},
		{"no-rd+", ErrUnknownFault},
		{"no-such", ErrUnknownFault},
	} {
		t.Run(c.faults, func(t *testing.T) {
			_, err := ParseFaults(c.faults)
			require.ErrorIs(t, err, c.err)
		})
	}
}

func TestFaultsNeedTheirPart(t *testing.T) {
	kits := map[string]kit{}
	for _, name := range []string{"hand-lamp", "desk-sensor", "key-tag"} {
		kits[name] = newKit(t, name)
	}
	for _, c := range []struct {
		product, fault string
		ok             bool
	}{
		{"hand-lamp", "data-pin-open", true}, {"desk-sensor", "data-pin-open", false},
		{"hand-lamp", "indicator-dead", true}, {"key-tag", "indicator-dead", false},
		{"desk-sensor", "back-feed", true}, {"key-tag", "back-feed", false}, {"key-tag", "no-rd", true},
	} {
		w := kits[c.product].twin(t, 1)
		err := w.Seat("S1", Fault{Name: c.fault})
		if c.ok {
			require.NoError(t, err)
			continue
		}
		require.ErrorIs(t, err, ErrNoSuchPart)
		_, seated := w.Truth().Unit()
		require.False(t, seated, "nothing is half done")
	}
	w := newTwin(t, "hand-lamp", 1)
	require.ErrorIs(t, w.Seat("S1", Fault{Name: "cc-gnd-short"}.On("dp1")), ErrNoSuchPart)
	require.ErrorIs(t, w.Seat("S1", Fault{Name: "nothing"}), ErrUnknownFault)
}

// Each drawn severity lies past the limit that the fault is about: a unit that
// is barely bad is bad. Limits: USB Type-C R2.5 Tables 4-28 (Rd), 4-30 (zOPEN),
// 4-3 (10 µF), 11.05 µA of back-feed (facts, section 5), 4.242 V and 4.263 V
// of end of charge (facts, section 8), the product's own tolerances.
func TestBarelyBadIsBad(t *testing.T) {
	p := shippedProduct(t, "hand-lamp")
	past := map[string]func(b *board) bool{
		"no-rd":              func(b *board) bool { return min(b.rd[0], b.rd[1]) >= 126e3-1 },
		"rd-missing-one-pin": func(b *board) bool { return max(b.rd[0], b.rd[1]) >= 126e3-1 && min(b.rd[0], b.rd[1]) < 5400 },
		"shared-rd":          func(b *board) bool { return b.shared > 0 && b.shared <= 10.001 && b.rd[1] > 1e8 },
		"rd-51k":             func(b *board) bool { return min(b.rd[0], b.rd[1])*64e-6 > 1.49 },
		"rd-510":             func(b *board) bool { return max(b.rd[0], b.rd[1])*96e-6 < 0.16 },
		"rd-10k":             func(b *board) bool { return max(b.rd[0], b.rd[1]) > 6120 },
		"cc-short":           func(b *board) bool { return b.bridge > 0 && b.bridge <= 1000.1 },
		"cc-vbus-short":      func(b *board) bool { return b.toVbus[0]+b.toVbus[1] > 0 },
		"cc-gnd-short":       func(b *board) bool { return b.toGnd[0]+b.toGnd[1] > 0 && b.toGnd[0]+b.toGnd[1] <= 500.1 },
		"vbus-gnd-short":     func(b *board) bool { return b.short > 0 && b.short <= 50.01 },
		"back-feed":          func(b *board) bool { return b.reverse > 0 && 3.0/b.reverse > 11.05e-6 },
		"current-half":       func(b *board) bool { return b.charger.ChargeAmperes < 0.95*0.4 },
		"current-double":     func(b *board) bool { return b.charger.ChargeAmperes > 1.05*0.4 },
		"charger-dead":       func(b *board) bool { return b.charger.ChargeAmperes < 0.0041 },
		"overcharge":         func(b *board) bool { return b.charger.RegulationVolts > 4.263 },
		"bulk-missing":       func(b *board) bool { return b.farads < 0.8*4.7e-6*0.6 },
		"bulk-too-large":     func(b *board) bool { return b.farads > 10e-6 },
		"indicator-dead":     func(b *board) bool { return b.light < 0.7*1.2*0.5 },
		"contact-resistance": func(b *board) bool { return b.joint >= 1 },
		"data-pin-open":      func(b *board) bool { return b.data[0]+b.data[1]+b.data[2]+b.data[3] >= 1e6 },
	}
	require.Len(t, past, len(Faults()))
	rapid.Check(t, func(r *rapid.T) {
		d := rapid.SampledFrom(Faults()).Draw(r, "fault")
		seed, serial := rapid.Uint64().Draw(r, "seed"), rapid.String().Draw(r, "serial")
		f := Fault{Name: d.Name}
		switch rapid.IntRange(0, 2).Draw(r, "severity") {
		case 0:
			f = f.Severe(0)
		case 1:
			f = f.Severe(1)
		}
		b := drawBoard(seed, p, serial)
		require.False(r, past[d.Name](b), "a good unit is not past the limit of %s", d.Name)
		require.NoError(r, b.damage(seed, []Fault{f}))
		require.True(r, past[d.Name](b), "%s: %+v", d.Name, b)
	})
}

// Drawn severities reach over the whole scale.
func TestSeveritiesSpread(t *testing.T) {
	p := shippedProduct(t, "hand-lamp")
	low, high := 1.0, 0.0
	for seed := range uint64(200) {
		b := drawBoard(seed, p, "S1")
		require.NoError(t, b.damage(seed, []Fault{{Name: "rd-10k"}}))
		low, high = min(low, b.faults["rd-10k"]), max(high, b.faults["rd-10k"])
	}
	require.Less(t, low, 0.03)
	require.Greater(t, high, 0.97)
}

// Both places of a fault occur.
func TestPlacesSpread(t *testing.T) {
	p := shippedProduct(t, "hand-lamp")
	var on [2]int
	for seed := range uint64(100) {
		b := drawBoard(seed, p, "S1")
		require.NoError(t, b.damage(seed, []Fault{{Name: "rd-missing-one-pin"}}))
		if b.rd[0] > 1e5 {
			on[0]++
		} else {
			on[1]++
		}
	}
	require.Greater(t, on[0], 30)
	require.Greater(t, on[1], 30)
}

// Pairs of faults make circuits that are solved, charged and left again: a
// fifth of all pairs, so chosen that every fault meets several others.
func TestPairsOfFaultsRun(t *testing.T) {
	t.Parallel()
	w := newTwin(t, "hand-lamp", 9)
	names := Faults()
	pairs := 0
	for i, a := range names {
		for j, b := range names[:i] {
			if (i+2*j)%5 != 0 {
				continue
			}
			pair := []Fault{{Name: a.Name}, {Name: b.Name}}
			if Combine(pair...) != nil {
				continue
			}
			pairs++
			require.NoError(t, w.Seat("P1", pair...), "%s + %s", a.Name, b.Name)
			drive(t, w, 30*time.Millisecond, supplyPath()...)
			drive(t, w, 500*time.Millisecond, append(supplyPath(), "s_feed")...)
			drive(t, w, 50*time.Millisecond)
			require.NoError(t, w.Truth().Err(), "%s + %s", a.Name, b.Name)
		}
	}
	require.Greater(t, pairs, 28)
}

// What ParseFaults accepts it can combine, and it never panics.
func FuzzParseFaults(f *testing.F) {
	for _, text := range []string{"", "good", "no-rd", "no-rd+back-feed", "no-rd++", "+", "current-half+current-double", "no-rd + cc-short"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		faults, err := ParseFaults(text)
		if err == nil {
			require.NoError(t, Combine(faults...))
		}
	})
}
