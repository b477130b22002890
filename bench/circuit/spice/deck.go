package spice

import (
	"fmt"
	"math"
	"strings"

	"sinkproof/bench/circuit"
)

// thermalVolts is kT/q at 27 degrees C, the default temperature of ngspice:
// CODATA 2018 k = 1.380649e-23 J/K, q = 1.602176634e-19 C.
const thermalVolts = 1.380649e-23 * 300.15 / 1.602176634e-19

// Option changes what is exported.
type Option func(*options)

type options struct {
	exponentialAmperes float64
	loose              int // index into strictness
}

// strictness are the error controls of ngspice to try in turn. All are far
// below the tolerances of the comparison, so that what differs is ours; at the
// corners of a characteristic the first sometimes ends in "timestep too small".
// The last is the one before with supplyFarads.
func strictness() []string {
	return []string{"reltol=1e-5 trtol=1", "reltol=1e-4 trtol=1", "reltol=1e-4 trtol=7", "reltol=1e-4 trtol=7"}
}

// supplyFarads across every limited supply, in the last try only: a current
// limit is then reached and not jumped over by a node without a capacitor, on
// which ngspice goes to and fro between both sides of the corner.
const supplyFarads = 1e-12

func loosened(by int) Option { return func(o *options) { o.loose = by } }

// ExponentialDiodes exports every diode with the exponential law instead of its
// two straight lines. It touches the line at the given current: same voltage,
// same slope. At x times that current its voltage differs by
// amperes*onOhms*(ln x - x + 1), which is the bound to allow for.
func ExponentialDiodes(amperes float64) Option {
	return func(o *options) { o.exponentialAmperes = amperes }
}

// deck writes the elements of a network.
type deck struct {
	strings.Builder
	options
	nodes map[circuit.Node]bool
}

func (d *deck) card(format string, args ...any) {
	fmt.Fprintf(d, format+"\n", args...)
}

func node(n circuit.Node) string {
	if n == circuit.Ground {
		return "0"
	}
	return fmt.Sprintf("n%d", n)
}

// over is the voltage of a over b as an expression.
func over(a, b circuit.Node) string {
	if b == circuit.Ground {
		return fmt.Sprintf("v(%s)", node(a))
	}
	if a == circuit.Ground {
		return fmt.Sprintf("(-v(%s))", node(b))
	}
	return fmt.Sprintf("v(%s,%s)", node(a), node(b))
}

// newDeck exports all elements of the Sim that take part at Now.
func newDeck(s *circuit.Sim, title string, opts []Option) *deck {
	d := &deck{nodes: map[circuit.Node]bool{}}
	for _, o := range opts {
		o(&d.options)
	}
	d.card("%s", title)
	d.card(".options %s abstol=1e-12 vntol=1e-8 gmin=1e-16 method=gear itl1=1000 itl4=200", strictness()[d.loose])
	for i, p := range s.Parts() {
		d.part(i, p)
	}
	return d
}

func (d *deck) use(nodes ...circuit.Node) {
	for _, n := range nodes {
		if n != circuit.Ground {
			d.nodes[n] = true
		}
	}
}

func (d *deck) part(i int, p circuit.Part) {
	a, b := node(p.A), node(p.B)
	if p.A == p.B {
		return
	}
	switch p.Kind {
	case circuit.KindResistor:
		d.card("r%d %s %s %.17g", i, a, b, p.Ohms)
	case circuit.KindSwitch:
		if !p.On {
			return
		}
		d.card("r%d %s %s %.17g", i, a, b, p.Ohms)
	case circuit.KindCapacitor:
		d.card("c%d %s %s %.17g ic=%.17g", i, a, b, p.Farads, p.Volts)
	case circuit.KindVoltageSource:
		d.card("v%d x%d %s dc %.17g", i, i, b, p.Volts)
		d.card("r%d x%d %s %.17g", i, i, a, p.Ohms)
	case circuit.KindCurrentSource:
		d.card("i%d %s %s dc %.17g", i, a, b, p.Amperes)
	case circuit.KindDiode:
		d.diode(i, p)
	case circuit.KindLimitedSupply, circuit.KindLimitedCurrentSource:
		if !p.On {
			return
		}
		floor := 0.0
		if p.CanSink {
			floor = -p.Amperes
		}
		if d.loose == len(strictness())-1 {
			d.card("cs%d %s %s %g", i, a, b, supplyFarads)
		}
		d.card("b%d %s %s i=max(%.17g,min(%.17g,(%.17g-%s)/%.17g))", i, b, a, floor, p.Amperes, p.Volts, over(p.A, p.B), p.Ohms)
	case circuit.KindCharger:
		d.charger(i, p)
		d.use(p.C)
	}
	d.use(p.A, p.B)
}

func (d *deck) diode(i int, p circuit.Part) {
	a, b := node(p.A), node(p.B)
	if d.exponentialAmperes == 0 {
		d.card("b%d %s %s i=%.17g*%s+max(0,(%s-(%.17g))/%.17g)", i, a, b, p.Siemens, over(p.A, p.B), over(p.A, p.B), p.Volts, p.Ohms)
		return
	}
	scale := d.exponentialAmperes * p.Ohms
	saturation := d.exponentialAmperes * math.Exp(-(p.Volts+scale)/scale)
	d.card("d%d %s %s m%d", i, a, b, i)
	d.card(".model m%d d(is=%.17g n=%.17g)", i, saturation, scale/thermalVolts)
	if p.Siemens > 0 {
		d.card("r%d %s %s %.17g", i, a, b, 1/p.Siemens)
	}
}

func (d *deck) charger(i int, p circuit.Part) {
	a, b, c := node(p.A), node(p.B), node(p.C)
	st := p.Charger
	if st.Charging {
		d.card("b%d %s %s i=max(0,min(%.17g,min((%.17g-%s)/%.17g,%s/%.17g)))", i, a, b,
			st.ProgrammedAmperes, st.RegulationVolts, over(p.B, p.C), st.OutputOhms, over(p.A, p.B), st.DropoutOhms)
	}
	if st.Awake && st.QuiescentAmperes > 0 {
		d.card("i%d %s %s dc %.17g", i, a, c, st.QuiescentAmperes)
	}
	if st.QuiescentOhms > 0 {
		d.card("rq%d %s %s %.17g", i, a, c, st.QuiescentOhms)
	}
	if st.ReverseOhms > 0 {
		d.card("rr%d %s %s %.17g", i, a, b, st.ReverseOhms)
	}
}

// Netlist returns the network of the Sim at Now as a complete ngspice input for
// a transient analysis.
func Netlist(s *circuit.Sim, duration, step float64, opts ...Option) (string, error) {
	if err := s.Settle(); err != nil {
		return "", fmt.Errorf("export to ngspice: %w", err)
	}
	d := newDeck(s, "transient from the present state", opts)
	for n := circuit.Node(1); int(n) < s.Nodes(); n++ {
		if d.nodes[n] {
			d.card(".ic v(%s)=%.17g", node(n), s.Volts(n))
		}
	}
	// The first step of ngspice is a hundredth of step, whatever the network does
	// meanwhile; corners of a source of no consequence make it start small.
	d.card("vpace pace 0 pwl(0 0 %g 1 %g 0)", 3*circuit.SettledSeconds, 6*circuit.SettledSeconds)
	d.card("rpace pace 0 1")
	d.card(".tran %.17g %.17g 0 %.17g uic", step, duration, step)
	d.card(".end")
	return d.String(), nil
}
