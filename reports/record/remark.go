package record

import (
	"fmt"
	"slices"
)

func (r Run) validateWaveforms(thing string) error {
	for _, w := range r.Waveforms {
		rules := []rule{
			{w.Name != "" && w.Title != "" && w.Channel != "", "name, title or channel is missing"},
			{knownUnit(w.Unit), fmt.Sprintf("unit %q is none that a record uses", w.Unit)},
			{len(w.Samples) > 0, "holds no sample"},
			{w.StartUS >= 0, "starts before the run"},
			{w.IntervalUS > 0, "sample interval is missing"},
			{len(w.AtUS) == 0 || len(w.AtUS) == len(w.Samples),
				fmt.Sprintf("has %d instants for %d samples", len(w.AtUS), len(w.Samples))},
			{slices.IsSorted(w.AtUS), "instants go back in time"},
			{len(w.AtUS) == 0 || w.AtUS[0] == w.StartUS, "first instant is not the start"},
		}
		for _, t := range w.Thresholds {
			rules = append(rules, rule{t.Label != "", "a threshold has no label"})
		}
		for _, m := range w.Marks {
			rules = append(rules, rule{m.Label != "" && m.AtUS >= 0, "a mark has no label or is before the start"})
		}
		if err := demand(fmt.Sprintf("%s: waveform %q", thing, w.Name), rules...); err != nil {
			return err
		}
	}
	return nil
}

func (r Run) validateRemarks(thing string) error {
	var rules []rule
	for _, m := range r.Relays {
		rules = append(rules, rule{m.Condition != "" && m.AtUS >= 0, "a relay move has no condition or is before the start"})
	}
	for _, n := range r.NotObservable {
		rules = append(rules, rule{n.Check != "" && n.Why != "", "a check that is not observable lacks name or cause"})
	}
	for _, n := range r.Notes {
		rules = append(rules, rule{n.Kind != "" && n.Text != "" && n.AtUS >= 0, "a note lacks kind or text or is before the start"})
	}
	if r.Fault != nil {
		rules = append(rules, rule{r.Fault.What != "" && r.Fault.AtUS >= 0, "the bench fault says nothing or is before the start"})
	}
	for _, f := range r.Suspects {
		rules = append(rules, f.rules()...)
	}
	if r.Diagnosis != nil {
		rules = append(rules, r.Diagnosis.rules()...)
	}
	return demand(thing, rules...)
}
