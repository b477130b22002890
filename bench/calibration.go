package bench

import (
	"fmt"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// Calibration is what a comparison with a reference has found, handed to Open
// as a value. It takes the place of what the wiring says of gain, offset and
// divider of the channels that it corrects; the others keep their tolerances.
type Calibration struct {
	// ID names it in every record that stands on it.
	ID          string
	Corrections []Correction
}

// Correction corrects one channel in one range:
//
//	value = Level + Slope*(reading - Centre)
//
// Level and Slope come from one fit. About the centre of the readings they are
// independent of each other (JCGM 100:2008, H.3.5), so that the two stand as
// separate contributions. All numbers are in SI.
type Correction struct {
	Channel string
	// Range is that of a current channel, or the pull-up of a termination
	// channel, whose nominal value is then what was read; empty for all others.
	Range                string
	Centre, Level, Slope float64
	// LevelStd and SlopeStd are the standard uncertainties of the fit, DOF
	// their degrees of freedom; 0 for infinite.
	LevelStd, SlopeStd, DOF float64
	// Reference names what was compared with. Every channel that was compared
	// with it shares its errors.
	Reference string
	// ReferenceGain (relative) and ReferenceOffset are its standard
	// uncertainties.
	ReferenceGain, ReferenceOffset float64
	// DriftGain (relative) and DriftOffset are the half-widths of what the
	// channel may drift by until the calibration is due.
	DriftGain, DriftOffset float64
}

// correction finds what corrects a channel in a range; nil for nothing.
func (c *Calibration) correction(channel, rng string) *Correction {
	if c == nil {
		return nil
	}
	for i := range c.Corrections {
		if k := &c.Corrections[i]; k.Channel == channel && k.Range == rng {
			return k
		}
	}
	return nil
}

// fits demands that every correction belongs to a channel that can be
// corrected.
func (c *Calibration) fits(w *wiring.Rig) error {
	if c == nil {
		return nil
	}
	for _, k := range c.Corrections {
		if !correctable(w, k.Channel, k.Range) {
			return fmt.Errorf("calibration %s corrects channel %q, range %q: %w", c.ID, k.Channel, k.Range, wiring.ErrUnknown)
		}
		if !(k.Slope > 0) {
			return fmt.Errorf("calibration %s: channel %s: slope %g is not above 0", c.ID, k.Channel, k.Slope)
		}
	}
	return nil
}

func correctable(w *wiring.Rig, channel, rng string) bool {
	for i := range w.Channels {
		c := &w.Channels[i]
		if c.Name != channel {
			continue
		}
		switch c.Kind {
		case wiring.VoltageChannel, wiring.LightChannel, wiring.TemperatureChannel:
			return rng == ""
		case wiring.CurrentChannel:
			for _, g := range c.Ranges {
				if g.Name == rng {
					return true
				}
			}
		case wiring.TerminationChannel:
			for _, p := range c.Pulls {
				if p.Part == rng {
					return true
				}
			}
		}
	}
	return false
}

// corrected puts a correction in the place of what the wiring says. factor and
// shift then give the corrected value of a raw one.
func (b *budget) corrected(k *Correction) {
	b.shift, b.factor = k.Level-k.Slope*k.Centre, b.factor*k.Slope
	b.relatives, b.offset = nil, 0
	name := k.Channel
	if k.Range != "" {
		name += " " + k.Range
	}
	b.correction, b.standing = k, k.causes(name)
}

// stands adds the contributions of the calibration to a value: the fit, the
// reference, and what the channel may have drifted by since.
func (b *budget) stands(parts []quantity.Contribution, v float64) []quantity.Contribution {
	k := b.correction
	if k == nil {
		return parts
	}
	// What was read before the correction, from the middle of what was fitted.
	off := (v - k.Level) / k.Slope
	return k.contribute(parts, b.standing, off, v)
}

// pullUp is the value of a pull-up: what the calibration found, else what the
// wiring says.
func (r *Rig) pullUp(channel string, p *wiring.Part) quantity.Measured {
	k := r.limits.Calibration.correction(channel, p.Name)
	if k == nil {
		return quantity.NewMeasured(p.Value.Nominal, quantity.Uniform(tolerance(p), p.Value.Relative(), p.Value.Nominal.SI))
	}
	off := p.Value.Nominal.SI - k.Centre
	v := k.Level + k.Slope*off
	parts := k.contribute(nil, k.causes(p.Name), off, v) // channels share the part
	return quantity.NewMeasured(quantity.Quantity{SI: v, Dim: quantity.Resistance}, parts...)
}

// causes names what contribute adds, for a thing that was corrected.
func (k *Correction) causes(thing string) []string {
	return []string{
		thing + " calibration, level", thing + " calibration, slope",
		k.Reference + " gain", k.Reference + " offset",
		thing + " drift, gain", thing + " drift, offset",
	}
}

// contribute adds the contributions of the correction to a corrected value; off is
// how far the reading was from the middle of what was fitted.
func (k *Correction) contribute(parts []quantity.Contribution, causes []string, off, v float64) []quantity.Contribution {
	return append(parts,
		quantity.Normal(causes[0], k.LevelStd, 1, k.DOF),
		quantity.Normal(causes[1], k.SlopeStd, off, k.DOF),
		quantity.Normal(causes[2], k.ReferenceGain, v, 0),
		quantity.Normal(causes[3], k.ReferenceOffset, 1, 0),
		quantity.Uniform(causes[4], k.DriftGain, v),
		quantity.Uniform(causes[5], k.DriftOffset, 1))
}
