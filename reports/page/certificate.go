package page

import (
	"fmt"
	"math"
	"strings"

	"sinkproof/bench/quantity"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// Certificate is the view of a calibration: what a bench was compared with and
// what follows for its readings.
type Certificate struct {
	Title string
	Twin  bool
	// Lead says in a sentence what was done.
	Lead     string
	Facts    []Row
	Results  []CertificateResult
	Channels []CertificateChannel
	Method   []string
	Evidence []Row
	// Started dates the documents, RFC 3339.
	Started string
}

// CertificateResult is the outcome of one channel in one line.
type CertificateResult struct {
	Channel, Points  string
	Gain, Offset     string // how far the channel was off
	Before, After    string // U at the highest point
	Residual, Degree string
}

// CertificateChannel is one channel with its points.
type CertificateChannel struct {
	Title  string
	Line   string
	Points []CertificatePoint
	// Figure is the error of the readings before and after.
	Figure plot.Figure
}

// CertificatePoint is one comparison. Errors are reading minus reference.
type CertificatePoint struct {
	State, Reading, Reference string
	Before, After             string
}

// NewCertificate makes the view of a calibration. Doc must be valid.
func NewCertificate(doc record.Calibration, proof Proof) Certificate {
	carried := 0
	for _, k := range doc.Channels {
		if k.From != "" {
			carried++
		}
	}
	c := Certificate{
		Title: "Calibration of " + doc.Bench.Name, Twin: doc.Bench.Kind == record.Twin, Started: doc.Made,
		Lead: fmt.Sprintf("%s of %s were compared with a reference on %s. The next calibration is due on %s.",
			channelCount(len(doc.Channels)-carried), doc.Bench.Name, startText(doc.Made), startText(doc.Due)),
		Method: certificateMethod(),
	}
	if carried > 0 {
		c.Lead += fmt.Sprintf(" %s were compared earlier and are carried over.", capital(channelCount(carried)))
	}
	c.Facts = filled([]Row{
		{"Calibration", doc.ID}, {"Bench", doc.Bench.Name}, {"Made", startText(doc.Made)}, {"Due", startText(doc.Due)},
		{"Read by", doc.By}, {"Reference", referencesText(doc)}, {"Program", "sinkproof " + doc.Bench.Program}, {"Computer", doc.Bench.Computer},
	})
	c.Evidence = []Row{
		{"Entry", fmt.Sprintf("%d of this bench's chain", proof.Seq)}, {"Hash", grouped(proof.Hash)}, {"Signing key", grouped(proof.Key)},
		{"Wiring file", strings.TrimSpace(doc.Wiring.Name+" "+doc.Wiring.Version) + ", SHA-256 " + grouped(doc.Wiring.SHA256)},
	}
	for _, k := range doc.Channels {
		c.Results = append(c.Results, resultOf(k))
		c.Channels = append(c.Channels, channelOf(k))
	}
	return c
}

// channelCount says how many channels there are, so that "were" follows.
func channelCount(n int) string {
	if n == 1 {
		return "The readings of one channel"
	}
	return fmt.Sprintf("%d channels", n)
}

func certificateMethod() []string {
	return []string{
		"The rig stood in states of its own wiring, its nest empty or, for large currents, with its check receptacle as the load. In each the channel was read ten times around the reading of the reference, between the same net and ground, in series with the same shunt, or beside the same sensor.",
		"A straight line through the points by least squares (JCGM 100:2008, H.3). Two points leave no residual, one point leaves the offset as the wiring file bounds it.",
		"Uncertainty of a corrected reading (JCGM 100:2008): the fit (level and slope), gain and offset of the reference, drift until the due date, the converter's step and repeatability. U is the expanded uncertainty, k = 2, at the highest point, of a current at the top of its range.",
		"A channel that the calibration would not make better keeps the tolerances of the wiring file and is not listed.",
	}
}

// referencesText names every reference once, with its expanded uncertainty.
func referencesText(doc record.Calibration) string {
	var texts []string
	seen := map[record.Reference]bool{}
	for _, k := range doc.Channels {
		r := k.Reference
		if seen[r] {
			continue
		}
		seen[r] = true
		text := r.Name
		if r.Certificate != "" {
			text += ", certificate " + r.Certificate
		}
		texts = append(texts, fmt.Sprintf("%s, U = %.2g\u00a0%% of the value and %s (k = 2)", text, 200*r.GainStd, inUnit(2*r.OffsetStd, k.Unit, 2)))
	}
	return strings.Join(texts, "; ")
}

// inUnit prints a number in a record's unit.
func inUnit(si float64, unit string, digits int) string {
	dim, err := record.Dimension(unit)
	if err != nil {
		return fmt.Sprintf("%g %s", si, unit)
	}
	return quantity.Quantity{SI: si, Dim: dim}.Text(digits)
}

func resultOf(k record.CalibratedChannel) CertificateResult {
	r := CertificateResult{
		Channel: channelName(k), Points: fmt.Sprint(len(k.Points)),
		Gain: fmt.Sprintf("%+.3f\u00a0%%", 100*(1/k.Slope-1)), Offset: inUnit(-k.Corrected(0)/k.Slope, k.Unit, 2),
		Before: "±" + inUnit(k.UBefore, k.Unit, 2), After: "±" + inUnit(k.UAfter, k.Unit, 2), Residual: "none", Degree: "∞",
	}
	if k.DOF > 0 {
		squares := 0.0
		for _, p := range k.Points {
			d := p.Reference - k.Corrected(p.Reading)
			squares += d * d
		}
		r.Residual, r.Degree = inUnit(math.Sqrt(squares/k.DOF), k.Unit, 2), fmt.Sprint(k.DOF)
	}
	switch {
	case k.Unit == "K" && len(k.Points) == 1:
		r.Gain, r.Offset = "not seen", inUnit(k.Centre-k.Level, k.Unit, 2)
	case len(k.Points) == 1:
		r.Offset = "not seen"
	}
	return r
}

func channelName(k record.CalibratedChannel) string {
	return strings.TrimSpace(k.Channel + " " + k.Range)
}

func channelOf(k record.CalibratedChannel) CertificateChannel {
	title := channelName(k)
	if k.From != "" {
		title += ", carried over from calibration " + k.From
	}
	c := CertificateChannel{
		Title: title,
		Line:  fmt.Sprintf("value = %s + %.6f · (reading − %s)", inUnit(k.Level, k.Unit, 6), k.Slope, inUnit(k.Centre, k.Unit, 6)),
		Figure: plot.Figure{
			Title: channelName(k) + ": error of the readings before the calibration",
			Note:  "Reading minus reference over what the reference showed; the lines are the expanded uncertainty of a reading afterwards.",
			X:     plot.Axis{Name: "reference", Unit: k.Unit}, Y: plot.Axis{Name: "error", Unit: k.Unit},
			Levels: []plot.Level{{Label: "U now", Y: k.UAfter}, {Label: "−U now", Y: -k.UAfter}},
		},
	}
	for _, p := range k.Points {
		c.Points = append(c.Points, CertificatePoint{
			State: p.State, Reading: inUnit(p.Reading, k.Unit, 6), Reference: inUnit(p.Reference, k.Unit, 6),
			Before: inUnit(p.Reading-p.Reference, k.Unit, 2), After: inUnit(visible(k.Corrected(p.Reading)-p.Reference, p.Reference), k.Unit, 2),
		})
		c.Figure.Curve = append(c.Figure.Curve, plot.Point{X: p.Reference, Y: p.Reading - p.Reference})
	}
	return c
}

// visible is a difference, or zero where it is no more than the rounding of the
// numbers that it was taken of: two points lie on their line.
func visible(d, of float64) float64 {
	if math.Abs(d) <= 1e-12*math.Max(1, math.Abs(of)) {
		return 0
	}
	return d
}

// drawn tells whether a figure says anything: one point makes no curve.
func (c CertificateChannel) drawn() bool {
	if len(c.Figure.Curve) < 2 {
		return false
	}
	for i := 1; i < len(c.Figure.Curve); i++ {
		if c.Figure.Curve[i].X < c.Figure.Curve[i-1].X {
			return false
		}
	}
	return true
}
