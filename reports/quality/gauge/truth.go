package gauge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/moments"
)

// Offset is the bias of a gauge at one reference.
type Offset struct {
	Bias     float64 // mean reading minus reference
	SD       float64 // of the readings
	SE       float64 // of their mean
	T, DF, P float64 // against no bias, two-sided; NaN for no spread
	quality.Interval
}

// Bias compares readings of one reference with its value. It needs two readings.
// The spread is the standard deviation, not a range over d2*.
func Bias(readings []float64, reference, confidence float64) (Offset, error) {
	if err := quality.Usable(readings, 2); err != nil {
		return Offset{}, fmt.Errorf("bias: %w", err)
	}
	m := moments.Of(readings).Moments()
	o := Offset{Bias: m.Mean - reference, SD: m.SD, SE: m.SD / math.Sqrt(float64(m.N)), DF: float64(m.N - 1)}
	o.T, o.P, o.Interval = student(o.Bias, o.SE, o.DF, confidence)
	return o, nil
}

// student returns t, its two-sided p-value and the interval of an estimate.
func student(estimate, se, df, confidence float64) (t, p float64, i quality.Interval) {
	law := distuv.StudentsT{Sigma: 1, Nu: df}
	t = estimate / se
	if p = 2 * law.Survival(math.Abs(t)); math.IsNaN(t) {
		p = math.NaN()
	}
	i = quality.Undefined()
	if quality.Probability(confidence) {
		half := law.Quantile((1+confidence)/2) * se
		i = quality.Interval{Low: estimate - half, High: estimate + half}
	}
	return t, p, i
}

// Coefficient is one of a fitted line, with the test against 0.
type Coefficient struct {
	Value, SE, T, P float64
	quality.Interval
}

// Line is a least-squares line with its tests.
type Line struct {
	Slope, Intercept Coefficient
	Residual         float64 // standard deviation about the line
	R2               float64
	DF               float64

	n, centre, squares, quantile float64
}

// fit draws the line through y over x.
func fit(x, y []float64, confidence float64) (Line, error) {
	if err := quality.Usable(y, 3); err != nil {
		return Line{}, err
	}
	if err := quality.Usable(x, 3); err != nil {
		return Line{}, err
	}
	mx, my := moments.Of(x).Moments(), moments.Of(y).Moments()
	if !(mx.SquaresFromMid > 0) {
		return Line{}, fmt.Errorf("all at %v: a line needs two places: %w", mx.Mean, quality.ErrSample)
	}
	xy, left := 0.0, 0.0
	for i := range x {
		xy += (x[i] - mx.Mean) * (y[i] - my.Mean)
	}
	l := Line{n: float64(len(x)), centre: mx.Mean, squares: mx.SquaresFromMid, DF: float64(len(x) - 2)}
	l.Slope.Value = xy / l.squares
	l.Intercept.Value = my.Mean - l.Slope.Value*l.centre
	for i := range x {
		left += square(y[i] - my.Mean - l.Slope.Value*(x[i]-l.centre))
	}
	l.Residual = math.Sqrt(left / l.DF)
	l.R2 = 1 - left/my.SquaresFromMid
	l.Slope.SE = l.Residual / math.Sqrt(l.squares)
	l.Intercept.SE = l.Residual * math.Sqrt(1/l.n+l.centre*l.centre/l.squares)
	for _, c := range []*Coefficient{&l.Slope, &l.Intercept} {
		c.T, c.P, c.Interval = student(c.Value, c.SE, l.DF, confidence)
	}
	l.quantile = distuv.StudentsT{Sigma: 1, Nu: l.DF}.Quantile((1 + confidence) / 2)
	return l, nil
}

// At returns the line at x and the interval of its mean there.
func (l Line) At(x float64) (float64, quality.Interval) {
	v := l.Intercept.Value + l.Slope.Value*x
	half := l.quantile * l.Residual * math.Sqrt(1/l.n+square(x-l.centre)/l.squares)
	return v, quality.Interval{Low: v - half, High: v + half}
}

// Linear is a linearity study: the bias over the reach of a gauge.
type Linear struct {
	Line                       // of the bias over the reference
	Offsets []Offset           // at each reference
	Bands   []quality.Interval // of the line at each reference
}

// Linearity fits the bias of readings over their references: readings[i] are
// those of references[i]. A slope tells that the bias depends on what is
// measured. Each reference needs two readings. (AIAG MSA, 4th ed., III.B.)
func Linearity(references []float64, readings [][]float64, confidence float64) (Linear, error) {
	if len(references) != len(readings) {
		return Linear{}, fmt.Errorf("linearity: %d references, but readings of %d: %w", len(references), len(readings), quality.ErrSample)
	}
	var out Linear
	var x, y []float64
	for i, ref := range references {
		o, err := Bias(readings[i], ref, confidence)
		if err != nil {
			return Linear{}, fmt.Errorf("linearity at reference %v: %w", ref, err)
		}
		out.Offsets = append(out.Offsets, o)
		for _, v := range readings[i] {
			x, y = append(x, ref), append(y, v-ref)
		}
	}
	l, err := fit(x, y, confidence)
	if err != nil {
		return Linear{}, fmt.Errorf("linearity: %w", err)
	}
	out.Line = l
	for _, ref := range references {
		_, band := l.At(ref)
		out.Bands = append(out.Bands, band)
	}
	return out, nil
}

// Stable is a stability study: one reference measured in sessions over time.
type Stable struct {
	Drift    Line   // of the readings over time, in their unit per unit of time
	Sessions Source // between sessions against within: do sessions differ at all
}

// Stability fits readings of one reference over the times of their sessions.
// Each session needs a reading, one of them two. For a picture over time, and
// for limits, put the sessions on a control chart.
func Stability(times []float64, sessions [][]float64, confidence float64) (Stable, error) {
	if len(times) != len(sessions) {
		return Stable{}, fmt.Errorf("stability: %d times, but %d sessions: %w", len(times), len(sessions), quality.ErrSample)
	}
	var x, y []float64
	within, between := line(0, 0), line(0, float64(len(sessions)-1))
	for i, s := range sessions {
		if err := quality.Usable(s, 1); err != nil {
			return Stable{}, fmt.Errorf("stability: session %d: %w", i+1, err)
		}
		within.SS += moments.Of(s).Moments().SquaresFromMid
		within.DF += float64(len(s) - 1)
		for _, v := range s {
			x, y = append(x, times[i]), append(y, v)
		}
	}
	l, err := fit(x, y, confidence)
	if err != nil {
		return Stable{}, fmt.Errorf("stability: %w", err)
	}
	between.SS = math.Max(0, moments.Of(y).Moments().SquaresFromMid-within.SS)
	between.MS, within.MS = between.SS/between.DF, within.SS/within.DF
	between.against(within)
	return Stable{Drift: l, Sessions: between}, nil
}

// Pool returns the standard deviation of repeated measurements from the sums of
// squares of single sets, each with df degrees of freedom, and their total
// degrees (NIST/SEMATECH e-Handbook, section 2.4.4). NaN for no set.
func Pool(squares []float64, df float64) (sd, total float64) {
	sum := 0.0
	for _, s := range squares {
		sum += s
	}
	total = df * float64(len(squares))
	return math.Sqrt(sum / total), total
}
