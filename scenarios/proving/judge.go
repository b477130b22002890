package proving

import (
	"fmt"
	"math"

	"sinkproof/bench/quantity"
)

// span is an interval; low may be -Inf and high +Inf.
type span struct{ low, high float64 }

func (s span) meets(o span) bool { return s.low <= o.high && o.low <= s.high }

// measured is what one channel read, as far as it can be trusted: between the
// worst ends of all its causes.
type measured struct {
	channel int
	value   quantity.Measured
	span
}

// sigmas is how many standard uncertainties of a normal cause count as its
// worst end: four, six false alarms in a hundred thousand.
const sigmas = 4

// worst is the half-width that the worst ends of all causes of a value give.
func worst(m quantity.Measured) float64 {
	sum := 0.0
	for _, c := range m.Parts {
		k := float64(sigmas)
		if c.Dist == "uniform" {
			k = math.Sqrt(3) // JCGM 100:2008, 4.3.7
		}
		sum += k * math.Abs(c.Share())
	}
	return sum
}

func newMeasured(channel int, m quantity.Measured) measured {
	half := worst(m)
	s := span{m.SI - half, m.SI + half}
	switch m.Bound {
	case quantity.AtLeast:
		s.high = math.Inf(1)
	case quantity.AtMost:
		s.low = math.Inf(-1)
	}
	return measured{channel, m, s}
}

// taken is one state as it was measured.
type taken struct {
	stand
	values []measured
	ratios []ratio
}

// ratio is what two channels read in proportion: what moves both alike, such
// as the supply that feeds them, cancels.
type ratio struct {
	a, b int // indices into values
	span
}

// ratioFloor is the reading below which offsets spoil a ratio: 0.2 V, or 1 mA.
const (
	ratioFloorVolts   = 0.2
	ratioFloorAmperes = 1e-3
)

func tall(m quantity.Measured) bool {
	floor := ratioFloorVolts
	if m.Dim == quantity.Current {
		floor = ratioFloorAmperes
	}
	return m.Bound == quantity.Exact && m.SI > floor
}

// pair forms the ratios of a state.
func (t *taken) pair() error {
	t.ratios = nil
	for i := range t.values {
		for j := range i {
			a, b := t.values[i], t.values[j]
			if !tall(a.value) || !tall(b.value) {
				continue
			}
			q, err := a.value.Div(b.value)
			if err != nil {
				return fmt.Errorf("ratio of two channels: %w", err)
			}
			half := worst(q)
			t.ratios = append(t.ratios, ratio{i, j, span{q.SI - half, q.SI + half}})
		}
	}
	return nil
}

// judge compares what was measured with what is predicted.
type judge struct {
	m     *model
	taken []taken
	// sequence holds the states, those first that a healthy rig does not
	// explain: there a wrong hypothesis falls soonest.
	sequence []int
	sound    bool // a healthy rig explains all of them
}

func newJudge(m *model, list []taken) (*judge, error) {
	j := &judge{m: m, taken: list, sound: true}
	var good []int
	for i := range list {
		ok, err := j.healthy(i)
		switch {
		case err != nil:
			return nil, err
		case ok:
			good = append(good, i)
		default:
			j.sequence, j.sound = append(j.sequence, i), false
		}
	}
	j.sequence = append(j.sequence, good...)
	return j, nil
}

// known keeps predictions by state and change: what is planned is judged, and a
// self-test judges twice, at the gate and at its end.
type known map[string]*prediction

// predicted is predict, computed once for a stand under a change of that key.
func (m *model) predicted(s stand, f change, key string) (*prediction, error) {
	key += "|" + s.state.Setting.String() + "|" + s.settled + fmt.Sprint(s.calm)
	if p := m.known[key]; p != nil {
		return p, nil
	}
	p, err := m.predict(s, f)
	if err == nil {
		m.known[key] = p
	}
	return p, err
}

// prediction of a state under a change, computed once. A change that does not
// show in the circuit of that state is none.
func (j *judge) prediction(i int, f change, key string) (*prediction, error) {
	s := j.taken[i].stand
	if f.idle(s, j.m) {
		f, key = change{}, ""
	}
	return j.m.predicted(s, f, key)
}

// explains tells whether a hypothesis explains every state. The amount of one
// that has a size is in the suspect that comes back.
func (j *judge) explains(h hypothesis) (Suspect, bool, error) {
	if h.late != "" {
		ok, err := j.explainsLate(h)
		return h.Suspect, ok, err
	}
	amount := span{math.Inf(-1), math.Inf(1)}
	for _, i := range j.sequence {
		ok, err := j.explainsState(i, h, &amount)
		if !ok || err != nil {
			return h.Suspect, false, err
		}
	}
	s := h.Suspect
	switch {
	case h.measured && (amount.low <= -1.5 || math.IsInf(amount.low, 0) || math.IsInf(amount.high, 0)):
		return s, false, nil
	case h.measured:
		s.Amount = (amount.low + amount.high) / 2
	case h.Fault == PinWorn:
		s.Amount = math.Sqrt(h.changes[0].ohms * h.changes[1].ohms)
	}
	return s, true, nil
}

// healthy tells whether a rig without a fault explains a state.
func (j *judge) healthy(i int) (bool, error) {
	none := hypothesis{changes: []change{{}}, gain: -1}
	return j.explainsState(i, none, &span{math.Inf(-1), math.Inf(1)})
}

func (j *judge) explainsLate(h hypothesis) (bool, error) {
	missing := true
	any := false
	for i := range j.taken {
		dead, err := j.explainsState(i, hypothesis{changes: h.changes, gain: -1, Suspect: Suspect{Thing: h.late, Fault: SupplyDead}}, &span{math.Inf(-1), math.Inf(1)})
		if err != nil {
			return false, err
		}
		alive, err := j.healthy(i)
		if err != nil {
			return false, err
		}
		switch {
		case missing && !alive && dead:
			any = true
		case alive && !dead:
			missing = false
		case !alive:
			return false, nil
		}
	}
	return any && !missing, nil
}

// explainsState tells whether a hypothesis explains one state, and narrows its
// amount.
func (j *judge) explainsState(i int, h hypothesis, amount *span) (bool, error) {
	t := &j.taken[i]
	var ends []*prediction
	for k, f := range h.changes {
		p, err := j.prediction(i, f, h.key(k))
		if err != nil {
			return false, err
		}
		ends = append(ends, p)
	}
	for _, v := range t.values {
		e := effect{}
		if h.measured {
			e = j.effect(h, t, ends[0], v.channel)
		}
		if !narrow(amount, e, hull(ends, v.channel), v.span) {
			return false, nil
		}
	}
	for _, q := range t.ratios {
		if !j.explainsRatio(h, t, ends, q, amount) {
			return false, nil
		}
	}
	return true, nil
}

// key names a change, for the predictions that are kept.
func (h *hypothesis) key(k int) string {
	f := &h.changes[k]
	if f.relay == "" && f.coils == nil && f.selects == nil && f.dead == "" && f.pin == "" && !f.unseated {
		return ""
	}
	return fmt.Sprintf("%s|%s|%s|%g", h.Thing, h.Part, h.Fault, f.ohms)
}

// hull is where a channel may be between the ends of a hypothesis.
func hull(ends []*prediction, c int) span {
	s := span{ends[0].low[c], ends[0].high[c]}
	for _, p := range ends[1:] {
		s = span{math.Min(s.low, p.low[c]), math.Max(s.high, p.high[c])}
	}
	return s
}

// effect is how a value moves with the amount of a hypothesis: by slope.
type effect struct{ slope float64 }

// effect of an amount on a channel: a gain moves what the channel reads in
// proportion, a drift moves the supply.
func (j *judge) effect(h hypothesis, t *taken, p *prediction, channel int) effect {
	if h.drift != "" {
		return effect{p.slope(channel, h.drift)}
	}
	if h.meter == "" && channel == h.gain || h.meter != "" && h.meter == meterOf(j.m.channels[channel], t.state) {
		return effect{p.value(channel)}
	}
	return effect{}
}

// slight is the slope below which an amount does not show.
const slight = 1e-9

// narrow keeps the amounts for which a prediction that moves by a slope meets
// what was measured. It is false when none is left.
func narrow(amount *span, e effect, predicted, got span) bool {
	if math.Abs(e.slope) < slight {
		return predicted.meets(got)
	}
	a, b := (got.low-predicted.high)/e.slope, (got.high-predicted.low)/e.slope
	amount.low, amount.high = math.Max(amount.low, math.Min(a, b)), math.Min(amount.high, math.Max(a, b))
	return amount.low <= amount.high
}

// mostDoubt is the relative half-width beyond which a ratio is not looked at: to
// first order it is then wrong by a hundredth. Below, its reciprocal gives the
// far end, which is never too near.
const mostDoubt = 0.1

// explainsRatio asks the same of a ratio. Where a supply leaves open whether it
// is on, a ratio says nothing.
func (j *judge) explainsRatio(h hypothesis, t *taken, ends []*prediction, q ratio, amount *span) bool {
	a, b := t.values[q.a].channel, t.values[q.b].channel
	predicted, doubt := span{math.Inf(1), math.Inf(-1)}, 0.0
	for _, p := range ends {
		if !p.certain[a] || !p.certain[b] || !(p.value(b) > 0) {
			return true
		}
		v := p.value(a) / p.value(b)
		r := p.ratioHalf(a, b) / math.Abs(v)
		if !(r < mostDoubt) {
			return true
		}
		doubt = math.Max(doubt, r)
		predicted = span{math.Min(predicted.low, v*(1-r)), math.Max(predicted.high, v/(1-r))}
	}
	if !h.measured {
		return predicted.meets(q.span)
	}
	p := ends[0]
	ea, eb := j.effect(h, t, p, a), j.effect(h, t, p, b)
	// (A + a d) / (B + b d) between low and high, with the tolerance of the
	// prediction on the measured side; both inequalities are linear in d while
	// the denominator is above zero.
	va, vb := p.value(a), p.value(b)
	for _, x := range [...]struct{ at, sign float64 }{{q.low * (1 - doubt), 1}, {q.high / (1 - doubt), -1}} {
		rest, slope := x.sign*(va-x.at*vb), x.sign*(ea.slope-x.at*eb.slope)
		switch {
		case math.Abs(slope) < slight:
			if rest < 0 {
				return false
			}
		case slope > 0:
			amount.low = math.Max(amount.low, -rest/slope)
		default:
			amount.high = math.Min(amount.high, -rest/slope)
		}
	}
	return amount.low <= amount.high
}
