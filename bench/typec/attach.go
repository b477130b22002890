package typec

// Pin names a CC pin of the source, or none.
type Pin int

// The pins that an action may concern.
const (
	NoPin Pin = 0
	CC1   Pin = 1
	CC2   Pin = 2
)

// String returns "CC1", "CC2" or "none".
func (p Pin) String() string {
	switch p {
	case CC1:
		return "CC1"
	case CC2:
		return "CC2"
	}
	return "none"
}

// Attachment is what a source takes the pair of its terminations for.
type Attachment int

const (
	// Undecided: a termination is unknown or in a decision zone, so that one
	// source acts and another does not.
	Undecided Attachment = iota
	// Nothing is attached.
	Nothing
	// CableOnly: a powered cable without a sink.
	CableOnly
	// Sink: a sink through a plain cable.
	Sink
	// SinkMarked: a sink through a powered or marked cable.
	SinkMarked
	// Debug: the debug accessory.
	Debug
	// BothRa: the audio adapter accessory up to R2.4, the liquid-corrosion
	// mitigation mode from R2.5. Neither gets VBUS.
	BothRa
)

// String says it in words.
func (a Attachment) String() string {
	switch a {
	case Nothing:
		return "nothing attached"
	case CableOnly:
		return "powered cable without a sink"
	case Sink:
		return "sink"
	case SinkMarked:
		return "sink through a powered cable"
	case Debug:
		return "debug accessory"
	case BothRa:
		return "audio accessory (to R2.4) or corrosion mitigation (R2.5)"
	}
	return "undecided"
}

// Action is what a source does about the pair of its terminations.
type Action struct {
	Attachment Attachment
	// VBUS: the source applies VBUS.
	VBUS bool
	// CC is the pin that carries the advertisement, which gives the
	// orientation; VCONN is the pin that gets VCONN.
	CC, VCONN Pin
}

// Attach is the table of source connection states: R2.0 and later, Table
// 4-10, as printed in the ChromiumOS EC, the MT6392 kernel driver and Table
// 8-1 of the TI TPS65988 data sheet. For two Rd it gives what an ordinary
// source does, which is nothing; a source that supports the debug accessory
// would apply VBUS there.
func Attach(cc1, cc2 Termination) Action {
	switch [2]Termination{cc1, cc2} {
	case [2]Termination{Open, Open}:
		return Action{Attachment: Nothing}
	case [2]Termination{Rd, Open}:
		return Action{Attachment: Sink, VBUS: true, CC: CC1}
	case [2]Termination{Open, Rd}:
		return Action{Attachment: Sink, VBUS: true, CC: CC2}
	case [2]Termination{Open, Ra}, [2]Termination{Ra, Open}:
		return Action{Attachment: CableOnly}
	case [2]Termination{Rd, Ra}:
		return Action{Attachment: SinkMarked, VBUS: true, CC: CC1, VCONN: CC2}
	case [2]Termination{Ra, Rd}:
		return Action{Attachment: SinkMarked, VBUS: true, CC: CC2, VCONN: CC1}
	case [2]Termination{Rd, Rd}:
		return Action{Attachment: Debug}
	case [2]Termination{Ra, Ra}:
		return Action{Attachment: BothRa}
	}
	return Action{Attachment: Undecided}
}
