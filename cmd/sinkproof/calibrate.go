package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/calibration"
)

// calibrateFlags are the flags of sinkproof rig calibrate.
type calibrateFlags struct {
	rig, nest, ledger, out  string
	channels, faults        []string
	reference, certificate  string
	gain, offset            string
	driftGain, driftOffset  string
	by, file                string
	days                    int
	seed                    uint64
	form, json              bool
	gainOf, offsetOf        quantity.Quantity
	driftGainOf, driftOffOf quantity.Quantity
	// dim is what the reference shows.
	dim quantity.Dim
}

func newCalibrate() *cobra.Command {
	var f calibrateFlags
	c := described(&cobra.Command{
		Use:   "calibrate --reference NAME --by PERSON",
		Short: "Compares the channels with a reference and keeps what follows",
		Long: `Leads an empty rig through states of its own in which its channels read
different voltages, asks what a reference instrument shows there, and fits a line
to each channel. The result, with its uncertainty (JCGM 100), is signed and kept
in the ledger; later runs stand on it and name it. On a rig with several nests
each is calibrated for itself (--nest), and its runs stand on its own.

The readings of the reference are typed at a prompt, or come from a file
(--readings), for which --form prints an empty one. With a shipped rig, which is
the default, everything happens on the twin, whose reference reads the circuit.

Without --channel the voltages are compared. A current (--channel ibus) needs an
ammeter in series with the shunt that the prompt names, and the check receptacle
as its load, which the prompt asks for; a temperature needs a thermometer beside
the sensor, a termination (--channel rd1) an ohmmeter at its pull-ups: one
instrument at a time. Channels of the calibration in force that are not compared
now are carried over, with their due date. Channels that a calibration would not
make better keep the wiring's tolerances.

A channel that is off by more than its tolerances, and by less than 5 %, is
compared where three points or more lie on one line. Its readings are corrected
then, and the self-test still names it.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig calibrate
  sinkproof rig calibrate --rig bench.hcl --reference "meter 7" --certificate C-2026-17 --reference-gain "0.01 %" --reference-offset "0.2 mV" --by "A. Engineer"
  sinkproof rig calibrate --rig bench.hcl --form > readings.csv
  sinkproof rig calibrate --channel ibus
  sinkproof rig calibrate --channel ibus --twin-fault channel-gain:meter1:0:0.02
  sinkproof rig calibrate --rig bench-four --nest nest-2`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.nest, "nest", "", "`nest` to calibrate, on a rig with several")
	fs.StringSliceVar(&f.channels, "channel", nil, "the `channels` (default: the voltages that a run reads)")
	fs.StringVar(&f.reference, "reference", "", "`name` of the reference instrument")
	fs.StringVar(&f.certificate, "certificate", "", "`number` of its certificate")
	fs.StringVar(&f.gain, "reference-gain", "", "its expanded uncertainty (k = 2) in proportion to the value, such as 0.01 %")
	fs.StringVar(&f.offset, "reference-offset", "", "its expanded uncertainty (k = 2) at zero, such as 0.2 mV, 1 µA, 0.1 Ω or 0.1 K")
	fs.StringVar(&f.driftGain, "drift-gain", "", "what a channel may drift by until the due date, in proportion (default 0.02 %, of a temperature 0 %)")
	fs.StringVar(&f.driftOffset, "drift-offset", "", "what a channel may drift by until the due date, at zero (default 0.1 mV, 2 µA, 0.1 Ω, 0.1 K)")
	fs.StringVar(&f.by, "by", "", "`person` who reads the reference")
	fs.StringVar(&f.file, "readings", "", "comma-separated `file` with the readings of the reference")
	fs.BoolVar(&f.form, "form", false, "print a form for --readings and end")
	fs.IntVar(&f.days, "days", 365, "days until the next calibration is due")
	fs.Uint64Var(&f.seed, "seed", 1, "seed of the twin")
	fs.StringArrayVar(&f.faults, "twin-fault", nil, "break the twin: `KIND:PART[:INDEX[:VALUE]]`, more than once for several")
	fs.StringVar(&f.ledger, "ledger", "", "the ledger's `file` (default ledger.db in the output folder)")
	fs.StringVar(&f.out, "out", "sinkproof-runs", "output `folder` for the certificate")
	fs.BoolVar(&f.json, "json", false, "print the calibration")
	return c
}

// twinReference is a bench meter of six digits. Own choice, as its figures below
// and what is allowed for drift.
const twinReference = "reference meter of the twin"

// customs are what is taken where nothing is said, for a dimension: the twin's
// reference and the drift.
func customs(dim quantity.Dim) (gain, offset, driftGain, driftOffset string) {
	switch dim {
	case quantity.Current:
		return "0.02 %", "1 µA", "0.02 %", "2 µA"
	case quantity.Temperature:
		return "0 %", "0.1 K", "0 %", "0.1 K"
	case quantity.Resistance:
		return "0.01 %", "0.1 Ω", "0.02 %", "0.1 Ω"
	}
	return "0.01 %", "0.2 mV", "0.02 %", "0.1 mV"
}

func (f *calibrateFlags) run(c *cobra.Command) error {
	own := exists(f.rig)
	rig, err := loadRig(f.rig, c.ErrOrStderr())
	if err != nil {
		return err
	}
	if rig, err = oneNest(rig, f.nest); err != nil {
		return err
	}
	if err := f.measures(rig.Rig, own); err != nil {
		return err
	}
	if err := f.complete(own); err != nil {
		return err
	}
	prod, _, err := product.Load(defaultProduct)
	if err != nil {
		return fmt.Errorf("product of the twin: %w", err)
	}
	s := &station{papers: &papers{rig: rig, product: prod, own: own}, screen: newScreen(c.ErrOrStderr()), out: f.out}
	ref, leave, err := f.open(c, s)
	if err != nil {
		return err
	}
	if f.form {
		return errors.Join(f.printForm(c, s, ref), leave())
	}
	if err := makeFolder(filepath.Dir(f.ledger)); err != nil {
		return errors.Join(err, leave())
	}
	if err := s.openLedger(c.Context(), f.ledger); err != nil {
		return errors.Join(err, leave())
	}
	err = f.calibrate(c, s, ref)
	return errors.Join(err, s.ledger.Close(), leave())
}

// measures finds what the reference shows: all channels are of one dimension.
func (f *calibrateFlags) measures(w *wiring.Rig, own bool) error {
	names := f.channels
	if f.file != "" {
		script, err := f.script(w)
		if err != nil {
			return err
		}
		names = nil
		for _, p := range script.Plan {
			names = append(names, p.Channel.Name)
		}
	}
	f.dim = quantity.Voltage
	for i, name := range names {
		channel, ok := w.Channel(name)
		if !ok || !slices.Contains(calibration.All(w), name) {
			return usage(source.Suggest(name, calibration.All(w)), "--channel %s: no channel that can be compared", name)
		}
		if dim := calibration.Dim(channel); i == 0 {
			f.dim = dim
		} else if dim != f.dim {
			return usage("calibrate them one after the other; what is not compared is carried over", "channels %s and %s need two instruments", names[0], name)
		}
	}
	if f.dim == quantity.Temperature && !own && f.file == "" {
		return usage("--readings FILE, or --rig FILE on hardware", "the twin has no thermometer to compare with")
	}
	return nil
}

// script reads the readings of --readings.
func (f *calibrateFlags) script(w *wiring.Rig) (*calibration.Script, error) {
	data, err := os.Open(f.file)
	if err != nil {
		return nil, usage("--form prints an empty one", "--readings: %w", err)
	}
	script, err := calibration.ReadScript(data, w)
	if err = errors.Join(err, data.Close()); err != nil {
		return nil, usage("--form prints an empty one", "--readings %s: %w", f.file, err)
	}
	return script, nil
}

// complete fills in what the twin has by itself, and demands what a real
// calibration must say.
func (f *calibrateFlags) complete(own bool) error {
	f.ledger = cmp.Or(f.ledger, filepath.Join(f.out, "ledger.db"))
	gain, offset, driftGain, driftOffset := customs(f.dim)
	f.driftGain, f.driftOffset = cmp.Or(f.driftGain, driftGain), cmp.Or(f.driftOffset, driftOffset)
	if !own {
		f.reference, f.by = cmp.Or(f.reference, twinReference), cmp.Or(f.by, "the twin")
		f.gain, f.offset = cmp.Or(f.gain, gain), cmp.Or(f.offset, offset)
	}
	if f.dim == quantity.Temperature {
		f.gain = cmp.Or(f.gain, gain)
	}
	if f.form {
		return nil
	}
	for _, x := range []struct{ flag, text string }{
		{"--reference", f.reference}, {"--by", f.by}, {"--reference-gain", f.gain}, {"--reference-offset", f.offset},
	} {
		if x.text == "" {
			return usage("its certificate says it", "a calibration without %s is worth nothing", x.flag)
		}
	}
	if f.days < 1 {
		return usage("--days 365", "--days %d: it would never be in force", f.days)
	}
	for _, x := range []struct {
		flag, text string
		dim        quantity.Dim
		into       *quantity.Quantity
	}{
		{"--reference-gain", f.gain, quantity.Number, &f.gainOf}, {"--reference-offset", f.offset, f.dim, &f.offsetOf},
		{"--drift-gain", f.driftGain, quantity.Number, &f.driftGainOf}, {"--drift-offset", f.driftOffset, f.dim, &f.driftOffOf},
	} {
		q, err := quantity.ParseAs(x.text, x.dim)
		if err == nil && !(q.SI >= 0) {
			err = fmt.Errorf("%s is below 0", q)
		}
		if err != nil {
			return usage("", "%s %s: %w", x.flag, x.text, err)
		}
		*x.into = q
	}
	return nil
}

// open takes the computer or makes a twin, and finds who reads the reference.
func (f *calibrateFlags) open(c *cobra.Command, s *station) (calibration.Reference, func() error, error) {
	if s.papers.own {
		pc, err := openComputer(c.Context(), s.papers.rig.Rig, "sinkproof calibrate")
		if err != nil {
			return nil, nil, err
		}
		s.hardware = pc.Hardware
		if s.identity, err = hardwareIdentity(s.papers, f.ledger); err != nil {
			return nil, nil, errors.Join(err, pc.Close())
		}
		o := &operator{in: bufio.NewReader(c.InOrStdin()), out: c.ErrOrStderr()}
		s.handler = o
		return &typist{operator: o, wiring: s.papers.rig.Rig}, pc.Close, nil
	}
	sim, err := newSimulated(s.papers, f.seed, false)
	if err != nil {
		return nil, nil, err
	}
	if err := breakTwin(sim.twin, f.faults); err != nil {
		return nil, nil, err
	}
	s.handler, s.hardware = sim, sim.twin.Hardware()
	if s.identity, err = twinIdentity(s.papers, f.seed, s.hardware.Clock); err != nil {
		return nil, nil, err
	}
	r := rand.New(rand.NewPCG(f.seed, uint64(f.days)))
	ref := &twinMeter{twin: sim.twin, rig: s.papers.rig.Rig, gain: f.gainOf.SI / 2 * r.NormFloat64(), offset: f.offsetOf.SI / 2 * r.NormFloat64()}
	return ref, func() error { return sim.twin.Truth().Err() }, nil
}

// plan is that of the file, or what a survey finds. Who reads the reference also
// seats the check receptacle.
func (f *calibrateFlags) plan(ctx context.Context, s *station, rig *bench.Rig, ref calibration.Reference) ([]calibration.Point, calibration.Reference, error) {
	if f.file == "" {
		names := f.channels
		if len(names) == 0 {
			names = calibration.Channels(rig.Wiring())
		}
		if f.dim == quantity.Temperature || f.dim == quantity.Resistance {
			plan, err := isolated(rig.Wiring(), names)
			return plan, nil, err
		}
		s.screen.line("looking for states in which the channels differ")
		hands, _ := ref.(calibration.Hands)
		plan, err := calibration.Survey(ctx, rig, names, hands)
		return plan, nil, err
	}
	script, err := f.script(rig.Wiring())
	if err != nil {
		return nil, nil, err
	}
	return script.Plan, script, nil
}

// isolated are the points of what is the same in every state: a temperature, and
// the pull-ups of a termination.
func isolated(w *wiring.Rig, names []string) ([]calibration.Point, error) {
	var plan []calibration.Point
	for _, name := range names {
		if c, ok := w.Channel(name); ok && c.Kind == wiring.TerminationChannel {
			plan = append(plan, calibration.Pulls(c)...)
			continue
		}
		p, err := calibration.Named(w, name, bench.Isolated)
		if err != nil {
			return nil, err
		}
		plan = append(plan, p)
	}
	return plan, nil
}

func (f *calibrateFlags) printForm(c *cobra.Command, s *station, ref calibration.Reference) error {
	rig, _, err := openBench(c.Context(), s.papers, s.hardware)
	if err != nil {
		return err
	}
	s.handler.attend(rig)
	f.file = ""
	plan, _, err := f.plan(c.Context(), s, rig, ref)
	if err = errors.Join(err, rig.Close()); err != nil {
		return calibrationTrouble(err)
	}
	return calibration.WriteForm(c.OutOrStdout(), plan)
}

func (f *calibrateFlags) calibrate(c *cobra.Command, s *station, ref calibration.Reference) error {
	ctx := c.Context()
	now := s.now()
	if _, err := s.trustClock(ctx); err != nil {
		return err
	}
	got, err := f.compare(ctx, s, ref)
	if err != nil {
		return calibrationTrouble(err)
	}
	for _, left := range got.Left {
		s.screen.line("left alone: %s", left)
	}
	for _, beyond := range got.Beyond {
		s.screen.line("beyond what its wiring allows for: %s; they are corrected, and the self-test still names the channel", beyond)
	}
	if len(got.Channels) == 0 {
		return noJudge(errors.New("the reference makes no channel better than the tolerances of the wiring file"), "take a better reference")
	}
	of := s.papers.calibrated(s.bench)
	before, err := s.ledger.Calibrations(ctx, of)
	if err != nil {
		return fmt.Errorf("count the calibrations: %w", err)
	}
	id, err := record.NewID(now, s.random("calibration", len(before)+1))
	if err != nil {
		return fmt.Errorf("name the calibration: %w", err)
	}
	w := s.papers.rig
	doc := record.Calibration{
		ID: id, Bench: of, Made: record.Instant(now), Due: record.Instant(now.Add(time.Duration(f.days) * 24 * time.Hour)), By: f.by,
		Wiring:   record.File{Role: record.RoleWiring, Name: w.Rig.Name, Version: w.Rig.Version, SHA256: w.File.SHA256},
		Channels: got.Channels,
	}
	if len(before) > 0 {
		if last := before[len(before)-1]; inForce(last, w.File.SHA256, now, time.Time{}) == nil {
			doc = carryOver(doc, last)
		}
	}
	entry, err := s.ledger.Calibrate(context.WithoutCancel(ctx), doc)
	if err != nil {
		return noJudge(fmt.Errorf("keep the calibration: %w", err), "mend what the ledger complains of and calibrate again")
	}
	return f.publish(c.OutOrStdout(), s, doc, entry)
}

// carryOver adds what the calibration in force says of channels that were not
// compared now. The first of the two that is due is when all of it is.
func carryOver(doc, last record.Calibration) record.Calibration {
	for _, k := range last.Channels {
		if slices.ContainsFunc(doc.Channels, func(c record.CalibratedChannel) bool { return c.Channel == k.Channel && c.Range == k.Range }) {
			continue
		}
		k.From = cmp.Or(k.From, last.ID)
		doc.Channels = append(doc.Channels, k)
		if last.Due < doc.Due {
			doc.Due = last.Due
		}
	}
	return doc
}

func (f *calibrateFlags) compare(ctx context.Context, s *station, ref calibration.Reference) (calibration.Result, error) {
	rig, _, err := openBench(ctx, s.papers, s.hardware)
	if err != nil {
		return calibration.Result{}, err
	}
	s.handler.attend(rig)
	var got calibration.Result
	hands, _ := ref.(calibration.Hands)
	plan, script, err := f.plan(ctx, s, rig, ref)
	if err == nil {
		if script != nil {
			ref = script
		}
		got, err = calibration.Compare(ctx, rig, plan, ref, calibration.Terms{
			Reference: record.Reference{Name: f.reference, Certificate: f.certificate, GainStd: f.gainOf.SI / 2, OffsetStd: f.offsetOf.SI / 2},
			DriftGain: f.driftGainOf.SI, DriftOffset: f.driftOffOf.SI, Hands: hands,
		})
	}
	return got, errors.Join(err, rig.Close())
}

// calibrationTrouble turns what a comparison says into an outcome.
func calibrationTrouble(err error) error {
	var o *outcome
	switch {
	case errors.As(err, &o):
		return err
	case errors.Is(err, bench.ErrOccupied):
		return refused(err, "take everything out of the nest")
	case errors.Is(err, calibration.ErrFar):
		return noJudge(err, "look where the reference is connected and what it shows, then run the self-test")
	case errors.Is(err, calibration.ErrScript):
		return usage("--form prints what is asked for", "%w", err)
	}
	return benchTrouble(err)
}

// publish writes the certificate and tells what was found.
func (f *calibrateFlags) publish(w io.Writer, s *station, doc record.Calibration, entry record.Entry) error {
	cert := page.NewCertificate(doc, page.Proof{Hash: entry.Hash, Head: entry.Hash, Seq: entry.Seq, Key: entry.Key})
	html, err := cert.HTML()
	if err != nil {
		return err
	}
	pdf, err := cert.PDF()
	if err != nil {
		return err
	}
	folder := filepath.Join("calibrations", doc.ID)
	for _, x := range []struct {
		name string
		data []byte
	}{{"calibration.json", entry.Body}, {"certificate.html", html}, {"certificate.pdf", pdf}} {
		if err := writeBelow(f.out, filepath.Join(folder, x.name), x.data); err != nil {
			return noJudge(err, "the calibration is safe in the ledger, only its files are missing: mend the output folder")
		}
	}
	if f.json {
		return printRaw(w, entry.Body)
	}
	if err := printCalibration(w, doc); err != nil {
		return err
	}
	fmt.Fprintf(w, "  %s\n  %s\n", filepath.Join(f.out, folder, "certificate.html"), filepath.Join(f.out, folder, "certificate.pdf"))
	return nil
}
