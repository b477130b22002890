package calibration

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
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
	// Hands seat the check receptacle for the points that need it; nil where none
	// does.
	Hands Hands
}

// Result is what a comparison gave.
type Result struct {
	Channels []record.CalibratedChannel
	// Left are the channels that are better off with the wiring's tolerances,
	// each with the reason.
	Left []string
	// Beyond are those that were off by more than the wiring allows for, each with
	// how far. Their readings are corrected; what is wrong stays.
	Beyond []string
}

// rounds is how many readings are averaged before and after the reference is
// read. Own choice.
const rounds = 5

// Compare goes from point to point, reads the channel around the reference, and
// fits each channel. The rig must be open without a calibration. It wraps
// ErrFar, bench.ErrOccupied, ErrPoints, or what rig and reference say; the rig is safe
// afterwards.
func Compare(ctx context.Context, rig *bench.Rig, plan []Point, ref Reference, t Terms) (Result, error) {
	in := &nest{rig: rig, hands: t.Hands}
	if err := in.empty(ctx); err != nil {
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
		k, err := compareAny(ctx, in, plan[:n], ref, t)
		if err == nil {
			err = k.fit(rig.Wiring())
		}
		if err == nil {
			err = k.holds()
		}
		if err != nil {
			return Result{}, errors.Join(fmt.Errorf("compare channel %s: %w", plan[0].Channel.Name, err), rig.Safe())
		}
		if k.beyond {
			out.Beyond = append(out.Beyond, fmt.Sprintf("%s: the readings were off by %+.2g %% in proportion", plan[0].line(), 100*(1/k.Slope-1)))
		}
		if k.UAfter < k.UBefore {
			out.Channels = append(out.Channels, k.CalibratedChannel)
		} else {
			out.Left = append(out.Left, fmt.Sprintf("%s: the calibration would leave ±%.2g %s, the wiring's tolerances ±%.2g %s",
				plan[0].line(), k.UAfter, k.Unit, k.UBefore, k.Unit))
		}
		plan = plan[n:]
	}
	return out, in.leave(ctx)
}

// calibrated is a channel under way.
type calibrated struct {
	record.CalibratedChannel
	// offset is the standard uncertainty that the wiring gives its offset.
	offset float64
	// beyond: a reading was off by more than the wiring allows for. allowed is, by
	// point, what it may be off by all the same after the fit.
	beyond  bool
	allowed []float64
}

// compareAny takes the points of one channel, or one pull-up.
func compareAny(ctx context.Context, in *nest, points []Point, ref Reference, t Terms) (*calibrated, error) {
	if points[0].Channel.Kind == wiring.TerminationChannel {
		return pullUp(ctx, in.rig, points[0], ref, t)
	}
	return compare(ctx, in, points, ref, t)
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
	return &calibrated{CalibratedChannel: record.CalibratedChannel{
		Channel: p.Channel.Name, Range: p.Range, Unit: unit, Reference: t.Reference, DriftGain: t.DriftGain, DriftOffset: t.DriftOffset,
		Points: []record.CalibratedPoint{{State: bench.Isolated, Reading: nominal.SI, Reference: shown.SI}},
		Centre: nominal.SI, Level: shown.SI, Slope: shown.SI / nominal.SI,
	}}, err
}

// compare takes the points of one channel.
func compare(ctx context.Context, in *nest, points []Point, ref Reference, t Terms) (*calibrated, error) {
	c, rig := points[0].Channel, in.rig
	k := &calibrated{CalibratedChannel: record.CalibratedChannel{
		Channel: c.Name, Range: points[0].Range, Reference: t.Reference, DriftGain: t.DriftGain, DriftOffset: t.DriftOffset}}
	for _, p := range points {
		if err := in.ready(ctx, p.Setting); err != nil {
			return nil, err
		}
		if err := rig.Enter(ctx, p.Setting); err != nil {
			return nil, err
		}
		if err := rig.Pause(ctx, settled+steady); err != nil { // as the survey saw it
			return nil, err
		}
		readings, err := several(ctx, rig, c, nil)
		if err != nil {
			return nil, err
		}
		shown, err := ref.Show(ctx, p, readings[0].Quantity)
		if err != nil {
			return nil, fmt.Errorf("in %s: %w", p.Setting, err)
		}
		if readings, err = several(ctx, rig, c, readings); err != nil {
			return nil, err
		}
		if err := k.take(p, readings, shown, len(points)); err != nil {
			return nil, fmt.Errorf("in %s: %w", p.Setting, err)
		}
	}
	return k, nil
}

// take adds what a channel read and the reference showed in one point of n.
func (k *calibrated) take(p Point, readings []quantity.Measured, shown quantity.Quantity, n int) error {
	if shown.Dim != readings[0].Dim {
		return &quantity.DimError{Op: "compare", Left: readings[0].Dim, Right: shown.Dim}
	}
	mean, spread := mean(readings)
	reference := math.Hypot(k.Reference.GainStd*shown.SI, k.Reference.OffsetStd)
	if off := math.Abs(shown.SI - mean); off > far*readings[0].Std()+far*reference {
		if n < fewest || off > most*math.Abs(shown.SI) {
			return fmt.Errorf("the reference shows %s, the channel reads %s: %w", shown.Text(6), readings[0], ErrFar)
		}
		k.beyond = true
	}
	var err error
	if k.Unit, err = record.Unit(shown.Dim); err != nil {
		return err
	}
	k.Points = append(k.Points, record.CalibratedPoint{State: p.Setting.String(), Reading: mean, ReadingStd: spread, Reference: shown.SI})
	k.offset = offsetOf(readings[0])
	k.allowed = append(k.allowed, far*math.Hypot(math.Hypot(spread, k.offset), reference))
	return nil
}

// What a channel may be off by beyond its wiring and be compared all the same: a
// gain that has drifted stays in proportion, so a line through three points or
// more holds it, and a slip of the pen does not. Own choices.
const (
	fewest = 3
	most   = 0.05
)

// holds demands of a channel that was off by more than its wiring allows for that
// its points lie on one line. Where they do not it names the point without which
// the others do best.
func (k *calibrated) holds() error {
	if !k.beyond || k.worst(Line{Centre: k.Centre, Level: k.Level, Slope: k.Slope}, -1) <= 1 {
		return nil
	}
	odd, least := 0, math.Inf(1)
	var through Line
	for i := range k.Points {
		l, err := Fit(comparisons(slices.Delete(slices.Clone(k.Points), i, i+1)), k.offset)
		if err != nil {
			return err
		}
		if rest := k.worst(l, i); rest < least {
			odd, least, through = i, rest, l
		}
	}
	p := k.Points[odd]
	return fmt.Errorf("in %s the reference shows %.4g %s, the line through the other points gives %.4g %s: %w",
		p.State, p.Reference, k.Unit, through.At(p.Reading), k.Unit, ErrFar)
}

// worst is how far the points but one lie from a line, at most, as a part of what
// is allowed.
func (k *calibrated) worst(l Line, but int) float64 {
	far := 0.0
	for i, p := range k.Points {
		if i != but {
			far = max(far, math.Abs(p.Reference-l.At(p.Reading))/k.allowed[i])
		}
	}
	return far
}

func comparisons(list []record.CalibratedPoint) []Comparison {
	out := make([]Comparison, len(list))
	for i, p := range list {
		out[i] = Comparison{Reading: p.Reading, Reference: p.Reference, Std: p.ReadingStd}
	}
	return out
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
func (k *calibrated) fit(w *wiring.Rig) error {
	points, top := comparisons(k.Points), 0.0
	for _, p := range k.Points {
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
		l = Shift(points[0], k.offset)
	default:
		if l, err = Fit(points, k.offset); err != nil {
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
