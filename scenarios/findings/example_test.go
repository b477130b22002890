package findings_test

import (
	"fmt"

	"sinkproof/reports/record"
	"sinkproof/scenarios/findings"
)

// lamp is a run of a lamp that takes a current.
func lamp(amperes float64) record.Run {
	return record.Run{
		Verdict:  record.Fail,
		Readings: []record.Reading{{Name: "i", Channel: "ibus", Value: record.Value{Value: amperes, Unit: "A", U: 0.001}}},
		Checks:   []record.Check{{Name: "charge", Title: "Charge current", Readings: []string{"i"}}},
	}
}

// A dictionary of two kinds of unit, made from thirty runs of each, names what
// is wrong with a third one and says why.
func Example() {
	b, err := findings.NewBuilder([]findings.Class{
		{Name: findings.Good, Title: "no fault"},
		{Name: "weak", Title: "charge current too low", Rework: "Replace the programming resistor."},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range 30 {
		for class, amperes := range map[string]float64{findings.Good: 0.40, "weak": 0.20} {
			if err := b.Add(class, findings.SignatureOf(lamp(amperes+0.001*float64(i)))); err != nil {
				fmt.Println(err)
			}
		}
	}
	d, err := b.Dictionary()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range d.Diagnose(lamp(0.213), d.Equal()).Suspects {
		fmt.Printf("%s, %.0f %%\n", s.Class.Title, 100*s.Probability)
		for _, t := range s.For {
			fmt.Println("  for it:", t.Text)
		}
	}
	// Output:
	// charge current too low, 97 %
	//   for it: Charge current: 213 mA; good units give 400 mA to 429 mA
	// no fault, 3 %
}
