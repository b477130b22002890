package main

import (
	"context"
	"fmt"

	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/scenarios/proving/calibration"
)

// twinMeter reads the circuit, with the errors that its certificate allows.
type twinMeter struct {
	twin         *twin.Twin
	rig          *wiring.Rig
	gain, offset float64
}

func (m *twinMeter) Show(_ context.Context, p calibration.Point, about quantity.Quantity) (quantity.Quantity, error) {
	truth, err := m.truth(p)
	if err != nil {
		return quantity.Quantity{}, fmt.Errorf("read the reference: %w", err)
	}
	return quantity.Quantity{SI: truth*(1+m.gain) + m.offset, Dim: about.Dim}, nil
}

// truth is the voltage of the channel's net, the current through its shunt, or the
// resistance of the pull-up.
func (m *twinMeter) truth(p calibration.Point) (float64, error) {
	name := p.Shunt(m.rig)
	if p.Channel.Kind == wiring.TerminationChannel {
		name = p.Range
	}
	if name == "" {
		return m.twin.Truth().Volts(p.Channel.Net)
	}
	sim := m.twin.Truth().Circuit()
	for _, part := range sim.Parts() {
		switch {
		case part.Name != name:
		case p.Channel.Kind == wiring.TerminationChannel:
			return part.Ohms, nil
		default:
			return (sim.Volts(part.A) - sim.Volts(part.B)) / part.Ohms, nil
		}
	}
	return 0, fmt.Errorf("part %q: %w", name, wiring.ErrUnknown)
}

// Receptacle implements calibration.Hands.
func (m *twinMeter) Receptacle(_ context.Context, seated bool) error {
	if !seated {
		m.twin.Unseat()
		return nil
	}
	return m.twin.SeatCheck()
}

// typist is a person who types what the reference shows.
type typist struct {
	*operator
	wiring  *wiring.Rig
	channel string
}

// Receptacle implements calibration.Hands.
func (t *typist) Receptacle(ctx context.Context, seated bool) error {
	if !seated {
		return t.ask(ctx, "Take the check receptacle out and press Enter.")
	}
	return t.ask(ctx, "Seat the check receptacle, which loads what is compared, and press Enter.")
}

func (t *typist) Show(ctx context.Context, p calibration.Point, about quantity.Quantity) (quantity.Quantity, error) {
	if name := p.Channel.Name + p.Range; t.channel != name {
		t.channel = name
		switch shunt := p.Shunt(t.wiring); {
		case shunt != "":
			fmt.Fprintf(t.out, "Put the reference in series with the shunt %s: %s, range %s.\n", shunt, p.Channel.Title, p.Range)
		case about.Dim == quantity.Resistance:
			fmt.Fprintf(t.out, "Put the reference across the pull-up %s, which nothing drives now: %s.\n", p.Range, p.Channel.Title)
		case about.Dim == quantity.Temperature:
			fmt.Fprintf(t.out, "Put the reference beside the sensor %s: %s.\n", p.Channel.Chip, p.Channel.Title)
		default:
			fmt.Fprintf(t.out, "Put the reference between net %s and ground: %s.\n", p.Channel.Net, p.Channel.Title)
		}
	}
	for {
		text, err := t.typed(ctx, fmt.Sprintf("%s, %s: the channel reads %s. The reference shows:", p.Channel.Name, p.State(), about.Text(4)))
		if err != nil {
			return quantity.Quantity{}, err
		}
		q, err := quantity.ParseAs(text, about.Dim)
		if err == nil {
			return q, nil
		}
		fmt.Fprintf(t.out, "%v\n", err)
	}
}
