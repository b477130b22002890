package circuit

import "math"

// maxChanges bounds the segment changes at one instant, that is, within
// SettledSeconds. A network of a few dozen elements settles in a handful.
const maxChanges = 400

// maxRounds is the number of rounds in which all violated elements change
// together, which is nearly always enough. Where it is not, the search goes on
// along a line that cannot cycle.
const maxRounds = 6

// settleSegments finds segments that hold at this instant for the listed
// elements: of the island sh with its capacitors charged as they are, or, for
// sh nil, of the whole network at rest. What chargers remember is consulted
// only once everything else fits (unless frozen): on the way there voltages may
// be far from anything real.
func (s *Sim) settleSegments(sh *shape, list []int32, freeze bool) error {
	changes := 0
	defer func() { s.slack = 0 }()
	for {
		last, err := s.align(sh, list, &changes)
		if err != nil || s.fitted {
			return err
		}
		if last < 0 && !freeze {
			last = s.recall(list)
			changes++
		}
		if last < 0 {
			return nil
		}
		if changes > maxChanges {
			return s.chatter(last)
		}
	}
}

// align settles the segments without memory. It returns an element if it gave
// up, else -1.
func (s *Sim) align(sh *shape, list []int32, changes *int) (int32, error) {
	for round := 0; round < maxRounds; round++ {
		s.loosen(sh, *changes)
		if err := s.attempt(sh); err != nil {
			return -1, err
		}
		if s.fitted = s.fits(sh); s.fitted {
			return -1, nil
		}
		s.show(sh)
		last := int32(-1)
		for _, i := range list {
			if which, bad := s.violation(i, s.trial, false); bad {
				if i == s.moved && s.healing(sh, i, which) {
					continue
				}
				s.elements[i].move(which, s.now, s.trial)
				last = i
				*changes++
			}
		}
		if last < 0 {
			return -1, nil
		}
	}
	return s.follow(sh, list, changes)
}

// follow goes from a point at which the segments fit in the direction of the
// solution for these segments, up to the first corner; there the element
// changes, and the direction is taken anew.
//
// Method: Katzenelson, An algorithm for solving nonlinear resistor networks,
// Bell System Technical Journal 44 (1965), which ends for elements whose
// current only rises with voltage.
//
// In an island the point is the network just before this instant (at Start, a
// first trial), and the line is the way of a relaxation taken as settled: where
// it leaves a segment, the capacitors are charged as they are at the corner, and
// relax from there as the next segment lets them.
func (s *Sim) follow(sh *shape, list []int32, changes *int) (int32, error) {
	copy(s.point, s.trial)
	if sh != nil && s.running {
		copy(s.point, s.volts)
	}
	s.fitAll(list)
	stuck := 0
	for {
		s.loosen(sh, *changes)
		if err := s.attempt(sh); err != nil {
			return -1, err
		}
		s.show(sh)
		least, who, which := 1.0, int32(-1), int8(0)
		for _, i := range list {
			if w, at := s.corner(i); at < least {
				least, who, which = at, i, w
			}
		}
		if who < 0 {
			return -1, nil
		}
		if stuck++; least > 1e-9 {
			stuck = 0
		}
		jump := stuck > maxStuck
		if jump {
			least, stuck = 1, 0
		}
		for n, x := range s.trial {
			s.point[n] += least * (x - s.point[n])
		}
		if sh != nil {
			s.charge(sh)
		}
		if jump {
			s.fitAll(list)
		} else {
			s.elements[who].move(which, s.now, s.point)
		}
		if *changes++; *changes > maxChanges {
			return who, nil
		}
	}
}

// maxStuck is the number of changes at one corner after which the relaxation
// at hand is let through to its end. Two relaxations of different speed do not
// follow a straight line, and the line of both may lead back over the corner
// from either side.
const maxStuck = 6

// loosen allows conditions to be violated a little when the segments at an
// instant keep changing. That happens, rarely, where elements with several
// relaxations of less than SettledSeconds meet at a corner: what is taken as
// settled then differs from segment to segment by more than ConditionVolts.
func (s *Sim) loosen(sh *shape, changes int) {
	s.slack = 0
	if n := changes + s.changes; sh != nil && n > maxChanges/8 {
		s.slack = cornerVolts * math.Pow(10, float64(n)*4/maxChanges-4)
	}
}

// fitAll puts the elements whose segments do not hold at the point into those
// that do.
func (s *Sim) fitAll(list []int32) {
	for _, i := range list {
		if _, bad := s.violation(i, s.point, false); bad {
			s.elements[i].fit(s.point)
		}
	}
}

// charge gives the capacitors of an island the voltages of the point.
func (s *Sim) charge(sh *shape) {
	for _, n := range sh.nodes {
		s.volts[n] = s.point[n]
	}
	for _, i := range sh.caps {
		e := &s.elements[i]
		e.volts = s.point[e.a] - s.point[e.b]
	}
}

// corner returns the share of the way from point to trial at which the element
// first leaves its segment, 1 if it does not.
func (s *Sim) corner(i int32) (which int8, at float64) {
	at = 1
	s.list = s.elements[i].conditions(i, s.list[:0])
	for j := range s.list {
		c := &s.list[j]
		if frozen(c.which) {
			continue
		}
		end, rounding := c.value(s.trial)
		if end >= -2*ConditionVolts-2*rounding-s.slack {
			continue
		}
		start, _ := c.value(s.point)
		start = max(start, 0)
		if x := start / (start - end); x < at {
			which, at = c.which, x
		}
	}
	return which, at
}

// cornerVolts is how far outside its segment an element may stand at most: one
// that has just come over a corner and returns, or one of several that cannot
// agree (see loosen). What is taken as settled differs between the two
// segments by the slope of the voltages times SettledSeconds or so.
const cornerVolts = 0.01

// healing tells whether the element that has just come over a corner stands a
// little outside its new segment and moves into it.
func (s *Sim) healing(sh *shape, i int32, which int8) bool {
	if sh == nil || s.candidate.m == 0 {
		return false
	}
	if cap(s.slopes) < len(s.volts) {
		s.slopes = make([]float64, 2*len(s.volts))
	}
	local, slopes := s.slopes[:s.candidate.n], s.slopes[len(s.volts):2*len(s.volts)]
	s.candidate.rise(local)
	for k, n := range sh.nodes {
		slopes[n] = local[k]
	}
	s.list = s.elements[i].conditions(i, s.list[:0])
	for j := range s.list {
		c := &s.list[j]
		if c.which != which {
			continue
		}
		value, _ := c.value(s.trial)
		rate, rounding := (&condition{node: c.node, weight: c.weight}).value(slopes)
		return value > -cornerVolts && rate > rounding
	}
	return false
}

// recall lets chargers change what they remember at the trial voltages, and
// returns the last that did, or -1.
func (s *Sim) recall(list []int32) int32 {
	last := int32(-1)
	for _, i := range list {
		if which, bad := s.violation(i, s.trial, true); bad {
			s.move(i, which)
			last = i
		}
	}
	return last
}

// violation returns the first condition of an element that does not hold,
// among those of memory or the others.
func (s *Sim) violation(i int32, volts []float64, memory bool) (int8, bool) {
	e := &s.elements[i]
	if e.kind != KindCharger {
		if memory {
			return 0, false
		}
		return e.beyond(volts, s.slack)
	}
	s.list = e.conditions(i, s.list[:0])
	for j := range s.list {
		c := &s.list[j]
		if frozen(c.which) != memory {
			continue
		}
		if x, rounding := c.value(volts); x < -2*ConditionVolts-2*rounding-s.slack {
			return c.which, true
		}
	}
	return 0, false
}

// beyond is violation for an element whose segments lie along its own voltage.
func (e *element) beyond(volts []float64, slack float64) (int8, bool) {
	if !e.joins() {
		return 0, false
	}
	low, high := e.law.low, e.law.high
	a, b := volts[e.a], volts[e.b]
	rounding := math.Abs(a) + math.Abs(b)
	if x := a - low - b; x < -2*ConditionVolts-2e-12*(math.Abs(low)+rounding)-slack {
		return moveBelow, true
	}
	if x := high - a + b; x < -2*ConditionVolts-2e-12*(math.Abs(high)+rounding)-slack {
		return moveAbove, true
	}
	return 0, false
}

// attempt solves for the present segments. Of an island, show then leaves the
// voltages in trial, and of the network at rest it does itself.
func (s *Sim) attempt(sh *shape) error {
	if sh == nil {
		return s.attemptDC()
	}
	sol, err := s.solution(sh, s.part)
	if err != nil {
		return err
	}
	s.excite(sh, sol)
	s.candidate = sol
	if finite(sol.sum) {
		return nil
	}
	for i, n := range sh.nodes {
		if !finite(sol.v0[i]) {
			return &SingularError{s.net.names[n]}
		}
	}
	return nil
}

// show leaves the voltages of the attempt in trial.
func (s *Sim) show(sh *shape) {
	if sh == nil {
		return
	}
	for i, n := range sh.nodes {
		s.trial[n] = s.candidate.v0[i]
	}
}

// fits tells whether no condition at all is violated in the attempt at an island,
// those of memory included.
func (s *Sim) fits(sh *shape) bool {
	if sh == nil {
		return false
	}
	v := s.candidate.v0
	for k := range sh.pieces {
		at := &sh.pieces[k]
		e := &s.elements[at.element]
		if e.kind == KindCharger {
			if !s.chargerFits(e, at, v) {
				return false
			}
			continue
		}
		a, b := v[at.a], v[at.b]
		if u := a - b; u >= e.law.low && u <= e.law.high {
			continue
		}
		s.trial[e.a], s.trial[e.b] = a, b
		if _, bad := e.beyond(s.trial, s.slack); bad {
			return false
		}
	}
	return true
}

func (s *Sim) chargerFits(e *element, at *place, v []float64) bool {
	if e.charger.disabled {
		return true
	}
	s.trial[e.a], s.trial[e.b], s.trial[e.c] = v[at.a], v[at.b], v[at.c]
	s.list = e.conditions(at.element, s.list[:0])
	for j := range s.list {
		if x, rounding := s.list[j].value(s.trial); x < -2*ConditionVolts-2*rounding-s.slack {
			return false
		}
	}
	return true
}

// fit puts a piecewise element into the segment of the given voltages.
func (e *element) fit(v []float64) {
	if e.kind != KindCharger {
		e.fitTo(v[e.a] - v[e.b])
	} else if e.charger.active() {
		e.charger.fit(v[e.a]-v[e.c], v[e.b]-v[e.c])
	}
}

// fitTo is fit for an element whose segments lie along its own voltage.
func (e *element) fitTo(u float64) {
	drop := e.amperes * e.ohms
	switch {
	case e.kind == KindDiode && u > e.volts:
		e.turn(diodeConducts)
	case e.kind == KindDiode:
		e.turn(diodeBlocks)
	case u < e.volts-drop:
		e.turn(limitSource)
	case !e.canSink && u > e.volts:
		e.turn(limitBlocks)
	case e.canSink && u > e.volts+drop:
		e.turn(limitSinks)
	default:
		e.turn(limitRegulates)
	}
}

// fit takes the path whose limit is least.
func (c *charger) fit(in, bat float64) {
	i, voltage, dropout := c.programmed(), (c.RegulationVolts-bat)/c.OutputOhms, (in-bat)/c.DropoutOhms
	switch {
	case voltage < 0 && voltage <= dropout:
		c.path = pathFull
	case dropout < 0:
		c.path = pathReverse
	case i <= voltage && i <= dropout:
		c.path = pathCurrent
	case voltage <= dropout:
		c.path = pathVoltage
	default:
		c.path = pathDropout
	}
}

func (s *Sim) move(i int32, which int8) {
	if frozen(which) {
		s.memory++
	}
	s.elements[i].move(which, s.now, s.trial)
}

func (s *Sim) chatter(i int32) error {
	if i < 0 {
		return &ChatterError{"watch", "", s.now}
	}
	e := &s.elements[i]
	return &ChatterError{e.name, e.segmentName(), s.now}
}

// count notes an event and fails when there are too many at once.
func (s *Sim) count(i int32) error {
	if s.now > s.changesSince+SettledSeconds || s.now < s.changesSince {
		s.changes, s.changesSince = 0, s.now
	}
	if s.changes++; s.changes > maxChanges {
		return s.chatter(i)
	}
	return nil
}
