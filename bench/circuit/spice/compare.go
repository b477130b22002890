package spice

import (
	"fmt"
	"math"

	"sinkproof/bench/circuit"
)

// Tolerance is a share of the value and an absolute part.
type Tolerance struct {
	Share float64
	Volts float64
}

// The agreement this project asks for.
var (
	AtRest = Tolerance{Share: 0.001, Volts: 0.001}
	InTime = Tolerance{Share: 0.01, Volts: 0.005}
)

// Difference is the worst disagreement found by a comparison.
type Difference struct {
	Of      float64 // in units of the tolerance: 1 is just allowed
	Node    string
	Seconds float64 // since the start of the comparison
	Ours    float64
	Theirs  float64
	Points  int     // voltages compared
	Covered float64 // seconds compared
}

// String says where and by how much both answers differ most.
func (d Difference) String() string {
	return fmt.Sprintf("%.3g of the tolerance: node %s at %.6g s has %.6g V here, %.6g V in ngspice (%d voltages over %.4g s)",
		d.Of, d.Node, d.Seconds, d.Ours, d.Theirs, d.Points, d.Covered)
}

func (d *Difference) add(name string, at, ours, theirs float64, tol Tolerance) {
	d.Points++
	of := math.Abs(ours-theirs) / (tol.Share*math.Abs(theirs) + tol.Volts)
	if of > d.Of || math.IsNaN(of) {
		d.Of, d.Node, d.Seconds, d.Ours, d.Theirs = of, name, at, ours, theirs
	}
	if math.IsNaN(of) {
		d.Of = math.Inf(1)
	}
}

// CompareDC sets the DC solution of the Sim beside ngspice's.
func CompareDC(s *circuit.Sim, opts ...Option) (Difference, error) {
	theirs, err := DC(s, opts...)
	if err != nil {
		return Difference{}, err
	}
	ours, _, err := s.DCTied()
	if err != nil {
		return Difference{}, err
	}
	return beside(s, ours, theirs), nil
}

// beside compares node by node at rest.
func beside(s *circuit.Sim, ours []float64, theirs map[circuit.Node]float64) Difference {
	var d Difference
	for n := circuit.Node(1); int(n) < s.Nodes(); n++ {
		if v, ok := theirs[n]; ok {
			d.add(s.NodeName(n), 0, ours[n], v, AtRest)
		}
	}
	return d
}

// blindSeconds after an instant are not compared: circuit takes relaxations of
// less than its SettledSeconds as finished, so that what happens within a few of
// these comes early or late by as much.
const blindSeconds = 20 * circuit.SettledSeconds

// Compare sets the course of the Sim over duration beside ngspice's, at every
// instant that ngspice computed, for every node. The Sim stays where it is. The
// comparison ends early (see Covered) when a charger changes what it remembers:
// go there with AdvanceTo and compare again, or use CompareAll.
func Compare(s *circuit.Sim, duration, step float64, opts ...Option) (Difference, error) {
	waves, err := Transient(s, duration, step, opts...)
	if err != nil {
		return Difference{}, err
	}
	c, err := s.Clone()
	if err != nil {
		return Difference{}, err
	}
	return follow(c, waves)
}

// follow takes the Sim along the instants of ngspice.
func follow(c *circuit.Sim, waves *Waves) (Difference, error) {
	var d Difference
	memory, start := c.Memory(), c.Now()
	volts := make([]float64, c.Nodes())
	for i, at := range waves.Seconds {
		if at < blindSeconds {
			continue
		}
		if _, err := c.AdvanceTo(start + at); err != nil {
			return d, err
		}
		if c.Memory() != memory {
			break
		}
		d.Covered = at
		c.AllVolts(volts)
		for n := circuit.Node(1); int(n) < c.Nodes(); n++ {
			if v, ok := waves.Volts[n]; ok {
				d.add(c.NodeName(n), at, volts[n], v[i], InTime)
			}
		}
	}
	return d, nil
}

// CompareAll compares over duration interval by interval: where a charger
// changes its memory, ngspice starts again from there. The Sim is left at the
// end, or where maxRuns runs of ngspice ended.
func CompareAll(s *circuit.Sim, duration, step float64, maxRuns int, opts ...Option) (Difference, error) {
	var worst Difference
	end := s.Now() + duration
	for run := 0; run < maxRuns && s.Now() < end; run++ {
		d, err := Compare(s, end-s.Now(), step, opts...)
		if err != nil {
			return worst, err
		}
		points, covered := worst.Points+d.Points, worst.Covered+d.Covered
		if d.Of >= worst.Of {
			worst = d
		}
		worst.Points, worst.Covered = points, covered
		if err := passChange(s, end); err != nil {
			return worst, err
		}
	}
	return worst, nil
}

// passChange advances to just behind the next change of memory, or to end.
func passChange(s *circuit.Sim, end float64) error {
	at, err := s.NextChange(end)
	if err != nil {
		return err
	}
	_, err = s.AdvanceTo(at)
	return err
}
