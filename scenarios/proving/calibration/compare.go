package calibration

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// ErrFar is the cause when the reference shows what the channel cannot have
// read: another net, a slip of the pen, or a broken channel.
var ErrFar = errors.New("the reference and the channel do not belong together")

// Reference is somebody who reads the instrument that is compared with.
type Reference interface {
	// Show says what the instrument shows while the rig stands in the point's
	// state: the voltage between the channel's net and ground, the current in
	// series with its shunt, or the temperature beside its sensor. about is what
	// the channel reads. The rig must be kept alive meanwhile.
	Show(ctx context.Context, p Point, about quantity.Quantity) (quantity.Quantity, error)
}

// Terms are what a calibration is made under.
type Terms struct {
	// Reference is the instrument, its uncertainties as standard ones.
	Reference record.Reference
	// DriftGain (relative) and DriftOffset are the half-widths that are allowed
	// for drift until the next calibration.
	DriftGain, DriftOffset float64
}

// Result is what a comparison gave.
type Result struct {
	Channels []record.CalibratedChannel
	// Left are the channels that are better off with the wiring's tolerances,
	// each with the reason.
	Left []string
}

// rounds is how many readings are averaged before and after the reference is
// read. Own choice.
const rounds = 5

// Compare goes from point to point, reads the channel around the reference, and
// fits each channel. The rig must be open without a calibration. It wraps
// ErrFar, bench.ErrOccupied, ErrPoints, or what rig and reference say; the rig is safe
// afterwards.
func Compare(ctx context.Context, rig *bench.Rig, plan []Point, ref Reference, t Terms) (Result, error) {
	if err := Empty(ctx, rig); err != nil {
		return Result{}, err
	}
	var out Result
	for len(plan) > 0 {
		n := 1
		for n < len(plan) && plan[n].same(plan[0]) {
			n++
		}
		// A rail stands where its one point is; a current goes to the top of its
		// range, and what the offset does to a small one would be taken for gain.
		if n == 1 && plan[0].Channel.Kind == wiring.CurrentChannel {
			out.Left = append(out.Left, plan[0].line()+": one state of the rig reads it, which does not tell gain from offset")
			plan = plan[1:]
			continue
		}
		k, offset, err := compareAny(ctx, rig, plan[:n], ref, t)
		if err != nil {
			return Result{}, fmt.Errorf("compare channel %s: %w", plan[0].Channel.Name, err)
		}
		if err := k.fit(rig.Wiring(), offset); err != nil {
			return Result{}, fmt.Errorf("compare channel %s: %w", plan[0].Channel.Name, err)
		}
		if k.UAfter < k.UBefore {
			out.Channels = append(out.Channels, k.CalibratedChannel)
		} else {
			out.Left = append(out.Left, fmt.Sprintf("%s: the calibration would leave ±%.2g %s, the wiring's tolerances ±%.2g %s",
				plan[0].line(), k.UAfter, k.Unit, k.UBefore, k.Unit))
		}
		plan = plan[n:]
	}
	return out, rig.Safe()
}

// calibrated is a channel under way.
type calibrated struct{ record.CalibratedChannel }

// compareAny takes the points of one channel, or one pull-up.
func compareAny(ctx context.Context, rig *bench.Rig, points []Point, ref Reference, t Terms) (*calibrated, float64, error) {
	if points[0].Channel.Kind == wiring.TerminationChannel {
		k, err := pullUp(ctx, rig, points[0], ref, t)
		return k, 0, err
	}
	return compare(ctx, rig, points, ref, t)
}

// pullUp lets the reference measure a pull-up, which nothing drives while the rig
// is isolated. What the rig itself takes it for stands in the place of a reading.
func pullUp(ctx context.Context, rig *bench.Rig, p Point, ref Reference, t Terms) (*calibrated, error) {
	part, ok := rig.Wiring().Part(p.Range)
	if !ok {
		return nil, fmt.Errorf("pull-up %q: %w", p.Range, wiring.ErrUnknown)
	}
	if err := rig.Safe(); err != nil {
		return nil, err
	}
	nominal := part.Value.Nominal
	shown, err := ref.Show(ctx, p, nominal)
	if err != nil {
		return nil, fmt.Errorf("pull-up %s: %w", p.Range, err)
	}
	if shown.Dim != quantity.Resistance {
		return nil, fmt.Errorf("pull-up %s: %w", p.Range, &quantity.DimError{Op: "compare", Left: quantity.Resistance, Right: shown.Dim})
	}
	half := part.Value.Relative() * nominal.SI
	if off := math.Abs(shown.SI - nominal.SI); off > half+far*math.Hypot(t.Reference.GainStd*shown.SI, t.Reference.OffsetStd) {
		return nil, fmt.Errorf("the reference shows %s for pull-up %s, which is %s ± %.2g Ω: %w", shown, p.Range, nominal, half, ErrFar)
	}
	unit, err := record.Unit(quantity.Resistance)
	return &calibrated{record.CalibratedChannel{
		Channel: p.Channel.Name, Range: p.Range, Unit: unit, Reference: t.Reference, DriftGain: t.DriftGain, DriftOffset: t.DriftOffset,
		Points: []record.CalibratedPoint{{State: bench.Isolated, Reading: nominal.SI, Reference: shown.SI}},
		Centre: nominal.SI, Level: shown.SI, Slope: shown.SI / nominal.SI,
	}}, err
}

// compare takes the points of one channel. offset is the standard uncertainty
// that the wiring gives the channel's offset.
func compare(ctx context.Context, rig *bench.Rig, points []Point, ref Reference, t Terms) (*calibrated, float64, error) {
	c := points[0].Channel
	k := &calibrated{record.CalibratedChannel{Channel: c.Name, Range: points[0].Range, Reference: t.Reference, DriftGain: t.DriftGain, DriftOffset: t.DriftOffset}}
	offset := 0.0
	for _, p := range points {
		if err := rig.Enter(ctx, p.Setting); err != nil {
			return nil, 0, err
		}
		if err := rig.Pause(ctx, settled+steady); err != nil { // as the survey saw it
			return nil, 0, err
		}
		readings, err := several(ctx, rig, c, nil)
		if err != nil {
			return nil, 0, err
		}
		shown, err := ref.Show(ctx, p, readings[0].Quantity)
		if err != nil {
			return nil, 0, fmt.Errorf("in %s: %w", p.Setting, err)
		}
		if readings, err = several(ctx, rig, c, readings); err != nil {
			return nil, 0, err
		}
		if shown.Dim != readings[0].Dim {
			return nil, 0, fmt.Errorf("in %s: %w", p.Setting, &quantity.DimError{Op: "compare", Left: readings[0].Dim, Right: shown.Dim})
		}
		mean, spread := mean(readings)
		off := math.Abs(shown.SI - mean)
		if allowed := far*readings[0].Std() + far*math.Hypot(t.Reference.GainStd*shown.SI, t.Reference.OffsetStd); off > allowed {
			return nil, 0, fmt.Errorf("in %s the reference shows %s, the channel reads %s: %w", p.Setting, shown, readings[0], ErrFar)
		}
		if k.Unit, err = record.Unit(shown.Dim); err != nil {
			return nil, 0, err
		}
		k.Points = append(k.Points, record.CalibratedPoint{State: p.Setting.String(), Reading: mean, ReadingStd: spread, Reference: shown.SI})
		offset = offsetOf(readings[0])
	}
	return k, offset, nil
}

// far is how many standard uncertainties a reference may be away from a channel
// that is in order: 6. Own choice.
const far = 6

func several(ctx context.Context, rig *bench.Rig, c *wiring.Channel, list []quantity.Measured) ([]quantity.Measured, error) {
	for range rounds {
		got, err := rig.Read(ctx, c.Name, bench.ReadOptions{})
		if err != nil {
			return nil, err
		}
		list = append(list, got.Value)
	}
	return list, nil
}

// mean of the readings with its Type A standard uncertainty.
func mean(list []quantity.Measured) (value, std float64) {
	values := make([]float64, len(list))
	for i, m := range list {
		values[i] = m.SI
	}
	value, c := quantity.Repeat("", values)
	return value, c.Std
}

// offsetOf is the share of the converter's offset in a reading.
func offsetOf(m quantity.Measured) float64 {
	for _, p := range m.Parts {
		if strings.HasSuffix(p.Source, " offset") {
			return math.Abs(p.Share())
		}
	}
	return 0
}

// fit fills in the line and what it is worth.
func (k *calibrated) fit(w *wiring.Rig, offset float64) error {
	points := make([]Comparison, len(k.Points))
	top := 0.0
	for i, p := range k.Points {
		points[i] = Comparison{Reading: p.Reading, Reference: p.Reference, Std: p.ReadingStd}
		top = max(top, p.Reference)
	}
	dim, err := record.Dimension(k.Unit)
	if err != nil {
		return err
	}
	l := Line{Centre: k.Centre, Level: k.Level, Slope: k.Slope} // a pull-up's is there
	switch {
	case dim == quantity.Resistance:
	case dim == quantity.Temperature && len(points) == 1:
		l = Shift(points[0], offset)
	default:
		if l, err = Fit(points, offset); err != nil {
			return err
		}
	}
	k.Centre, k.Level, k.Slope, k.LevelStd, k.SlopeStd, k.DOF = l.Centre, l.Level, l.Slope, l.LevelStd, l.SlopeStd, l.DOF
	before, err := expected(w, nil, k.CalibratedChannel, quantity.Quantity{SI: top, Dim: dim})
	if err != nil {
		return err
	}
	after, err := expected(w, InForce(record.Calibration{Channels: []record.CalibratedChannel{k.CalibratedChannel}}), k.CalibratedChannel, before.Quantity)
	if err != nil {
		return err
	}
	k.UBefore, k.UAfter = before.U().SI, after.U().SI
	return nil
}

// expected is a reading of the channel, in the range of a current, where it is to
// be judged: at a value, but for a current at the top of its range. A rig's own
// loads take a small part of a range, and a line through their points is not
// better where it matters because it is better there.
func expected(w *wiring.Rig, cal *bench.Calibration, k record.CalibratedChannel, at quantity.Quantity) (quantity.Measured, error) {
	c, ok := w.Channel(k.Channel)
	if !ok {
		return quantity.Measured{}, fmt.Errorf("channel %q: %w", k.Channel, wiring.ErrUnknown)
	}
	if c.Kind == wiring.CurrentChannel && cal == nil {
		at.SI = c.Highest.SI
	}
	for range 32 { // halves until the range holds it
		list, err := bench.Expect(w, cal, k.Channel, at)
		if err != nil {
			return quantity.Measured{}, err
		}
		for _, e := range list {
			if k.Range != "" && e.Variant != k.Range {
				continue
			}
			if e.Value.Bound == quantity.Exact {
				return e.Value, nil
			}
		}
		at.SI /= 2
	}
	return quantity.Measured{}, fmt.Errorf("channel %s, range %q: %w", k.Channel, k.Range, wiring.ErrUnknown)
}

// InForce is the calibration as a bench takes it.
func InForce(c record.Calibration) *bench.Calibration {
	out := &bench.Calibration{ID: c.ID}
	for _, k := range c.Channels {
		out.Corrections = append(out.Corrections, bench.Correction{
			Channel: k.Channel, Range: k.Range, Centre: k.Centre, Level: k.Level, Slope: k.Slope,
			LevelStd: k.LevelStd, SlopeStd: k.SlopeStd, DOF: k.DOF,
			Reference: k.Reference.Name, ReferenceGain: k.Reference.GainStd, ReferenceOffset: k.Reference.OffsetStd,
			DriftGain: k.DriftGain, DriftOffset: k.DriftOffset,
		})
	}
	return out
}
