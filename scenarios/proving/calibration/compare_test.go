package calibration_test

import (
	"context"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/calibration"
)

// meter reads the true voltage of a net, wrong by a gain and an offset.
type meter struct {
	twin         *twin.Twin
	gain, offset float64
}

func (m meter) Show(_ context.Context, p calibration.Point, _ quantity.Quantity) (quantity.Quantity, error) {
	v, err := m.twin.Truth().Volts(p.Channel.Net)
	return quantity.Volts(v*(1+m.gain) + m.offset), err
}

func newRig(t *testing.T, seed uint64) (*bench.Rig, *twin.Twin) {
	t.Helper()
	f, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	w, err := twin.New(twin.Config{Wiring: f.Rig, Product: p, Seed: seed})
	require.NoError(t, err)
	return open(t, w, f.Rig, nil), w
}

func open(t *testing.T, w *twin.Twin, rig *wiring.Rig, cal *bench.Calibration) *bench.Rig {
	t.Helper()
	r, err := bench.Open(context.Background(), rig, w.Hardware(), bench.Options{Calibration: cal})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, r.Close()) })
	return r
}

func terms() calibration.Terms {
	return calibration.Terms{
		Reference: record.Reference{Name: "meter 7", GainStd: 5e-5, OffsetStd: 1e-4}, DriftGain: 2e-4, DriftOffset: 1e-4,
	}
}

// What a calibration finds is held against the circuit itself: afterwards each
// corrected channel reads the truth within its new, smaller uncertainty.
func TestCalibratedChannelsReadTheTruth(t *testing.T) {
	ctx := context.Background()
	outside, n := 0, 0
	for seed := range uint64(3) {
		r, w := newRig(t, seed+1)
		plan, err := calibration.Survey(ctx, r, calibration.Channels(r.Wiring()), nil)
		require.NoError(t, err)
		points := map[string]int{}
		for _, p := range plan {
			points[p.Channel.Name]++
		}
		for _, name := range []string{"vbus", "cc1", "cc2", "vbat"} {
			require.GreaterOrEqual(t, points[name], 3, name)
		}
		require.Equal(t, 1, points["vprobe"], "a rail stands at one voltage")
		got, err := calibration.Compare(ctx, r, plan, meter{w, 5e-5, -1e-4}, terms())
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(got.Channels), 5, "left: %v", got.Left)
		require.NoError(t, r.Close())

		doc := record.Calibration{ID: "c-1", Channels: got.Channels}
		r = open(t, w, r.Wiring(), calibration.InForce(doc))
		require.NoError(t, calibration.Empty(ctx, r))
		for _, p := range plan {
			require.NoError(t, r.Enter(ctx, p.Setting))
			require.NoError(t, r.Pause(ctx, 400e6))
			reading, err := r.Read(ctx, p.Channel.Name, bench.ReadOptions{})
			require.NoError(t, err)
			truth, err := w.Truth().Volts(p.Channel.Net)
			require.NoError(t, err)
			n++
			if math.Abs(reading.Value.SI-truth) > reading.Value.U().SI {
				outside++
			}
			require.InDelta(t, truth, reading.Value.SI, 2*reading.Value.U().SI, "%s in %s", p.Channel.Name, p.Setting)
		}
		for _, k := range got.Channels {
			require.Less(t, k.UAfter, k.UBefore/2, k.Channel)
		}
		require.NoError(t, r.Safe())
	}
	require.Less(t, float64(outside)/float64(n), 0.06, "k = 2 covers about 95 %%")
}

// shown is a reference that shows the same everywhere.
type shown struct{ quantity.Quantity }

func (s shown) Show(context.Context, calibration.Point, quantity.Quantity) (quantity.Quantity, error) {
	return s.Quantity, nil
}

func TestCompareRefusesAReferenceThatIsElsewhere(t *testing.T) {
	ctx := context.Background()
	r, _ := newRig(t, 1)
	p, err := calibration.Named(r.Wiring(), "vprobe", "isolated")
	require.NoError(t, err)
	_, err = calibration.Compare(ctx, r, []calibration.Point{p}, shown{quantity.Volts(3.2)}, terms())
	require.ErrorIs(t, err, calibration.ErrFar)
	require.ErrorContains(t, err, "vprobe")
	_, err = calibration.Compare(ctx, r, []calibration.Point{p}, shown{quantity.Amperes(3.3)}, terms())
	var dim *quantity.DimError
	require.ErrorAs(t, err, &dim)
}

func TestSurveyRefusesASeatedUnit(t *testing.T) {
	r, w := newRig(t, 1)
	require.NoError(t, w.Seat("U-1"))
	_, err := calibration.Survey(context.Background(), r, []string{"vbus"}, nil)
	require.ErrorIs(t, err, bench.ErrOccupied)
	_, err = calibration.Survey(context.Background(), r, []string{"rd1"}, nil)
	require.ErrorIs(t, err, wiring.ErrUnknown)
}

func TestScriptIsReadAndAnswers(t *testing.T) {
	r, _ := newRig(t, 1)
	text := "channel,state,reference\nvprobe,isolated,3.3012 V\ncc1,isolated,0 V\n"
	s, err := calibration.ReadScript(strings.NewReader(text), r.Wiring())
	require.NoError(t, err)
	require.Len(t, s.Plan, 2)
	q, err := s.Show(context.Background(), s.Plan[0], quantity.Quantity{})
	require.NoError(t, err)
	require.Equal(t, quantity.Volts(3.3012), q)
	other, err := calibration.Named(r.Wiring(), "cc2", "isolated")
	require.NoError(t, err)
	_, err = s.Show(context.Background(), other, quantity.Quantity{})
	require.ErrorIs(t, err, calibration.ErrScript)

	var form strings.Builder
	require.NoError(t, calibration.WriteForm(&form, s.Plan))
	require.Equal(t, "channel,state,reference\nvprobe,isolated,\ncc1,isolated,\n", form.String())
}

func TestBrokenScripts(t *testing.T) {
	r, _ := newRig(t, 1)
	for name, c := range map[string]struct{ text, says string }{
		"nothing":        {"", "no line"},
		"head only":      {"channel,state,reference\n", "no line"},
		"another head":   {"channel,place,reference\n", `"place"`},
		"two fields":     {"channel,state\n", "wrong number of fields"},
		"no channel":     {"channel,state,reference\nvx,isolated,1 V\n", "line 2"},
		"no state":       {"channel,state,reference\nvbus,nowhere,1 V\n", "nowhere"},
		"amperes":        {"channel,state,reference\nvbus,isolated,1 A\n", "line 2"},
		"not filled in":  {"channel,state,reference\nvbus,isolated,\n", "line 2"},
		"twice":          {"channel,state,reference\nvbus,isolated,0 V\nvbus,isolated,0 V\n", "twice"},
		"not in a piece": {"channel,state,reference\nvbus,isolated,0 V\ncc1,isolated,0 V\nvbus,probe-vbus,0 V\n", "line 4"},
	} {
		_, err := calibration.ReadScript(strings.NewReader(c.text), r.Wiring())
		require.ErrorIs(t, err, calibration.ErrScript, name)
		require.ErrorContains(t, err, c.says, name)
	}
}

func FuzzReadScript(f *testing.F) {
	f.Add("channel,state,reference\nvbus,isolated,0 V\n")
	f.Add("channel,state,reference\n\"vbus\",\"isolated\",\"5.0 mV\"\n")
	rig, err := fixtures.Shipped("bench-one")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := calibration.ReadScript(strings.NewReader(text), rig.Rig)
		if err != nil {
			require.ErrorIs(t, err, calibration.ErrScript)
			return
		}
		for _, p := range s.Plan {
			_, err := s.Show(context.Background(), p, quantity.Quantity{})
			require.NoError(t, err)
		}
	})
}

func ExampleWriteForm() {
	rig, err := fixtures.Shipped("bench-one")
	if err != nil {
		panic(err)
	}
	p, err := calibration.Named(rig.Rig, "vprobe", "isolated")
	if err != nil {
		panic(err)
	}
	if err := calibration.WriteForm(os.Stdout, []calibration.Point{p}); err != nil {
		panic(err)
	}
	// Output:
	// channel,state,reference
	// vprobe,isolated,
}
