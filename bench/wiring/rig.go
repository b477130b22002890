package wiring

import "sinkproof/bench/quantity"

// Rig is one test rig, seen from one of its nests.
type Rig struct {
	Name    string // an identifier such as "bench-one"
	Title   string
	Version string

	// Isolation is the resistance below which a path joins two nets.
	Isolation quantity.Quantity
	// Mains is the frequency over whole periods of which a channel averages.
	Mains quantity.Quantity

	Buses []Bus
	// Lines are those that all nests share, then those of Nest.
	Lines      []Line
	Chips      []Chip // where those of Nest answer
	Nets       []Net
	Parts      []Part
	Relays     []Relay
	Selects    []Select
	Supplies   []Supply
	Nest       Nest
	Channels   []Channel
	Conditions []Condition
	Guard      Guard

	// Nests are all nests, Nest among them, in the order of their numbers; nil
	// where there is one.
	Nests []Nest
}

// Toleranced is a nominal value with the half-width of its tolerance
// interval. Relative tolerances have dimension Number.
type Toleranced struct {
	Nominal   quantity.Quantity
	Tolerance quantity.Quantity
}

// Bus is one I2C bus of the computer.
type Bus struct {
	Name      string
	Device    string // what the computer calls it: a number or a name
	Frequency quantity.Quantity
}

// LineUse says what a digital line of the computer is for.
type LineUse string

// The uses of a line.
const (
	EmergencyStop LineUse = "emergency-stop" // input, active level = stop pressed
	Lid           LineUse = "lid"            // input, active level = lid open
	Heartbeat     LineUse = "heartbeat"      // output, every edge feeds the monostable
	Arm           LineUse = "arm"            // output, a pulse restores the latched coil supply
	CoilSupply    LineUse = "coil-supply"    // input, active level = coil supply is on
	Alert         LineUse = "alert"          // input, alert pin of a chip
)

// Line is one digital line of the computer.
type Line struct {
	Name      string
	Device    string // line name, or "chip label:offset"
	Use       LineUse
	ActiveLow bool
	Chip      string // for Alert: the chip whose pin this is
}

// ChipKind is the class of a chip.
type ChipKind string

// The four classes of chip.
const (
	ADC         ChipKind = "adc16x4"
	Expander    ChipKind = "expander16"
	PowerMon    ChipKind = "powermon"
	Thermometer ChipKind = "thermometer"
)

// Chip is one chip on a bus with the error limits of its data sheet.
type Chip struct {
	Name    string
	Kind    ChipKind
	Bus     string
	Address uint16

	// Gain, Offset and Noise bound the chip's errors: half-width of the gain
	// error (relative), half-width of the offset (volts at the input; kelvin
	// for a thermometer), and rms noise (volts; kelvin).
	Gain, Offset, Noise quantity.Quantity
	// Oscillator is the half-width of the relative error of its clock.
	Oscillator quantity.Quantity

	// Inputs names the net at each input of an ADC ("" = unused). Plus, Minus
	// and Sense are the nets of a power monitor's shunt and bus pins; Shunt
	// names the part that is its shunt.
	Inputs             []string
	Plus, Minus, Sense string
	Shunt              string
	// Loading is the resistance that each connected input shows to ground.
	Loading quantity.Quantity
}

// Net is a named node. Rating is the highest voltage that anything connected
// to it stands; the zero Rating means that nothing limits it.
type Net struct {
	Name   string
	Rating quantity.Quantity
	Note   string
}

// Ground is the name of the reference net.
const Ground = "gnd"

// PartKind is the kind of a two-terminal part.
type PartKind string

// The kinds of part.
const (
	Resistor  PartKind = "resistor"
	Capacitor PartKind = "capacitor"
	// Clamp conducts from A to B above Value volts (a diode, or a diode into
	// a rail).
	Clamp PartKind = "clamp"
)

// Part is a two-terminal part soldered between two nets.
type Part struct {
	Name  string
	Kind  PartKind
	A, B  string
	Value Toleranced
	Note  string
}

// Form is the form of a contact.
type Form string

// The forms of contact.
const (
	FormA Form = "A" // closes when the coil is on
	FormC Form = "C" // Common leaves NC and reaches NO when the coil is on
)

// Contact is one contact of a relay. A form A contact uses Common and NO.
type Contact struct {
	Name           string
	Form           Form
	Common, NO, NC string // net names; NO or NC may be "" on a form C contact
	// Resistance of the closed contact.
	Resistance Toleranced
}

// Pin names an output of an expander: port 'A' or 'B', bit 0 to 7.
type Pin struct {
	Chip string
	Bit  int // 0..7 = A0..A7, 8..15 = B0..B7
}

// Relay is a coil with the contacts that it moves.
type Relay struct {
	Name string
	// Class says what to buy, for the parts list.
	Class string
	Coil  Pin
	// SolidState marks a current-limited semiconductor switch, the only kind
	// that may switch a load; every other relay is switched cold.
	SolidState bool
	// Limit is the current limit of a solid-state switch; zero without one.
	Limit                    quantity.Quantity
	Operate, Release, Bounce quantity.Quantity // longest times
	Life                     float64           // rated operations at this load
	Contacts                 []Contact
	Note                     string
}

// Select is an expander output that tells a supply what to do.
type Select struct {
	Name string
	Pin  Pin
	Note string
}

// SupplyKind is the kind of a supply.
type SupplyKind string

// The kinds of supply.
const (
	// LegacyA has 5 V at all times and cannot see a unit.
	LegacyA SupplyKind = "legacy-a"
	// CSupply applies 5 V only after it has seen a termination.
	CSupply SupplyKind = "c-supply"
	// Portable is a battery with a legacy A port that switches itself off
	// when the load stays below Wake for longer than Patience.
	Portable SupplyKind = "portable"
	// Probe is a current source with a low compliance voltage.
	Probe SupplyKind = "probe"
	// Reference is a small voltage source for pull-ups and self-test.
	Reference SupplyKind = "reference"
	// CellSubstitute sources and sinks current at a selected voltage.
	CellSubstitute SupplyKind = "cell-substitute"
)

// Level is one value that a supply takes when the named selects are on.
// Value is a voltage, a current or, for a C supply, the current that it
// advertises.
type Level struct {
	Name    string
	Value   quantity.Quantity
	Selects []string
}

// Supply drives nets.
type Supply struct {
	Name string
	Kind SupplyKind
	// Vbus is the net that it drives. CC1 and CC2 are its CC pins, for a C
	// supply only.
	Vbus, CC1, CC2 string
	Volts          Toleranced
	Output         quantity.Quantity // series resistance
	Limit          quantity.Quantity // current limit
	Compliance     quantity.Quantity // of a Probe: the highest voltage it reaches
	// Levels are the values that selects choose from. The level whose
	// Selects are exactly the supply's selects that are on is taken.
	Levels         []Level
	LevelTolerance quantity.Quantity // relative
	Wake           quantity.Quantity // of a Portable
	Patience       quantity.Quantity // of a Portable
	// Bleed is the resistance with which a supply empties its own output
	// when off.
	Bleed quantity.Quantity
	Note  string
}

// Nest seats one unit, and has everything that the unit meets to itself.
type Nest struct {
	Name string
	// Number counts from 1; 0 where the rig has one nest.
	Number int
	// Lines are those that serve this nest alone.
	Lines []Line
	// Chips says where this nest's chips answer; nil where the rig has one nest.
	Chips []Chip
	Pins  []PlugPin
	// Matings is the rated number of mate cycles of the test plug.
	Matings float64
	// Empty is the highest capacitance that VBUS shows with no unit seated.
	Empty quantity.Quantity
	// Check is the check receptacle: a passive board that is seated in place
	// of a unit to prove the plug. A and B of its parts, all resistors, name
	// pins. Empty where the rig has none.
	Check []Part
}

// The pins of a nest, by what they touch on the unit.
const (
	PinVbusForce = "vbus-force" // A4/B9: carries the current
	PinVbusSense = "vbus-sense" // A9/B4: senses behind the power contacts
	PinGround    = "ground"
	PinCC1       = "cc1" // A5
	PinCC2       = "cc2" // B5
	PinDP1       = "dp1" // A6
	PinDM1       = "dm1" // A7
	PinDP2       = "dp2" // B6
	PinDM2       = "dm2" // B7
	PinCell      = "cell"
	PinLight     = "light" // optical: the sensor's net
)

// PlugPin says which net lies at a pin, and through which contact resistance.
type PlugPin struct {
	Pin        string
	Net        string
	Resistance Toleranced
}

// Channel is one quantity that the rig can measure.
type Channel struct {
	Name  string
	Title string
	Kind  ChannelKind

	// Chip and Input are where a direct channel is read; Net is what it
	// measures, Upper and Lower the parts of its divider ("" = none).
	Chip         string
	Input        int
	Net          string
	Upper, Lower string
	// Ranges of a current channel, the first one being the default.
	Ranges []Range
	// Highest is the top of what the channel can read.
	Highest quantity.Quantity
	// Averaging: DC readings span whole mains periods.
	MainsAverage bool

	// A termination channel computes the resistance from Volts to ground out
	// of two channels of one converter and the pull-up that is connected:
	// Pulls lists the candidates, of which the condition closes one.
	Volts, Rail string
	Pulls       []Pull
	// Loads names the parts whose resistance to ground stands beside the
	// unknown one.
	Loads []string
}

// Pull is a pull-up resistor and the relay that connects it.
type Pull struct {
	Part  string
	Relay string
}

// Range is one range of a current channel: the monitor that serves it and
// the relay that must be on (or, with Off, off) for it to hold.
type Range struct {
	Name  string
	Chip  string
	Relay string
	Off   bool
}

// ChannelKind is what a channel does.
type ChannelKind string

// The kinds of channel.
const (
	VoltageChannel     ChannelKind = "voltage"
	CurrentChannel     ChannelKind = "current"
	TerminationChannel ChannelKind = "termination"
	LightChannel       ChannelKind = "light"
	TemperatureChannel ChannelKind = "temperature"
)

// Condition puts the unit in front of one supply or instrument.
type Condition struct {
	Name  string
	Title string
	// On lists the relays and selects that are on in every setting.
	On []string
	// Feed lists solid-state switches that are turned on last and off first.
	Feed []string
	// Needs names conditions that must have passed before in the same run.
	Needs []string
	Axes  []Axis
	Note  string
}

// Axis is one way in which a condition varies; the first value is the default.
type Axis struct {
	Name   string
	Values []AxisValue
}

// AxisValue adds relays and selects to the condition's own.
type AxisValue struct {
	Name string
	On   []string
}

// Guard holds the times and limits of the hardware safety chain.
type Guard struct {
	// BeatGap is the longest gap between heartbeat edges that keeps the coil
	// supply on.
	BeatGap quantity.Quantity
	// ArmPulse is the shortest arm pulse that restores it.
	ArmPulse quantity.Quantity
	// OverVoltage on VBUS at which the run is isolated.
	OverVoltage quantity.Quantity
	// Safe0V is the voltage below which VBUS counts as off.
	Safe0V quantity.Quantity
}
