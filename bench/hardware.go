package bench

import (
	"context"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"
)

// Clock gives the time since some fixed instant and waits.
type Clock interface {
	Now() time.Duration
	Sleep(ctx context.Context, d time.Duration) error
}

// Hardware is what the computer offers, under the names of the wiring file.
// The keys of Buses and Lines are the wiring's Bus.Name and Line.Name.
type Hardware struct {
	Buses map[string]i2c.Bus
	Lines map[string]gpio.PinIO
	Clock Clock
	// heart is shared with other nests; nil for a rig of its own.
	heart *heart
}

// ownHeart is the heart that a rig lives on.
func (hw Hardware) ownHeart() *heart {
	if hw.heart != nil {
		return hw.heart
	}
	return &heart{}
}
