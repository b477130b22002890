package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

// coverageFlags are the flags of sinkproof coverage.
type coverageFlags struct {
	rig, scenario, product string
	units, workers         int
	seed                   uint64
	faultShare             float64
	pairs, json            bool
	out                    string
}

func newCoverage() *cobra.Command {
	var f coverageFlags
	c := described(&cobra.Command{
		Use:   "coverage",
		Short: "Tells what a scenario lets escape and what it wrongly rejects",
		Long: `Simulates good units over the product's tolerances and units with each fault,
from barely to grossly bad, on rigs that are drawn within their own tolerances,
and puts each through the scenario. It reports what escapes and what is wrongly
rejected, with exact 95 % intervals, which check catches which fault, which
checks are redundant, and what moving a limit or the guard factor would do.

A quarter of the units is good, the rest is shared by the faults. The same seed
gives the same result with any number of workers. Interrupted (Ctrl-C) it
reports what was done so far, and ends with 3.

--json prints one object: planned, units, rigs, seed, confidence, decision;
false_rejects, escapes and no_verdict, each as count, of, share, low, high;
production (consumer_risk and producer_risk for an assumed fault_share);
classes (what became of each fault, what caught it, examples by serial and seed);
checks (caught, alone, only, limits: counts for each move of its limits);
redundant, dispensable, redundant_rounds, missed, untried (interrupted before
the first unit), not_observable, absent;
guard (rates for each guard factor); characteristics (JCGM 106 risks of what is
measured and truly known). Rates and shares are fractions of 1.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof coverage
  sinkproof coverage --scenario line.hcl --product lamp.hcl --units 2000 --out review
  sinkproof coverage --pairs --units 20000 --json > pairs.json`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.scenario, "scenario", defaultScenario, "scenario `file`, or the name of a shipped scenario")
	fs.StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	fs.IntVar(&f.units, "units", 10000, "`number` of units")
	fs.Uint64Var(&f.seed, "seed", 1, "seed of units and rigs")
	fs.IntVar(&f.workers, "workers", 0, "`number` of rigs that are simulated side by side (default one for each core)")
	fs.Float64Var(&f.faultShare, "fault-share", 0.01, "assumed `share` of units with a fault in a production, for its risks")
	fs.BoolVar(&f.pairs, "pairs", false, "simulate pairs of faults, too")
	fs.BoolVar(&f.json, "json", false, "print the results for a program")
	fs.StringVar(&f.out, "out", "", "write coverage.html and coverage.pdf into this `folder`")
	return c
}

func (f *coverageFlags) run(c *cobra.Command) error {
	switch {
	case f.units < 1:
		return usage("--units 10000", "--units %d are no units", f.units)
	case f.workers < 0:
		return usage("leave it out for one on each core", "--workers %d is no number of workers", f.workers)
	case !(f.faultShare > 0 && f.faultShare < 1):
		return usage("a share is between 0 and 1, such as 0.01 for one in a hundred", "--fault-share %g", f.faultShare)
	}
	p, err := load(f.rig, f.product, f.scenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	plan, absent := f.plan(p)
	for _, class := range plan.Classes {
		if class.Units < 1 {
			return usage("take more units, so that each class has some", "--units %d for %d classes leaves none for %s", f.units, len(plan.Classes), class.Name)
		}
	}
	if err := readyFolder(f.out); err != nil {
		return err
	}
	study := coverage.New(coverage.Config{
		Scenario: p.scenario, Plan: plan, Titles: faultTitles(), Absent: absent,
		Characteristics: characteristics(), FaultShare: f.faultShare,
	})
	defer makeRoom()()
	bar := newProgressBar(newScreen(c.ErrOrStderr()), plan.Units())
	_, err = population.Run(c.Context(), plan, population.Options{Workers: f.workers, Progress: bar.done}, lines(p), study.Digest, study.Take)
	bar.end()
	interrupted := errors.Is(err, context.Canceled)
	if err != nil && !interrupted {
		return fmt.Errorf("simulate the population: %w", err)
	}
	return f.tell(c, p, study.Result(), interrupted)
}

// goodShare is the share of good units: enough that 10,000 units show a false
// reject of one in a thousand.
const goodShare = 0.25

// plan lays out the classes: good units, every fault that the product can
// have, and with --pairs every two that can stand in one unit together. It
// also lists the faults that the product cannot have.
func (f *coverageFlags) plan(p *papers) (population.Plan, []coverage.Absent) {
	classes := []population.Class{population.ClassOf(0)}
	var faults []twin.Description
	var absent []coverage.Absent
	for _, d := range twin.Faults() {
		if !d.Applies(p.product) {
			absent = append(absent, coverage.Absent{Fault: d.Name, Title: d.Title, Part: string(d.Needs)})
			continue
		}
		faults = append(faults, d)
		classes = append(classes, population.ClassOf(0, d.Name))
	}
	if f.pairs {
		for i, a := range faults {
			for _, b := range faults[i+1:] {
				if twin.Combine(twin.Fault{Name: a.Name}, twin.Fault{Name: b.Name}) == nil {
					classes = append(classes, population.ClassOf(0, a.Name, b.Name))
				}
			}
		}
	}
	share := func(c population.Class) float64 {
		if c.Name == population.Good {
			return goodShare
		}
		return (1 - goodShare) / float64(len(classes)-1)
	}
	return population.Plan{Seed: f.seed, Classes: population.Share(f.units, classes, share)}, absent
}

func faultTitles() map[string]string {
	titles := map[string]string{}
	for _, d := range twin.Faults() {
		titles[d.Name] = d.Title
	}
	return titles
}

// characteristics lists what the checks of the shipped scenarios measure of
// which the twin knows the truth, with the faults that act on it. A scenario
// without such a check is studied without that characteristic.
func characteristics() []coverage.Characteristic {
	return []coverage.Characteristic{
		{Title: "Termination at CC1", Check: "rd-cc1", Truth: twin.DrawnRd1, Faults: rdFaults()},
		{Title: "Termination at CC2", Check: "rd-cc2", Truth: twin.DrawnRd2, Faults: rdFaults()},
		{Title: "Capacitance on VBUS", Check: "vbus-capacitance", Truth: twin.DrawnCapacitance, Faults: []string{"bulk-missing", "bulk-too-large"}},
		{Title: "Resistance of the power path", Check: "path-resistance[normal]", Truth: twin.DrawnPath, Faults: []string{"contact-resistance"}},
		{Title: "Charge current", Check: "legacy-current[normal]", Truth: twin.DrawnCurrent, Faults: []string{"current-half", "current-double", "charger-dead"}},
		{Title: "Light of the indicator", Check: "indicator[normal]", Truth: twin.DrawnLight, Faults: []string{"indicator-dead"}},
	}
}

func rdFaults() []string {
	return []string{"no-rd", "rd-missing-one-pin", "rd-51k", "rd-510", "rd-10k"}
}

func (f *coverageFlags) tell(c *cobra.Command, p *papers, r coverage.Result, interrupted bool) error {
	if f.out != "" && r.Units > 0 {
		if err := f.write(p, r); err != nil {
			return err
		}
	}
	if f.json {
		if err := printJSON(c.OutOrStdout(), r); err != nil {
			return err
		}
	} else {
		printCoverage(c.OutOrStdout(), r)
		f.where(c.OutOrStdout(), r)
	}
	if interrupted {
		return noJudge(fmt.Errorf("interrupted after %d of %d units; what is shown holds for those", r.Units, r.Planned), "")
	}
	return nil
}

// where tells a person where the page is.
func (f *coverageFlags) where(w io.Writer, r coverage.Result) {
	if f.out == "" {
		fmt.Fprintf(w, "\n--out FOLDER writes the page with heat map, bars and curves\n")
		return
	}
	if r.Units > 0 {
		fmt.Fprintf(w, "\npage: %s\n", strings.Join([]string{f.out + string(os.PathSeparator) + coverageHTML, f.out + string(os.PathSeparator) + coveragePDF}, ", "))
	}
}

// printCoverage prints the table for a person.
func printCoverage(w io.Writer, r coverage.Result) {
	width := len("class")
	for _, c := range r.Classes {
		width = min(max(width, len(c.Name)), 40)
	}
	fmt.Fprintf(w, "%-*s %6s  %-25s %-8s %s\n", width, "class", "units", "wrong (95 % interval)", "verdict", "caught by, most units first")
	for _, c := range r.Classes {
		what := "escaped"
		if c.Name == population.Good {
			what = "rejected"
		}
		none := ""
		if c.None.Count > 0 {
			none = fmt.Sprintf("none: %d", c.None.Count)
		}
		fmt.Fprintf(w, "%-*s %6d  %-25s %-8s %s\n", width, clipped(c.Name, width), c.Units, rateText(c.Wrong, what), none, clipped(catchText(c), 70))
	}
	fmt.Fprintf(w, "\n%d units on %s: good units rejected %s, faulty ones escaped %s\n", r.Units, rigsText(r.Rigs), rateText(r.FalseRejects, ""), rateText(r.Escapes, ""))
	fmt.Fprintf(w, "in a production with %.3g %% faulty units: consumer's risk at most %s, producer's risk at most %s\n",
		100*r.Production.FaultShare, percent(r.Production.Consumer.High), percent(r.Production.Producer.High))
	list := func(label string, names []string) {
		if len(names) > 0 {
			fmt.Fprintf(w, "%s: %s\n", label, strings.Join(names, ", "))
		}
	}
	list("caught by no check", r.Missed)
	list("not tried", r.Untried)
	list("never the only check to catch a unit", r.Redundant)
	list("of these could go together", r.Dispensable)
	var hidden []string
	for _, n := range r.NotObservable {
		name, _, _ := strings.Cut(n.Check, "[")
		if !slices.Contains(hidden, name) {
			hidden = append(hidden, name)
		}
	}
	list("not observable on this product", hidden)
}

// rigsText counts rigs.
func rigsText(n int) string {
	if n == 1 {
		return "1 rig"
	}
	return fmt.Sprintf("%d rigs", n)
}

// rateText is a rate with its interval: "3 escaped (0.2 to 2.3 %)".
func rateText(r coverage.Rate, what string) string {
	text := fmt.Sprint(r.Count)
	if what != "" {
		text += " " + what
	}
	if r.Of == 0 {
		return "no unit yet"
	}
	if r.Low == 0 {
		return fmt.Sprintf("%s (below %s)", text, percent(r.High))
	}
	return fmt.Sprintf("%s (%s to %s)", text, percent(r.Low), percent(r.High))
}

// percent prints a share with two digits; what nobody can count is less than a
// ten-thousandth of a percent.
func percent(share float64) string {
	switch {
	case share > 0 && share < 1e-6:
		return "<\u00a00.0001\u00a0%"
	case share >= 0.995:
		return "100\u00a0%"
	}
	return fmt.Sprintf("%.2g\u00a0%%", 100*share)
}

// catchText lists what catches a class, the most frequent first.
func catchText(c coverage.Class) string {
	list := slices.Clone(c.Caught)
	slices.SortStableFunc(list, func(a, b coverage.Catch) int { return b.Units - a.Units })
	var parts []string
	for _, x := range list {
		if x.Units == c.Units {
			parts = append(parts, x.Check)
			continue
		}
		parts = append(parts, fmt.Sprintf("%s %.0f %%", x.Check, 100*float64(x.Units)/float64(c.Units)))
	}
	return strings.Join(parts, ", ")
}
