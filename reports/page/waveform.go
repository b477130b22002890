package page

import (
	"fmt"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// figure turns a waveform into a figure, with time from its first sample. It
// returns an error that names the waveform where it cannot be drawn.
func figure(w record.Waveform) (plot.Figure, error) {
	if len(w.Samples) == 0 {
		return plot.Figure{}, fmt.Errorf("%s: no samples", w.Title)
	}
	start := w.Instant(0)
	y, shift := yAxis(w)
	f := plot.Figure{
		Title: tie(w.Title), Note: sampling(w), X: plot.Axis{Name: "time", Unit: "s"}, Y: y,
	}
	for i, v := range w.Samples {
		f.Curve = append(f.Curve, plot.Point{X: seconds(w.Instant(i) - start), Y: v - shift})
	}
	for _, t := range w.Thresholds {
		f.Levels = append(f.Levels, plot.Level{Label: t.Label, Y: t.Value - shift})
	}
	for _, m := range w.Marks {
		f.Marks = append(f.Marks, plot.Mark{Label: m.Label, X: seconds(m.AtUS - start)})
	}
	if err := f.Validate(); err != nil {
		return f, err
	}
	return f, nil
}

func seconds(us int64) float64 { return float64(us) / 1e6 }

// zeroCelsius is 0 °C in kelvin (International System of Units, 9th edition,
// 2.3.1).
const zeroCelsius = 273.15

// yAxis names the channel as a reader would. Temperatures are shown in
// degrees Celsius, which lie shift below the record's kelvin.
func yAxis(w record.Waveform) (axis plot.Axis, shift float64) {
	axis = plot.Axis{Name: channelText(w.Channel), Unit: w.Unit}
	if w.Unit == "K" {
		return plot.Axis{Name: axis.Name, Unit: "°C", Floating: true}, zeroCelsius
	}
	return axis, 0
}

// channelText is what a reader calls a channel. The names are those of the
// shipped rigs; another rig's names stand as they are.
func channelText(name string) string {
	switch name {
	case "vbus":
		return "VBUS"
	case "cc1":
		return "CC1"
	case "cc2":
		return "CC2"
	case "ibus":
		return "current"
	case "vforce":
		return "VBUS of the supply"
	case "vbat":
		return "cell"
	case "vprobe":
		return "probe rail"
	case "rd1":
		return "Rd at CC1"
	case "rd2":
		return "Rd at CC2"
	}
	return name
}

// sampling says how the waveform was sampled: a curve without its interval
// cannot be judged.
func sampling(w record.Waveform) string {
	n := len(w.Samples)
	if n == 1 {
		return "1 sample, at " + offsetText(w.Instant(0)) + " of the run"
	}
	step := float64(w.Instant(n-1)-w.Instant(0)) / float64(n-1) / 1000
	return fmt.Sprintf("%d samples, %.4g\u00a0ms apart on average, from %s of the run", n, step, offsetText(w.Instant(0)))
}
