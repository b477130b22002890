package wiring

import "slices"

// joined looks for a path between two supplies, with every contact in order
// and with each single contact welded.
func (v *prover) joined(s *situation) {
	clean := true
	for i := range v.rig.Supplies {
		a := &v.rig.Supplies[i]
		p, b := v.meets(a, v.rig.Supplies[i+1:], s.dropping)
		if p == nil {
			continue
		}
		clean = false
		v.report(s, JoinedSupplies, a.Name+" "+b, p,
			"%s, the supplies %s and %s are joined through %s: %s. Two supplies stay apart by %s or more.",
			v.in(s, v.holds(p, s.settled)), a.Name, b, p.ohmsText(), v.g.describe(p), v.rig.Isolation)
	}
	if clean {
		v.welds(s)
	}
}

// meets looks for a path from one supply to any of the others.
func (v *prover) meets(a *Supply, others []Supply, pos position) (*path, string) {
	targets := make([]bool, len(v.g.nets))
	for _, b := range others {
		targets[v.g.index[b.Vbus]] = true
		if b.Vbus == a.Vbus {
			return &path{nets: []int{v.g.index[a.Vbus]}}, b.Name
		}
	}
	p := v.g.find(v.g.index[a.Vbus], targets, v.rig.Isolation.SI, pos)
	if p == nil {
		return nil, ""
	}
	end := v.g.nets[p.nets[len(p.nets)-1]]
	for _, b := range others {
		if b.Vbus == end {
			return p, b.Name
		}
	}
	return nil, ""
}

// holds tells whether a path stands in a position.
func (v *prover) holds(p *path, pos position) bool {
	return !slices.ContainsFunc(p.edges, func(id int) bool { return !v.g.conducts(id, pos) })
}

// welds tries each throw of each contact that the situation does not hold
// anyway. Only a contact between two islands that hold a supply each can join
// any, or one within an island that holds two: where both throws of a contact
// count as closed, an island may be larger than any state makes it. That spares
// almost every search.
func (v *prover) welds(s *situation) {
	island, supplied := v.islands(s.dropping)
	for _, e := range v.g.edges {
		if e.contact < 0 || e.contact == v.g.broken || s.dropping[e.contact]&e.throw != 0 {
			continue
		}
		if a, b := island[e.a], island[e.b]; supplied[a] == 0 || supplied[b] == 0 || a == b && supplied[a] < 2 {
			continue
		}
		pos := slices.Clone(s.dropping)
		pos[e.contact] = e.throw
		for i := range v.rig.Supplies {
			a := &v.rig.Supplies[i]
			p, b := v.meets(a, v.rig.Supplies[i+1:], pos)
			if p == nil {
				continue
			}
			v.weld(s, e, a.Name, b, p, pos)
		}
	}
}

// islands numbers the nets that paths without ground connect, by edges below
// the isolation resistance, and counts the supplies on each. Ground is an
// island by itself.
func (v *prover) islands(pos position) (island, supplied []int) {
	island = make([]int, len(v.g.nets))
	for i := range island {
		island[i] = -1
	}
	island[0] = 0
	n := 1
	var walk func(net int)
	walk = func(net int) {
		island[net] = n
		for _, id := range v.g.at[net] {
			e := &v.g.edges[id]
			if next := e.a + e.b - net; island[next] < 0 && e.low < v.rig.Isolation.SI && v.g.conducts(id, pos) {
				walk(next)
			}
		}
	}
	for net := range island {
		if island[net] < 0 {
			walk(net)
			n++
		}
	}
	supplied = make([]int, n)
	for _, s := range v.rig.Supplies {
		supplied[island[v.g.index[s.Vbus]]]++
	}
	return island, supplied
}

func (v *prover) weld(s *situation, e edge, a, b string, p *path, welded position) {
	throw := "NO"
	if e.throw == toNC {
		throw = "NC"
	}
	key := "weld|" + e.name + "|" + throw + "|" + a + "|" + b
	if v.said[key] {
		return
	}
	v.said[key] = true
	v.proof.Welds = append(v.proof.Welds, Weld{e.name, throw, s.setting, a, b})
	settled := slices.Clone(s.settled)
	settled[e.contact] = welded[e.contact]
	v.report(s, WeldedContact, key, p,
		"%s, the supplies %s and %s are joined through %s if the contact %s is welded to %s: %s. Put a second contact in series.",
		v.in(s, v.holds(p, settled)), a, b, p.ohmsText(), e.name, throw, v.g.describe(p))
}

// shorted looks for a path from a supply to ground. A probe is a current
// source that is made to meet a short, so it may.
func (v *prover) shorted(s *situation) {
	ground := v.targets(Ground)
	for i := range v.rig.Supplies {
		a := &v.rig.Supplies[i]
		if a.Kind == Probe {
			continue
		}
		from := v.g.index[a.Vbus]
		settled := true
		p := v.g.find(from, ground, v.rig.Isolation.SI, s.settled)
		if p == nil {
			settled = false
			p = v.g.find(from, ground, v.rig.Isolation.SI, s.moving)
		}
		if p != nil {
			v.report(s, ShortedSupply, a.Name, p, "%s, the supply %s is shorted to ground through %s: %s. No path to ground may be below %s.",
				v.in(s, settled), a.Name, p.ohmsText(), v.g.describe(p), v.rig.Isolation)
		}
	}
}

// cold asks that no relay makes or breaks a current: with the feeds off, no
// supply of VBUS may reach the unit or ground through the contacts that move.
func (v *prover) cold(s *situation) {
	ends := v.targets(append(v.rig.pinNets(), Ground)...)
	for i := range v.rig.Supplies {
		a := &v.rig.Supplies[i]
		if !a.Kind.feeds() {
			continue
		}
		p := v.g.find(v.g.index[a.Vbus], ends, v.rig.Isolation.SI, s.moving)
		if p == nil {
			continue
		}
		end := v.g.nets[p.nets[len(p.nets)-1]]
		if name := v.armature(p, s.moving); name != "" {
			v.report(s, HotContact, a.Name, p,
				"On the way into or out of %s, the contact %s moves while %s reaches %s: %s. Put a solid-state switch in that path and list it under \"feed\".",
				s.setting, name, a.Name, end, v.g.describe(p))
		} else if s.setting.Condition != Isolated {
			v.report(s, HotContact, a.Name, p,
				"On the way into or out of %s, %s reaches %s with the feeds off: %s. List a solid-state switch of that path under \"feed\", not under \"on\".",
				s.setting, a.Name, end, v.g.describe(p))
		}
	}
}

// armature returns the first contact of a relay on a path that moves.
func (v *prover) armature(p *path, moving position) string {
	for _, id := range p.edges {
		e := v.g.edges[id]
		if e.contact < 0 {
			continue
		}
		c := v.g.contacts[e.contact]
		if !c.relay.SolidState && moving[e.contact]&between != 0 && moving[e.contact] != between {
			return c.name
		}
	}
	return ""
}

// isolated asks that with every coil off no supply reaches the unit, through
// whatever resistance.
func (v *prover) isolated(s *situation) {
	if s.setting.Condition != Isolated {
		return
	}
	ends := v.targets(v.rig.pinNets()...)
	for i := range v.rig.Supplies {
		a := &v.rig.Supplies[i]
		for _, net := range []string{a.Vbus, a.CC1, a.CC2} {
			from, ok := v.g.index[net]
			if !ok {
				continue
			}
			p := v.g.find(from, ends, infinite, s.settled)
			if p == nil && ends[from] {
				p = &path{nets: []int{from}}
			}
			if p != nil {
				v.report(s, NotIsolated, a.Name, p,
					"With every coil off, %s reaches the unit: %s. In %q nothing may.", a.Name, v.g.describe(p), Isolated)
			}
		}
	}
}

// power asks that a condition with power comes after the probe.
func (v *prover) power(s *situation) {
	name := s.setting.Condition
	if slices.Contains(v.powered, name) {
		return
	}
	ends := v.targets(v.rig.pinNets()...)
	for i := range v.rig.Supplies {
		a := &v.rig.Supplies[i]
		if !a.Kind.powers() {
			continue
		}
		p := v.g.find(v.g.index[a.Vbus], ends, v.rig.Isolation.SI, s.settled)
		if p == nil {
			continue
		}
		v.powered = append(v.powered, name)
		switch {
		case name == ProbeVbus:
			v.report(s, NotProbed, a.Name, p, "%s itself brings %s to the unit: %s. Only a supply of kind %s may be on there.",
				ProbeVbus, a.Name, v.g.describe(p), Probe)
		case !slices.Contains(v.rig.Needed(name), ProbeVbus):
			v.report(s, NotProbed, a.Name, p, "%s brings %s to the unit (%s) but does not need %s; write needs = [%q].",
				s.setting, a.Name, v.g.describe(p), ProbeVbus, ProbeVbus)
		}
		return
	}
}

// emptied asks that what feeds VBUS in a setting is bled off when every coil
// is dead, through switches that may close onto a charged net.
func (v *prover) emptied(s *situation) {
	sense := v.rig.Nest.PinNet(PinVbusSense)
	fed := v.targets(sense, v.rig.Nest.PinNet(PinVbusForce))
	for i := range v.rig.Supplies {
		a := &v.rig.Supplies[i]
		if !a.Kind.feeds() || v.g.find(v.g.index[a.Vbus], fed, v.rig.Isolation.SI, s.settled) == nil {
			continue
		}
		dead := v.g.place(nil, nil)
		p := v.g.find(v.g.index[sense], v.targets(Ground), v.rig.Isolation.SI, dead)
		if p == nil {
			v.report(s, NotEmptied, "none", nil,
				"%s brings %s to %s, and with every coil off nothing below %s leads from there to ground. A switch that is closed without its coil must bleed it.",
				s.setting, a.Name, sense, v.rig.Isolation)
			return
		}
		for _, id := range p.edges {
			c := v.g.edges[id].contact
			if c < 0 || v.g.contacts[c].relay.SolidState || dead[c] == s.settled[c] {
				continue
			}
			v.report(s, NotEmptied, v.g.contacts[c].name, p,
				"After %s, the contact %s closes onto %s while it is charged: %s. The bleeder must be a solid-state switch.",
				s.setting, v.g.contacts[c].name, sense, v.g.describe(p))
			return
		}
		return
	}
}
