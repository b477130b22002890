package twin

import (
	"errors"
	"time"
)

// RigFaultKind is what is wrong with a rig.
type RigFaultKind string

// The faults of a rig. The comment says which fields of RigFault count.
const (
	ContactWelded    RigFaultKind = "contact-welded"     // Part: relay; Index: contact
	ContactStuckOpen RigFaultKind = "contact-stuck-open" // Part: relay; Index: contact
	ChipAbsent       RigFaultKind = "chip-absent"        // Part: chip
	ChannelGain      RigFaultKind = "channel-gain"       // Part: converter; Index: input; Value: relative error
	BusHang          RigFaultKind = "bus-hang"           // Part: bus; Index: transfer from now; For
	BusDead          RigFaultKind = "bus-dead"           // Part: bus; Index: first transfer from now
	BusNak           RigFaultKind = "bus-nak"            // Part: bus; Index: transfer from now
	BusSlow          RigFaultKind = "bus-slow"           // Part: bus; Value: factor on the time of a transfer
	LineStuck        RigFaultKind = "line-stuck"         // Part: line; Value: level, 0 or 1
	SupplyDead       RigFaultKind = "supply-dead"        // Part: supply
	SupplyLate       RigFaultKind = "supply-late"        // Part: supply; For
	SupplyOff        RigFaultKind = "supply-off-value"   // Part: supply; Value: relative error, a drifted reference too
	PinOpen          RigFaultKind = "pin-open"           // Part: pin of the plug
	PinWorn          RigFaultKind = "pin-worn"           // Part: pin of the plug; Value: ohms
	StopPressed      RigFaultKind = "stop-pressed"       // At, For (zero: for good)
	LidOpened        RigFaultKind = "lid-opened"         // At, For (zero: for good)
)

// ErrRigFault is the cause when a fault of the rig names nothing that there
// is, or is out of its domain.
var ErrRigFault = errors.New("not a fault that this rig can have")

// RigFault is a defect of the rig.
type RigFault struct {
	Kind  RigFaultKind
	Part  string
	Index int
	Value float64
	For   time.Duration
	// At is the instant for what happens at one; an instant that is past
	// means now.
	At time.Duration
}
