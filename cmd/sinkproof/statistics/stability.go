package statistics

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/cmd/sinkproof/statistics/columns"
	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/gauge"
)

// stabilityFlags are the flags of sinkproof study stability.
type stabilityFlags struct {
	outputs
	truthFlags
	format      columns.Format
	value, time string
}

func newStability() *cobra.Command {
	var f stabilityFlags
	c := &cobra.Command{
		Use:   "stability FILE --time COLUMN",
		Short: "Tells whether the readings of one reference drift over time",
		Long: `One reference is measured in sessions over time. A straight line through its readings
tells the drift, and an analysis of variance whether sessions differ at all. Rows with
the same time are one session; a time is a number, a date (2026-05-31) or an instant
(2026-05-31T07:30:00Z). Dates count in days.

For limits, and for a gauge that jumps rather than drifts, put the sessions on a
control chart: sinkproof study chart --kind xbar-s --subgroup COLUMN. The golden units
of a rig are watched by sinkproof rig golden drift.

--accept asks for a judgement: the drift from the first session to the last, to the
farther end of its interval, must not exceed so many percent of --tolerance. --judge
asks whether the interval holds 0; few readings pass that, too. Where a judgement is
negative the program ends with 1.

--json prints n, sessions, slope, slope_low, slope_high, slope_t, slope_p, the same of
intercept, residual_sd, df, r2, drift, drift_low, drift_high, percent_tolerance,
sessions_f, sessions_p. What is undefined is left out.`,
		Example: `  sinkproof study stability reference.csv --time day --value reading
  sinkproof study stability reference.csv --time day --value reading --tolerance 0.5 --accept 5 --pdf stability.pdf`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	fs.StringVar(&f.value, "value", "", "`column` of the readings; may be left out where only one is left")
	fs.StringVar(&f.time, "time", "", "`column` of the sessions' times: numbers, dates or instants")
	addFormat(fs, &f.format)
	f.outputs.add(fs)
	f.truthFlags.add(fs, "the drift, to the farther end of its interval,", "the interval of the drift must hold 0")
	return c
}

// timed are readings with their times.
type timed struct {
	table
	times []float64
	dates bool
}

func (f *stabilityFlags) run(c *cobra.Command, args []string) error {
	if f.time == "" {
		return trouble("--time COLUMN", "which column holds the times?")
	}
	if err := f.check(); err != nil {
		return err
	}
	t, err := f.read(c, args)
	if err != nil {
		return err
	}
	if err := t.spreads(); err != nil {
		return err
	}
	times, sessions := t.sessions()
	s, err := gauge.Stability(times, sessions, f.confidence.value)
	if err != nil {
		return trouble("two sessions at least, three readings at least", "%s: %w", t.source, err)
	}
	return f.show(c, study{kind: "Stability", title: t.title(), lead: "Whether the readings of one reference drift, with an interval of " + percent(f.confidence.value) + " confidence.",
		findings: []finding{f.answer(t, s, times)},
		method:   []string{"Least squares through every reading; sessions by an analysis of variance of one factor. AIAG, Measurement Systems Analysis, 4th ed., III.B, watches stability by a control chart: sinkproof study chart."}})
}

// read reads the file, the first time being 0 where times are dates.
func (f *stabilityFlags) read(c *cobra.Command, args []string) (*timed, error) {
	if err := oneFile(c, args); err != nil {
		return nil, err
	}
	t := &timed{}
	first := time.Time{}
	err := withTable(c, args[0], f.format, func(r *columns.Reader, name string) error {
		when, err := r.Find(f.time)
		if err != nil {
			return err
		}
		in := inputs{value: f.value}
		at, err := in.places(r, want{texts: []string{f.time}})
		if err != nil {
			return err
		}
		t.origin = origin{source: name, column: r.Names()[at.value], leftWhy: "without a value"}
		for n := 0; ; n++ {
			if err := r.Next(); errors.Is(err, io.EOF) {
				return c.Context().Err()
			} else if err != nil {
				return err
			}
			if r.Empty(at.value) {
				t.left++
				continue
			}
			v, err := r.Number(at.value)
			if err != nil {
				return err
			}
			if err := t.at(r, name, when, &first); err != nil {
				return err
			}
			t.values = append(t.values, v)
		}
	})
	if err != nil {
		return nil, err
	}
	return t, t.enough(3)
}

// at takes the time of a row.
func (t *timed) at(r *columns.Reader, file string, column int, first *time.Time) error {
	text := string(r.Text(column))
	for _, layout := range []string{time.DateOnly, time.RFC3339} {
		day, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		if len(t.times) == 0 {
			*first, t.dates = day, true
		}
		if !t.dates {
			return wrong(r, file, column, "one kind of time in one file", "a date after numbers: %q", text)
		}
		t.times = append(t.times, day.Sub(*first).Hours()/24)
		return nil
	}
	v, err := r.Number(column)
	switch {
	case err != nil && (t.dates || len(t.times) == 0):
		return wrong(r, file, column, "a number, 2026-05-31, or 2026-05-31T07:30:00Z", "%q is no time", text)
	case err != nil:
		return err
	case t.dates:
		return wrong(r, file, column, "one kind of time in one file", "a number after dates: %q", text)
	}
	t.times = append(t.times, v)
	return nil
}

// sessions are the readings by their times, in order.
func (t *timed) sessions() (times []float64, sessions [][]float64) {
	by := map[float64][]float64{}
	for i, v := range t.values {
		by[t.times[i]] = append(by[t.times[i]], v)
	}
	for at := range by {
		times = append(times, at)
	}
	slices.Sort(times)
	for _, at := range times {
		sessions = append(sessions, by[at])
	}
	return times, sessions
}

// per is what the slope is counted by.
func (t *timed) per(column string) string {
	if t.dates {
		return "day"
	}
	return "unit of " + strconv.Quote(column)
}

func (f *stabilityFlags) answer(t *timed, s gauge.Stable, times []float64) finding {
	var out finding
	span := times[len(times)-1] - times[0]
	drift := quality.Interval{Low: s.Drift.Slope.Low * span, High: s.Drift.Slope.High * span}
	out.fields.add("n", len(t.values))
	out.fields.add("sessions", len(times))
	addLine(&out.fields, s.Drift)
	out.fields.number("drift", s.Drift.Slope.Value*span)
	out.fields.interval("drift", drift)
	out.fields.number("percent_tolerance", f.share(worst(drift)))
	out.fields.number("sessions_f", s.Sessions.F)
	out.fields.number("sessions_p", s.Sessions.P)
	differ := "each has one reading: not to be told"
	if !math.IsNaN(s.Sessions.P) {
		differ = fmt.Sprintf("F %s, p %s", show(s.Sessions.F), showP(s.Sessions.P))
	}
	out.section.Facts = append([]page.Row{
		{Label: "readings", Text: fmt.Sprintf("%d in %s", len(t.values), counted(len(times), "session"))},
		{Label: "slope", Text: fmt.Sprintf("%s a %s (%s), p %s", show(s.Drift.Slope.Value), t.per(f.time), between(s.Drift.Slope.Interval), showP(s.Drift.Slope.P))},
		{Label: "drift, first to last", Text: fmt.Sprintf("%s (%s)%s", show(s.Drift.Slope.Value*span), between(drift), f.shareWords(worst(drift)))},
		{Label: "sessions differ?", Text: differ},
	}, t.leftRows()...)
	out.draw = func() (figures, error) { return f.draw(t, s) }
	f.accepts(&out, "the drift", worst(drift))
	if f.judge {
		said := "no drift is seen"
		if !drift.Contains(0) {
			said = "it drifts"
		}
		out.judge(drift.Contains(0), fmt.Sprintf("%s: the interval goes from %s", said, between(drift)))
	}
	return out
}

// draw are the readings over time with the line.
func (f *stabilityFlags) draw(t *timed, s gauge.Stable) (figures, error) {
	var dots []plot.Point
	for i, v := range t.values {
		dots = append(dots, plot.Point{X: t.times[i], Y: v})
	}
	x := plot.Axis{Name: f.time, Floating: true}
	if t.dates {
		x.Name = "days after the first session"
	}
	return figures{wide(bandPicture("Readings over time", x, t.axis(), dots, s.Drift))}, nil
}
