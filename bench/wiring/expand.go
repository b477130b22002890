package wiring

import (
	"errors"
	"fmt"
	"slices"
)

// ErrUnknown is the cause when a setting names a condition, an axis or a value
// that the rig does not have.
var ErrUnknown = errors.New("not on this rig")

// String writes a setting as condition[axis = value, ...], the axes in the
// order given.
func (s Setting) String() string {
	if len(s.Axes) == 0 {
		return s.Condition
	}
	text := append(make([]byte, 0, 64), s.Condition...)
	before := "["
	for _, a := range s.Axes {
		text = append(append(text, before...), a.Axis...)
		text = append(append(text, " = "...), a.Value...)
		before = ", "
	}
	return string(append(text, ']'))
}

// Expand resolves a setting into the relays and selects that are on. The
// state's own setting gives every axis, in the order of the condition. It
// returns ErrUnknown for a name that the rig does not have and an error for an
// axis that is chosen twice.
func (r *Rig) Expand(s Setting) (State, error) {
	c, ok := r.Condition(s.Condition)
	if !ok {
		return State{}, fmt.Errorf("expand setting %s: condition %q: %w", s, s.Condition, ErrUnknown)
	}
	chosen := map[string]string{}
	for _, a := range s.Axes {
		if _, ok := c.Axis(a.Axis); !ok {
			return State{}, fmt.Errorf("expand setting %s: axis %q of condition %q: %w", s, a.Axis, c.Name, ErrUnknown)
		}
		if _, twice := chosen[a.Axis]; twice {
			return State{}, fmt.Errorf("expand setting %s: axis %q is chosen twice", s, a.Axis)
		}
		chosen[a.Axis] = a.Value
	}
	state, err := c.expand(chosen)
	if err != nil {
		return State{}, fmt.Errorf("expand setting %s: %w", s, err)
	}
	return state, nil
}

func (c *Condition) expand(chosen map[string]string) (State, error) {
	out := State{Setting: Setting{Condition: c.Name}}
	on := slices.Clone(c.On)
	for i := range c.Axes {
		a := &c.Axes[i]
		if len(a.Values) == 0 {
			return State{}, fmt.Errorf("axis %q has no values: %w", a.Name, ErrUnknown)
		}
		v := &a.Values[0]
		if name, ok := chosen[a.Name]; ok {
			if v, ok = a.Value(name); !ok {
				return State{}, fmt.Errorf("value %q of axis %q: %w", name, a.Name, ErrUnknown)
			}
		}
		on = append(on, v.On...)
		out.Setting.Axes = append(out.Setting.Axes, AxisChoice{a.Name, v.Name})
	}
	out.Feed = sortedOnce(c.Feed)
	on = slices.DeleteFunc(on, func(n string) bool { return slices.Contains(out.Feed, n) })
	out.On = sortedOnce(on)
	return out, nil
}

func sortedOnce(list []string) []string {
	out := slices.Clone(list)
	slices.Sort(out)
	return slices.Compact(out)
}

// Settings returns every setting of a condition with all axes given, the last
// axis changing fastest. It is empty for an unknown condition.
func (r *Rig) Settings(condition string) []Setting {
	c, ok := r.Condition(condition)
	if !ok {
		return nil
	}
	out := []Setting{{Condition: c.Name}}
	for _, a := range c.Axes {
		var next []Setting
		for _, s := range out {
			for _, v := range a.Values {
				axes := append(slices.Clone(s.Axes), AxisChoice{a.Name, v.Name})
				next = append(next, Setting{c.Name, axes})
			}
		}
		out = next
	}
	return out
}

// States returns the expanded settings of all conditions, in their order.
func (r *Rig) States() []State {
	var out []State
	for i := range r.Conditions {
		for _, s := range r.Settings(r.Conditions[i].Name) {
			if st, err := r.Expand(s); err == nil {
				out = append(out, st)
			}
		}
	}
	return out
}

// Holds tells whether a relay or select is on in a state.
func (s State) Holds(name string) bool {
	return slices.Contains(s.On, name) || slices.Contains(s.Feed, name)
}
