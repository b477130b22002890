package wiring

// Setting is one state of the rig by name: a condition and the value of each
// of its axes. Axes that are left out take their default.
type Setting struct {
	Condition string
	Axes      []AxisChoice
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
