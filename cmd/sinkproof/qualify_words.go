package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"sinkproof/reports/quality/qualification"
)

// The decision for a program. What is undefined is absent.
type (
	qualifyJSON struct {
		Decision   qualification.Decision `json:"decision"`
		Reasons    []string               `json:"reasons"`
		Changes    []string               `json:"changes"`
		Product    string                 `json:"product"`
		Candidate  string                 `json:"candidate"`
		Incumbent  string                 `json:"incumbent"`
		Simulated  bool                   `json:"simulated"`
		Large      bool                   `json:"sample_large_enough"`
		More       int                    `json:"more_boards"`
		MoreLots   int                    `json:"more_lots"`
		Rig        rigJSON                `json:"rig"`
		Design     designJSON             `json:"design"`
		Order      *orderJSON             `json:"order,omitempty"`
		Defects    defectsJSON            `json:"defects"`
		Faults     []faultJSON            `json:"faults"`
		Compared   []comparedJSON         `json:"characteristics"`
		NotAsked   []string               `json:"not_compared"`
		Suspect    int                    `json:"left_out_suspect"`
		NoVerdict  int                    `json:"left_out_no_verdict"`
		Alpha      float64                `json:"alpha"`
		Power      float64                `json:"power"`
		BadMargin  float64                `json:"bad_margin"`
		LeastPpk   float64                `json:"least_ppk"`
		MostGRRPct float64                `json:"most_grr_percent"`
	}
	rigJSON struct {
		Fit    bool     `json:"fit"`
		Parts  int      `json:"parts"`
		Nests  int      `json:"nests"`
		Days   int      `json:"days"`
		Trials int      `json:"trials"`
		Unfit  []string `json:"unfit"`
	}
	designJSON struct {
		CandidateLots int      `json:"candidate_lots"`
		IncumbentLots int      `json:"incumbent_lots"`
		Stretches     int      `json:"stretches"`
		Expected      float64  `json:"stretches_expected"`
		P             *float64 `json:"stretches_p,omitempty"`
		Confounded    []string `json:"confounded"`
	}
	sideJSON struct {
		N        int      `json:"n"`
		Bad      int      `json:"bad"`
		Fraction *float64 `json:"fraction,omitempty"`
		Low      *float64 `json:"low,omitempty"`
		High     *float64 `json:"high,omitempty"`
	}
	defectsJSON struct {
		Claim          string   `json:"claim"`
		Candidate      sideJSON `json:"candidate"`
		Incumbent      sideJSON `json:"incumbent"`
		Difference     *float64 `json:"difference,omitempty"`
		Low            *float64 `json:"difference_low,omitempty"`
		High           *float64 `json:"difference_high,omitempty"`
		WorseP         *float64 `json:"worse_p,omitempty"`
		Clustered      bool     `json:"clustered"`
		Power          *float64 `json:"power,omitempty"`
		Needed         int      `json:"boards_needed"`
		NeededIfSo     int      `json:"boards_needed_if_so,omitempty"`
		NeededToDiffer int      `json:"boards_to_see_the_difference,omitempty"`
	}
	faultJSON struct {
		Name      string   `json:"name"`
		Candidate int      `json:"candidate"`
		Incumbent int      `json:"incumbent"`
		P         *float64 `json:"p,omitempty"`
		Enough    int      `json:"boards_to_see_one"`
	}
	driftJSON struct {
		Drift *float64 `json:"drift,omitempty"`
		Low   *float64 `json:"drift_low,omitempty"`
		High  *float64 `json:"drift_high,omitempty"`
		P     *float64 `json:"drift_p,omitempty"`
	}
	comparedJSON struct {
		Name        string    `json:"name"`
		Unit        string    `json:"unit"`
		Margin      *float64  `json:"margin,omitempty"`
		By          string    `json:"by"`
		Difference  *float64  `json:"difference,omitempty"`
		Low         *float64  `json:"difference_low,omitempty"`
		High        *float64  `json:"difference_high,omitempty"`
		DifferentP  *float64  `json:"different_p,omitempty"`
		EquivalentP *float64  `json:"equivalence_p,omitempty"`
		Equivalent  string    `json:"equivalent"`
		Power       *float64  `json:"power,omitempty"`
		Needed      int       `json:"needed,omitempty"`
		Ppk         *float64  `json:"ppk,omitempty"`
		PpkLow      *float64  `json:"ppk_low,omitempty"`
		PpkToday    *float64  `json:"incumbent_ppk,omitempty"`
		Capable     string    `json:"capable"`
		Steady      string    `json:"steady"`
		Candidate   driftJSON `json:"candidate_drift"`
		Incumbent   driftJSON `json:"incumbent_drift"`
		Testing     driftJSON `json:"rig_drift"`
		GRRPercent  *float64  `json:"grr_percent,omitempty"`
	}
)

func (d qualified) forProgram() qualifyJSON {
	t := d.Terms
	out := qualifyJSON{
		Decision: d.Decision, Reasons: d.Reasons, Changes: d.Changes, Product: d.product, Candidate: d.candidate, Incumbent: d.incumbent,
		Simulated: d.twin, Large: d.Large, More: d.More, MoreLots: d.MoreLots,
		Rig: rigJSON{len(d.Rig.Unfit) == 0, d.Rig.Parts, d.Rig.Nests, d.Rig.Days, d.Rig.Trials, append([]string{}, d.Rig.Unfit...)},
		Design: designJSON{len(d.Design.Lots[0]), len(d.Design.Lots[1]), d.Design.Runs, d.Design.RunsExpected, finite(d.Design.RunsP),
			append([]string{}, d.Design.Confounded...)},
		Order:  d.order.forProgram(),
		Faults: []faultJSON{}, NotAsked: append([]string{}, d.left...), Suspect: d.suspect, NoVerdict: d.unjudged,
		Alpha: t.Alpha, Power: t.Power, BadMargin: t.BadMargin, LeastPpk: t.Ppk, MostGRRPct: t.GRR,
	}
	b := d.Defects
	out.Defects = defectsJSON{
		Claim: b.Claim.String(), Candidate: sideOf(b, 0), Incumbent: sideOf(b, 1), Difference: finite(b.Difference),
		Low: finite(b.DifferenceRange.Low), High: finite(b.DifferenceRange.High), WorseP: finite(b.WorseP), Clustered: b.Clustered,
		Power: finite(b.Power), Needed: b.Needed, NeededIfSo: b.Seen, NeededToDiffer: b.Differ,
	}
	for _, k := range b.Kinds {
		out.Faults = append(out.Faults, faultJSON{k.Name, k.Count[0], k.Count[1], finite(k.P), k.Enough})
	}
	for i, c := range d.Comparisons {
		one := comparedJSON{
			Name: c.Name, Unit: c.Unit, Margin: finite(c.Margin), By: "board", Difference: finite(c.Difference), Low: finite(c.Low), High: finite(c.High),
			DifferentP: finite(c.DifferentP), EquivalentP: finite(c.EquivalentP), Equivalent: c.Alike.String(), Power: finite(c.Power), Needed: c.Needed,
			Ppk: finite(c.Sides[0].Ppk.Value), PpkLow: finite(c.PpkLow), PpkToday: finite(c.Sides[1].Ppk.Value), Capable: c.Capable.String(),
			Steady: c.Steady.String(), Candidate: driftOf(c.Drifts[0]), Incumbent: driftOf(c.Drifts[1]), Testing: driftOf(c.Rig),
		}
		if c.ByLots {
			one.By = "lot"
		}
		if i < len(d.Rig.Gauges) {
			one.GRRPercent = finite(d.Rig.Gauges[i].Percent)
		}
		out.Compared = append(out.Compared, one)
	}
	return out
}

func sideOf(b qualification.Defects, side int) sideJSON {
	p := b.Sides[side]
	return sideJSON{p.N, p.Bad, finite(p.Estimate), finite(p.ClopperPearson.Low), finite(p.ClopperPearson.High)}
}

func driftOf(d qualification.Drift) driftJSON {
	return driftJSON{finite(d.Difference), finite(d.Low), finite(d.High), finite(d.DifferentP)}
}

// tested says what was compared.
func (d qualified) tested() string {
	return fmt.Sprintf("%d boards of %s in %d lots against %d of %s in %d lots, tested from %s to %s",
		d.Defects.Sides[0].N, d.candidate, len(d.Design.Lots[0]), d.Defects.Sides[1].N, d.incumbent, len(d.Design.Lots[1]), d.first, d.last)
}

// sizeWords say whether the sample is large enough.
func (d qualified) sizeWords() string {
	if d.Large {
		return fmt.Sprintf("large enough: boards that are alike are found so with a probability of %.0f %% or more in every claim", 100*d.Terms.Power)
	}
	var more []string
	if d.More > 0 {
		more = append(more, fmt.Sprintf("%d boards", d.More))
	}
	if d.MoreLots > 0 {
		more = append(more, fmt.Sprintf("%d lots", d.MoreLots))
	}
	return fmt.Sprintf("too small for %.0f %% power in every claim: %s more of each side are wanted", 100*d.Terms.Power, strings.Join(more, " and "))
}

// badWords tell of bad boards.
func (d qualified) badWords() string {
	b := d.Defects
	text := fmt.Sprintf("%d of %d (%s) against %d of %d (%s), difference %s to %s", b.Sides[0].Bad, b.Sides[0].N, share(b.Sides[0].Estimate),
		b.Sides[1].Bad, b.Sides[1].N, share(b.Sides[1].Estimate), share(b.DifferenceRange.Low), share(b.DifferenceRange.High))
	text += fmt.Sprintf("; the claim of %s more at most takes %d boards of each side", share(d.Terms.BadMargin), b.Needed)
	if b.Claim == qualification.Disproved && b.Differ > 0 {
		text += fmt.Sprintf(", and a difference like this one is found with %d", b.Differ)
	}
	return text
}

// rigWords tell of the gauge study.
func (d qualified) rigWords() string {
	r := d.Rig
	if r.Parts == 0 {
		return "not shown to be fit: no gauge study"
	}
	worst, name := math.NaN(), ""
	for i, g := range r.Gauges {
		if !(g.Percent <= worst) {
			worst, name = g.Percent, d.Comparisons[i].Name
		}
	}
	word := "fit"
	if len(r.Unfit) > 0 {
		word = "not shown to be fit"
	}
	return fmt.Sprintf("%s: %d boards, %s, %s, %s; its own spread takes %.1f %% of the room at most (%s)",
		word, r.Parts, counted(r.Nests, "nest"), counted(r.Days, "day"), counted(r.Trials, "seating"), worst, name)
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// share prints a share of 1 in percent.
func share(v float64) string {
	if math.IsNaN(v) {
		return "–"
	}
	return fmt.Sprintf("%.3g %%", 100*v)
}

func figure(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	return fmt.Sprintf("%.3g", v)
}

func value(v float64, unit string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	return qualification.Amount(v, unit)
}

// print tells the decision to a person.
func (d qualified) print(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "%s\n%s\n\n", strings.ToUpper(string(d.Decision)), d.tested())
	if d.twin {
		fmt.Fprintf(t, "simulated boards: no evidence about any that exist\n\n")
	}
	for _, r := range d.Reasons {
		fmt.Fprintf(t, "because\t%s\n", r)
	}
	for _, r := range d.Changes {
		fmt.Fprintf(t, "would change it\t%s\n", r)
	}
	fmt.Fprintf(t, "rig\t%s\n", d.rigWords())
	fmt.Fprintf(t, "order\t%s\n", d.order.words())
	fmt.Fprintf(t, "sample\t%s\n", d.sizeWords())
	fmt.Fprintf(t, "bad boards\t%s\n", d.badWords())
	for _, k := range d.Defects.Kinds {
		fmt.Fprintf(t, "  %s\t%d against %d (p = %s)\n", k.Name, k.Count[0], k.Count[1], figure(k.P))
	}
	fmt.Fprintln(t, "\nCHECK\tDIFFERENCE\tMARGIN\tALIKE\tDRIFT\tSTEADY\tPPK\tCAPABLE\tGRR %")
	for i, c := range d.Comparisons {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", c.Name, value(c.Difference, c.Unit), value(c.Margin, c.Unit), c.Alike,
			value(c.Drifts[0].Difference, c.Unit), c.Steady, figure(c.Sides[0].Ppk.Value), c.Capable, d.grr(i))
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the decision: %w", err)
	}
	for _, name := range d.left {
		fmt.Fprintf(w, "not compared: %s\n", name)
	}
	if d.suspect+d.unjudged > 0 {
		fmt.Fprintf(w, "left out: %s under suspicion, %s without a verdict\n", counted(d.suspect, "record"), counted(d.unjudged, "record"))
	}
	return nil
}

// grr is the rig's share of the room of a check.
func (d qualified) grr(i int) string {
	if i >= len(d.Rig.Gauges) {
		return "–"
	}
	return figure(d.Rig.Gauges[i].Percent)
}
