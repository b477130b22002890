package main

import (
	"context"
	"fmt"
	"strings"

	"sinkproof/bench/twin"
	"sinkproof/reports/page"
)

// taktFrequencies are those of a fast and of a standard bus, in hertz (NXP
// UM10204, table 10).
func taktFrequencies() []float64 { return []float64{400e3, 100e3} }

// unitsPerNest is how many units each nest takes, one good and one faulty in
// turn.
const unitsPerNest = 4

func nestUnitsFor(p *papers, nests int) [][]nestUnit {
	var faults []string
	for _, d := range twin.Faults() {
		if d.Applies(p.product) {
			faults = append(faults, d.Name)
		}
	}
	out := make([][]nestUnit, nests)
	for i := range out {
		for k := range unitsPerNest {
			u := nestUnit{serial: fmt.Sprintf("nest-%d-%02d", i+1, k+1)}
			if k%2 == 1 && len(faults) > 0 {
				u.faults = []twin.Fault{{Name: faults[(i*unitsPerNest+k)/2%len(faults)]}}
			}
			out[i] = append(out[i], u)
		}
	}
	return out
}

// sideBySide runs the first nests of the rig at each frequency.
func (f *taktFlags) sideBySide(ctx context.Context, p *papers, nests int) ([]nestStudy, error) {
	var out []nestStudy
	for _, hertz := range taktFrequencies() {
		n, err := studyNests(ctx, p, f.seed, hertz, nestUnitsFor(p, nests))
		if err != nil {
			return out, fmt.Errorf("%d nests at %.0f kHz: %w", nests, hertz/1e3, err)
		}
		out = append(out, n)
	}
	return out, nil
}

// worthNests is the share of so many times one nest that several must give: 3.5
// of four.
const worthNests = 3.5 / 4

// fullBus is the load from which nests wait for each other's transfers more than
// for anything else. Own choice.
const fullBus = 0.9

// nestWords says what several nests give at one frequency.
func nestWords(n nestStudy) string {
	text := fmt.Sprintf("%d nests at %.0f kHz: %.0f units an hour, %.2f times one nest (%.0f); buses busy %s, of one nest %s; ",
		n.Nests, n.Hertz/1e3, n.All, n.Times, n.One, percentOf(n.Load), percentOf(n.OneLoad))
	if why := nestShort(n); why != "" {
		text += why + "; "
	}
	if len(n.Differences) == 0 {
		text += "every unit judged as alone"
		if len(n.Answers) > 0 {
			text += fmt.Sprintf(", %d with other checks failed: %s", len(n.Answers), strings.Join(n.Answers, "; "))
		}
		return text
	}
	return text + fmt.Sprintf("%d judged otherwise than alone: %s", len(n.Differences), strings.Join(n.Differences, "; "))
}

// nestShort says why several nests do not give what they should; empty where
// they do.
func nestShort(n nestStudy) string {
	switch {
	case n.Times >= worthNests*float64(n.Nests):
		return ""
	case n.Load > fullBus:
		return fmt.Sprintf("less than %.3g times, because the bus is full: this frequency cannot give it", worthNests*float64(n.Nests))
	}
	return fmt.Sprintf("less than %.3g times", worthNests*float64(n.Nests))
}

// nestRows are the nests for the page.
func nestRows(list []nestStudy) []page.TaktNest {
	var out []page.TaktNest
	for _, n := range list {
		row := page.TaktNest{
			Bus: fmt.Sprintf("%d nests at %.0f kHz", n.Nests, n.Hertz/1e3), One: fmt.Sprintf("%.0f", n.One), All: fmt.Sprintf("%.0f", n.All),
			Times: fmt.Sprintf("%.2f", n.Times), OneLoad: percentOf(n.OneLoad), Load: percentOf(n.Load),
			Note: "every unit is judged as it is alone", Tone: page.Good,
		}
		if len(n.Differences) > 0 {
			row.Note, row.Tone = "judged otherwise than alone: "+strings.Join(n.Differences, "; "), page.Bad
		} else if len(n.Answers) > 0 {
			row.Note += "; other checks failed: " + strings.Join(n.Answers, "; ")
		}
		if why := nestShort(n); why != "" {
			row.Note = why + "; " + row.Note
			if row.Tone == page.Good {
				row.Tone = page.Open
			}
		}
		out = append(out, row)
	}
	return out
}
