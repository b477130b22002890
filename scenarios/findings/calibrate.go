package findings

import "math"

// judged is a unit as the counts of the other parts see it.
type judged struct {
	class int
	// like are the logarithms of the likelihoods by class.
	like []float64
}

// calibrate fits what turns likelihoods into probabilities, and keeps who is
// taken for whom. Every unit is judged by the counts of the parts that it does
// not belong to.
func (d *Dictionary) calibrate(c *chart) {
	units := d.counts.units
	all := make([]judged, 0, len(c.rows))
	for part := range parts {
		m := count(c, d.counts.parents, func(r row) bool { return r.part != part }).estimate()
		for _, r := range c.rows {
			if r.part == part {
				all = append(all, judged{r.class, m.likelihoods(r.codes)})
			}
		}
	}
	d.ordinary = make([]float64, c.classes)
	for _, j := range all {
		d.ordinary[j.class] += j.like[j.class] / units[j.class]
	}
	d.spread = make([]float64, c.classes)
	for _, j := range all {
		off := j.like[j.class] - d.ordinary[j.class]
		d.spread[j.class] += off * off / units[j.class]
	}
	for i, v := range d.spread {
		d.spread[i] = math.Sqrt(v + 1)
	}
	d.fitExponent(all)
	d.fitStranger(all)
	d.confuse(all)
}

// nobody is the class that is left out where none is.
const nobody = -1

// fitExponent takes the exponent on the likelihoods that gives the best mean
// logarithmic score, each class alike. It is never above one: what the names
// share beyond the tree makes them say too much and never too little.
func (d *Dictionary) fitExponent(all []judged) {
	units := d.counts.units
	best := math.Inf(-1)
	for _, e := range exponents() {
		sum := 0.0
		for _, j := range all {
			sum += (e*j.like[j.class] - logSum(j.like, e, nobody)) / units[j.class]
		}
		if sum > best {
			best, d.exponent = sum, e
		}
	}
}

func exponents() []float64 {
	var list []float64
	for e := 1.0; e > 0.04; e *= 0.9 {
		list = append(list, e)
	}
	return list
}

// surprise is how much less likely a unit is, under the class that explains it
// best, than units of that class are. without names a class that is left out.
func (d *Dictionary) surprise(like []float64, without int) float64 {
	best := nobody
	for i, l := range like {
		if i != without && (best == nobody || l > like[best]) {
			best = i
		}
	}
	return (d.ordinary[best] - like[best]) / d.spread[best]
}

// fitStranger fits, as a straight line, the logarithm of how much more often a
// surprise befalls a stranger than a unit of a known class. The strangers are
// the units of each fault when that fault is left out of the dictionary.
// Method: logistic regression, both kinds with the same weight, by Newton's
// steps.
func (d *Dictionary) fitStranger(all []judged) {
	faults := 0.0
	for _, c := range d.Classes {
		if c.Name != Good {
			faults++
		}
	}
	units := d.counts.units
	var fit logistic
	for _, j := range all {
		fit.add(d.surprise(j.like, nobody), 0, 1/(units[j.class]*float64(len(d.Classes))))
		if d.Classes[j.class].Name != Good {
			fit.add(d.surprise(j.like, j.class), 1, 1/(units[j.class]*faults))
		}
	}
	d.strangerSlope, d.strangerBase = fit.line()
}

// logistic is a logistic regression on one number.
type logistic struct{ x, y, weight []float64 }

func (l *logistic) add(x, y, weight float64) {
	l.x, l.y, l.weight = append(l.x, x), append(l.y, y), append(l.weight, weight)
}

// line returns slope and intercept of the log-odds. The slope is drawn a
// little to zero, so that kinds which a point separates have one too.
func (l *logistic) line() (slope, base float64) {
	const ridge, steps = 1e-3, 100
	for range steps {
		var g0, g1, h00, h01, h11 float64
		g1, h11 = -ridge*slope, ridge
		for i, x := range l.x {
			p := 1 / (1 + math.Exp(-(slope*x + base)))
			r, v := l.weight[i]*(l.y[i]-p), l.weight[i]*p*(1-p)
			g0, g1 = g0+r, g1+r*x
			h00, h01, h11 = h00+v, h01+v*x, h11+v*x*x
		}
		h00 += 1e-9
		det := h00*h11 - h01*h01
		if det == 0 {
			break
		}
		db, ds := (h11*g0-h01*g1)/det, (h00*g1-h01*g0)/det
		// A step that leaves the region where the model is about linear is cut.
		cut := 1 / max(1, math.Abs(db)/2, math.Abs(ds)*4)
		base, slope = base+cut*db, slope+cut*ds
		if math.Abs(db)+math.Abs(ds) < 1e-9 {
			break
		}
	}
	return slope, base
}

// logSum is the logarithm of the sum of the exponentials of e times a list,
// one of it left out.
func logSum(list []float64, e float64, without int) float64 {
	top := math.Inf(-1)
	for i, x := range list {
		if i != without {
			top = max(top, e*x)
		}
	}
	sum := 0.0
	for i, x := range list {
		if i != without {
			sum += math.Exp(e*x - top)
		}
	}
	return top + math.Log(sum)
}

// confuse keeps the mean posterior by class.
func (d *Dictionary) confuse(all []judged) {
	n, units := len(d.Classes), d.counts.units
	d.leaks = make([][]float64, n)
	for i := range d.leaks {
		d.leaks[i] = make([]float64, n)
	}
	for _, j := range all {
		for to, p := range d.posterior(j.like, d.Equal())[:n] {
			d.leaks[j.class][to] += p / units[j.class]
		}
	}
}
