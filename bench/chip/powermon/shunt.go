package powermon

import (
	"context"
	"fmt"
	"time"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// ShuntReading is one finished conversion of the shunt.
type ShuntReading struct {
	// Current is Shunt divided by the shunt's resistance.
	Shunt, Current quantity.Quantity
	Code           int16
	Saturated      bool
	From, At       time.Duration
}

// Shunt triggers one conversion of the shunt without averaging and returns it:
// 140 µs and three transfers at the fastest. It ends a continuous conversion.
// The errors are those of Measure.
func (d *Dev) Shunt(ctx context.Context, t ConversionTime) (ShuntReading, error) {
	r, err := d.shunt(ctx, t)
	if err != nil {
		return ShuntReading{}, fmt.Errorf("%s: measure shunt in %s: %w", d, t, err)
	}
	return r, nil
}

func (d *Dev) shunt(ctx context.Context, t ConversionTime) (ShuntReading, error) {
	if t > Time8244us {
		return ShuntReading{}, fmt.Errorf("%w: shunt time code %d, known are 0 to %d", ErrSetting, uint8(t), uint8(Time8244us))
	}
	if err := ctx.Err(); err != nil {
		return ShuntReading{}, err
	}
	from := d.clock.Now()
	if err := d.trigger(config(Average1, d.opts.BusTime, t, shuntTriggered)); err != nil {
		return ShuntReading{}, err
	}
	wait := chip.Wait{Nominal: t.Period(), Longest: t.Longest()}
	if err := d.await(ctx, wait, from); err != nil {
		return ShuntReading{}, err
	}
	raw, err := d.regs.Read(regShunt)
	if err != nil {
		return ShuntReading{}, err
	}
	return d.shuntReading(int16(raw), from), nil
}

// shuntReading forms the result of a code just read.
func (d *Dev) shuntReading(code int16, from time.Duration) ShuntReading {
	volts := float64(code) * shuntStep
	return ShuntReading{
		Shunt:     quantity.Volts(volts),
		Current:   quantity.Amperes(volts / d.opts.Shunt.SI),
		Code:      code,
		Saturated: saturated(code),
		From:      from,
		At:        d.clock.Now(),
	}
}
