package wiring

import "slices"

// Setting is one state of the rig by name: a condition and the value of each
// of its axes. Axes that are left out take their default.
type Setting struct {
	Condition string
	Axes      []AxisChoice
}

// Equal tells whether two settings name the same with the same words.
func (s Setting) Equal(t Setting) bool {
	return s.Condition == t.Condition && slices.Equal(s.Axes, t.Axes)
}

// AxisChoice gives an axis its value.
type AxisChoice struct {
	Axis, Value string
}

// State is a setting as the rig takes it: the relays and selects that are on,
// sorted by name, the feeds apart.
type State struct {
	Setting Setting
	On      []string
	Feed    []string
}
