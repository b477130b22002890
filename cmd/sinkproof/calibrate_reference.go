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

// truth is the voltage of the channel's net or the current through its shunt.
func (m *twinMeter) truth(p calibration.Point) (float64, error) {
	shunt := p.Shunt(m.rig)
	if shunt == "" {
		return m.twin.Truth().Volts(p.Channel.Net)
	}
	sim := m.twin.Truth().Circuit()
	for _, part := range sim.Parts() {
		if part.Name == shunt {
			return (sim.Volts(part.A) - sim.Volts(part.B)) / part.Ohms, nil
		}
	}
	return 0, fmt.Errorf("shunt %q: %w", shunt, wiring.ErrUnknown)
}

// typist is a person who types what the reference shows.
type typist struct {
	*operator
	channel string
}

func (t *typist) Show(ctx context.Context, p calibration.Point, about quantity.Quantity) (quantity.Quantity, error) {
	if name := p.Channel.Name + p.Range; t.channel != name {
		t.channel = name
		switch shunt := p.Shunt(t.rig.Wiring()); {
		case shunt != "":
			fmt.Fprintf(t.out, "Put the reference in series with the shunt %s: %s, range %s.\n", shunt, p.Channel.Title, p.Range)
		case about.Dim == quantity.Temperature:
			fmt.Fprintf(t.out, "Put the reference beside the sensor %s: %s.\n", p.Channel.Chip, p.Channel.Title)
		default:
			fmt.Fprintf(t.out, "Put the reference between net %s and ground: %s.\n", p.Channel.Net, p.Channel.Title)
		}
	}
	for {
		text, err := t.typed(ctx, fmt.Sprintf("%s, %s: the channel reads %s. The reference shows:", p.Channel.Name, p.Setting, about.Text(4)))
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
