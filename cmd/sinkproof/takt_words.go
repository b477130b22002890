package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/fixtures/source"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

// The files of a takt study.
const (
	taktHTML = "takt.html"
	taktPDF  = "takt.pdf"
)

func (f *taktFlags) tell(c *cobra.Command, p *papers, r taktStudy) error {
	scenario := p.scenario.Name + "-planned.hcl"
	if f.out != "" {
		if err := f.write(p, r, scenario); err != nil {
			return err
		}
	}
	w := c.OutOrStdout()
	if f.json {
		if err := printJSON(w, r); err != nil {
			return err
		}
	} else {
		printTakt(w, p, r)
		if f.out != "" {
			fmt.Fprintf(w, "page: %s, %s; scenario: %s\n", filepath.Join(f.out, taktHTML), filepath.Join(f.out, taktPDF), filepath.Join(f.out, scenario))
		}
	}
	if len(r.Differences) > 0 {
		return &outcome{code: exitBad, err: fmt.Errorf("the planned order judged %d unit(s) differently: %s", len(r.Differences), strings.Join(r.Differences, "; ")),
			hint: "keep the order of the file, and look at these units"}
	}
	return nil
}

// ms prints seconds in milliseconds.
func ms(seconds float64) string { return fmt.Sprintf("%.1f ms", 1e3*seconds) }

// inSeconds prints a run's time.
func inSeconds(s float64) string { return fmt.Sprintf("%.3f s", s) }

func percentOf(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

func printTakt(w io.Writer, p *papers, r taktStudy) {
	fmt.Fprintf(w, "%s on %s: a good unit, the mean of %d on rigs drawn anew\n\n", p.scenario.Title, p.product.Title, r.Planned.Mean.Units)
	printTaktRuns(w, r.Report)
	fmt.Fprintln(w)
	printTaktCauses(w, r.Report)
	fmt.Fprintln(w)
	printTaktRounds(w, r.Report)
	fmt.Fprintln(w)
	for _, l := range r.Planned.Mean.Loads {
		fmt.Fprintf(w, "bus %s: busy %s of the time, %.0f transfers a run\n", l.Bus, percentOf(l.Share), l.Transfers)
	}
	fmt.Fprintf(w, "relays: %.0f operations a run, most of them %s with %.0f\n", r.Planned.Mean.Operations, r.Planned.Mean.Busiest, r.Planned.Mean.BusiestOperations)
	fmt.Fprintln(w, orderWords(r.Report))
	fmt.Fprintln(w, briefWords(r.Report))
	fmt.Fprintln(w, verdictWords(r.Report))
	for _, n := range r.Nests {
		fmt.Fprintln(w, nestWords(n))
	}
}

func printTaktRuns(w io.Writer, r takt.Report) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	if r.Conditional() {
		fmt.Fprintf(t, "fixed waits, order of the file\t%s\t\n", inSeconds(r.FixedSeconds))
	}
	fmt.Fprintf(t, "order of the file\t%s\t%s\t%s above its floor of %s\n", inSeconds(r.File.Mean.Seconds), chanceOf(r.File.Mean), percentOf(r.File.Over), inSeconds(r.File.FloorSeconds))
	fmt.Fprintf(t, "planned, windows shared\t%s\t%s\t%s above its floor of %s\n", inSeconds(r.Planned.Mean.Seconds), chanceOf(r.Planned.Mean), percentOf(r.Planned.Over), inSeconds(r.Planned.FloorSeconds))
	fmt.Fprintf(t, "saved against the file\t%s\t%s\n", percentOf(r.SavedAgainstFile()), chanceWords(r))
	if r.Conditional() {
		fmt.Fprintf(t, "saved against fixed waits\t%s\t\n", percentOf(r.SavedAgainstFixed()))
	} else {
		fmt.Fprintf(t, "saved against fixed waits\tnothing\tthe scenario waits for no answer, so that none could be fixed\n")
	}
	_ = t.Flush() // its writer keeps no error back
}

// chanceOf is what the mean may be off by with 95 %, where more than one
// rig tells them.
func chanceOf(m takt.Mean) string {
	switch {
	case m.Units < 2:
		return "of one unit"
	case m.Rigs < 2:
		return "of one rig"
	}
	return "± " + inSeconds(student95(m.Rigs)*m.SE)
}

// student95 takes a standard error over so many rigs to half of the 95 % interval.
func student95(rigs int) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: float64(rigs - 1)}.Quantile(0.975)
}

// chanceWords says that a saving may be none; nothing where it is one.
func chanceWords(r takt.Report) string {
	a, b := r.File.Mean, r.Planned.Mean
	if min(a.Rigs, b.Rigs) > 1 && math.Abs(a.Seconds-b.Seconds) > student95(min(a.Rigs, b.Rigs))*math.Hypot(a.SE, b.SE) {
		return ""
	}
	return "no more than chance does with " + counted(a.Units, "good unit") + " on " + rigsText(a.Rigs)
}

func printTaktCauses(w io.Writer, r takt.Report) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	floor, fixed := byCause(r.Planned.Floor), byCause(r.Fixed)
	fmt.Fprintln(t, "what the time goes to\tfile\tplanned\tfloor\tfixed\t")
	for _, c := range takt.Causes() {
		if r.File.Mean.Causes[c]+floor[c]+fixed[c] == 0 {
			continue
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t\n", c.Words(), ms(r.File.Mean.Causes[c]), ms(r.Planned.Mean.Causes[c]), ms(floor[c]), ms(fixed[c]))
	}
	_ = t.Flush() // its writer keeps no error back
}

func byCause(list []takt.Component) map[takt.Cause]float64 {
	sum := map[takt.Cause]float64{}
	for _, c := range list {
		sum[c.Cause] += c.Seconds
	}
	return sum
}

func byRound(list []takt.Component) map[string]float64 {
	sum := map[string]float64{}
	for _, c := range list {
		sum[c.Round] += c.Seconds
	}
	return sum
}

func printTaktRounds(w io.Writer, r takt.Report) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "planned order\ttakes\tfloor\tbeyond\trelays\t")
	floor := byRound(r.Planned.Floor)
	operations := roundOperations(r.Planned.Typical)
	for _, name := range taktRounds(r.Planned) {
		took := r.Planned.Mean.Rounds[name]
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%d\t\n", roundLabel(name), ms(took), ms(floor[name]), ms(took-floor[name]), operations[name])
	}
	_ = t.Flush() // its writer keeps no error back
}

// taktRounds are the rounds of a run with what comes before and after them.
func taktRounds(r takt.Run) []string {
	return slices.Concat([]string{""}, r.Order, []string{takt.Isolated})
}

func roundLabel(name string) string {
	if name == "" {
		return "nest proved empty"
	}
	return name
}

func roundOperations(line *takt.Timeline) map[string]int {
	out := map[string]int{}
	if line != nil {
		for _, r := range line.Rounds {
			out[r.Name] += r.Operations
		}
	}
	return out
}

// orderWords says what the plan is worth.
func orderWords(r takt.Report) string {
	how := "no order that the scenario allows costs less"
	if !r.Plan.Exact {
		how = "too many orders to try; a local search found it"
	}
	if slices.Equal(r.Plan.Order, r.File.Order) {
		return fmt.Sprintf("order: that of the file is the cheapest (%s)", how)
	}
	return fmt.Sprintf("order: expected over the mix %s and %.1f operations, that of the file %s and %.1f (%s; %d sets of rounds)",
		inSeconds(r.Plan.Planned.Seconds), r.Plan.Planned.Operations, inSeconds(r.Plan.File.Seconds), r.Plan.File.Operations, how, r.Plan.Sets)
}

// briefWords says what it would save to ask only for hazards after a fail.
func briefWords(r takt.Report) string {
	if r.Brief == nil {
		return "fails: after one only hazards are asked for"
	}
	return fmt.Sprintf("fails: everything is asked after one; with after_fail = \"hazards\" a run would take %s over the mix instead of %s",
		inSeconds(r.Brief.Planned.Seconds), inSeconds(r.Plan.Planned.Seconds))
}

func verdictWords(r takt.Report) string {
	if len(r.Differences) == 0 {
		return fmt.Sprintf("verdicts: all %d units are judged alike in both orders", r.Units)
	}
	return fmt.Sprintf("verdicts: %d of %d units are judged differently", len(r.Differences), r.Units)
}

// plannedVersion tells the version of a planned scenario from the one it was
// made from.
const plannedVersion = "-planned"

// plannedScenario is the scenario's text with the order and the shared windows
// stated in it; its version says so.
func plannedScenario(p *papers, text []byte, order []string) ([]byte, error) {
	lines := strings.Split(string(text), "\n")
	var out []string
	begun, placed, skipping := false, false, false
	for _, line := range lines {
		word, _, _ := strings.Cut(strings.TrimSpace(line), " ")
		top := strings.HasPrefix(line, "  ") && !strings.HasPrefix(line, "   ")
		switch {
		case skipping:
			skipping = !strings.HasPrefix(strings.TrimSpace(line), "]")
			continue
		case top && word == "windows":
			continue
		case top && word == "order":
			skipping = !strings.Contains(line, "]")
			continue
		case begun && !placed && word == "":
			placed = true
			out = append(out, fmt.Sprintf("  windows = %q", scenarios.Shared), "  order = [")
			for _, name := range order {
				out = append(out, fmt.Sprintf("    %q,", name))
			}
			out = append(out, "  ]")
		case top && word == "version" && !placed:
			line = fmt.Sprintf("  version = %q", strings.TrimSuffix(p.scenario.Version, plannedVersion)+plannedVersion)
		case top && word == "decision":
			begun = true
		}
		out = append(out, line)
	}
	if !placed {
		return nil, fmt.Errorf("write the planned scenario: no empty line behind the attributes of %s to put the order in", p.scenario.Name)
	}
	written := source.Format([]byte(strings.Join(out, "\n")))
	file, found := source.Parse(p.scenario.Name, written)
	if !found.HasErrors() {
		_, found = scenarios.Load(file, p.rig.Rig, p.product)
	}
	if err := found.Err(); err != nil {
		return nil, fmt.Errorf("write the planned scenario: %w", err)
	}
	return written, nil
}
