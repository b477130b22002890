package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sinkproof/bench/linux"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// offer is what a computer offers, and how a rig fits it.
type offer struct {
	Chips []offeredChip `json:"line_chips"`
	Buses []offeredBus  `json:"buses"`
	Rig   string        `json:"rig,omitempty"`
	Fit   []fit         `json:"fit,omitempty"`
	Fits  bool          `json:"fits"`
}

type offeredChip struct {
	Device  string        `json:"device"`
	Label   string        `json:"label"`
	Lines   []offeredLine `json:"lines"`
	Problem *problem      `json:"problem,omitempty"`
}

type offeredLine struct {
	Offset    int      `json:"offset"`
	Name      string   `json:"name,omitempty"`
	Direction string   `json:"direction"`
	Used      bool     `json:"used"`
	Holder    string   `json:"holder,omitempty"`
	Flags     []string `json:"flags,omitempty"`
}

type offeredBus struct {
	Number  int         `json:"number"`
	Device  string      `json:"device"`
	Name    string      `json:"name"`
	Clock   string      `json:"clock,omitempty"`
	Can     string      `json:"can,omitempty"`
	Answers []answering `json:"answers"`
	Asked   bool        `json:"asked"`
	Problem *problem    `json:"problem,omitempty"`

	clock quantity.Quantity
}

type answering struct {
	Address string `json:"address"`
	// Claimed: a driver of the kernel uses it, so it was not asked.
	Claimed bool   `json:"claimed,omitempty"`
	Trouble string `json:"trouble,omitempty"`
}

// problem is why something does not work, with the next step.
type problem struct {
	Kind string `json:"kind"`
	What string `json:"what"`
	Next string `json:"next,omitempty"`
}

// fit is one line, bus or chip of a wiring file on this computer.
type fit struct {
	Kind    string   `json:"kind"` // line, bus, chip
	Name    string   `json:"name"`
	Wanted  string   `json:"wanted"`
	Found   string   `json:"found,omitempty"`
	Problem *problem `json:"problem,omitempty"`
}

// lookAround lists the computer and asks its buses.
func lookAround(ctx context.Context, k *linux.Computer) (*offer, error) {
	o := &offer{Chips: []offeredChip{}, Buses: []offeredBus{}, Fits: true}
	running := false
	for _, c := range k.Chips() {
		chip := offeredChip{Device: c.Path, Label: c.Label, Lines: []offeredLine{}, Problem: problemOf(c.Reason)}
		for _, l := range c.Lines {
			direction := "input"
			if l.Output {
				direction = "output"
			}
			running = running || strings.HasPrefix(l.Consumer, "sinkproof")
			chip.Lines = append(chip.Lines, offeredLine{l.Offset, l.Name, direction, l.Used, l.Consumer, l.Flags})
		}
		o.Chips = append(o.Chips, chip)
	}
	for _, b := range k.Buses() {
		bus := offeredBus{Number: b.Number, Device: b.Path, Name: b.Name, Answers: []answering{}, Problem: problemOf(b.Reason)}
		if b.Functions != 0 {
			bus.Can = b.Functions.String()
		}
		if b.ClockTold {
			bus.clock, bus.Clock = b.Clock, b.Clock.String()
		}
		if b.Reason == nil && !running {
			if err := bus.ask(ctx, k); err != nil {
				return nil, err
			}
		}
		o.Buses = append(o.Buses, bus)
	}
	return o, nil
}

// problemOf puts a reason into words; nil stays nil.
func problemOf(r *linux.Reason) *problem {
	if r == nil {
		return nil
	}
	return &problem{Kind: string(r.Kind), What: r.Error(), Next: r.Hint}
}

// problemOfError does the same for an error that may hold a reason.
func problemOfError(err error) *problem {
	var r *linux.Reason
	if errors.As(err, &r) {
		return problemOf(r)
	}
	return &problem{Kind: string(linux.Trouble), What: err.Error()}
}

// ask scans a bus. What the bus itself says is shown, only an end of the
// program is an error.
func (b *offeredBus) ask(ctx context.Context, k *linux.Computer) error {
	bus, err := k.OpenBus(fmt.Sprint(b.Number))
	if err != nil {
		b.Problem = problemOfError(err)
		return nil
	}
	found, err := bus.Scan(ctx)
	for _, a := range found {
		answer := answering{Address: address(a.Addr), Claimed: a.Claimed}
		if a.Err != nil {
			answer.Trouble = a.Err.Error()
		}
		b.Answers = append(b.Answers, answer)
	}
	b.Asked = true
	if err != nil && ctx.Err() == nil {
		b.Problem = problemOfError(err)
		err = nil
	}
	return errors.Join(err, bus.Close())
}

func address(a uint16) string { return fmt.Sprintf("0x%02X", a) }

// fit finds everything that a wiring file names.
func (o *offer) fit(k *linux.Computer, w *wiring.Rig) {
	o.Rig = w.Name
	for _, l := range w.AllLines() {
		o.add(o.fitLine(k, l))
	}
	on := map[string]*offeredBus{}
	for _, b := range w.Buses {
		one, bus := o.fitBus(k, b)
		on[b.Name] = bus
		o.add(one)
	}
	for _, v := range w.ByNest() {
		for _, c := range v.Chips {
			one := fitChip(c, on[c.Bus])
			if v.Nest.Number > 0 {
				one.Name = v.Nest.Name + "/" + one.Name
			}
			o.add(one)
		}
	}
}

func (o *offer) add(f fit) {
	o.Fits = o.Fits && f.Problem == nil
	o.Fit = append(o.Fit, f)
}

func (o *offer) fitLine(k *linux.Computer, l wiring.Line) fit {
	f := fit{Kind: "line", Name: l.Name, Wanted: l.Device}
	line, err := k.FindLine(l.Device)
	if err != nil {
		f.Problem = problemOfError(err)
		return f
	}
	f.Found = line.String()
	for _, c := range o.Chips {
		for _, at := range c.Lines {
			if c.Device == "/dev/"+line.Chip() && at.Offset == line.Number() && at.Used {
				f.Problem = &problem{Kind: string(linux.Busy), What: "held by " + cmp.Or(at.Holder, "somebody who gave no name"),
					Next: "End the program that holds it, or take the line out of the device tree where the kernel does."}
			}
		}
	}
	return f
}

// slower is how much slower than the wiring file says a bus may be before
// that is told: a tenth. Adapters round to what their divider can give. Own
// choice.
const slower = 0.1

func (o *offer) fitBus(k *linux.Computer, b wiring.Bus) (fit, *offeredBus) {
	f := fit{Kind: "bus", Name: b.Name, Wanted: b.Device}
	info, err := k.FindBus(b.Device)
	if err != nil {
		f.Problem = problemOfError(err)
		return f, nil
	}
	f.Found = fmt.Sprintf("%s (%s)", info.Path, info.Name)
	i := slices.IndexFunc(o.Buses, func(each offeredBus) bool { return each.Number == info.Number })
	if i < 0 {
		return f, nil
	}
	bus := &o.Buses[i]
	f.Problem = bus.Problem
	if f.Problem == nil && bus.Clock != "" && math.Abs(bus.clock.SI/b.Frequency.SI-1) > slower {
		f.Problem = &problem{Kind: string(linux.Unfit), What: fmt.Sprintf("it runs at %s, the wiring file says %s", bus.Clock, b.Frequency),
			Next: "Set the bus clock in the device tree, or say in the wiring file what it is."}
	}
	return f, bus
}

func fitChip(c wiring.Chip, bus *offeredBus) fit {
	f := fit{Kind: "chip", Name: c.Name, Wanted: address(c.Address) + " on " + c.Bus}
	if bus == nil || bus.Problem != nil && !bus.Asked {
		f.Problem = &problem{Kind: string(linux.Absent), What: "its bus cannot be used", Next: "Mend the bus first."}
		return f
	}
	if !bus.Asked {
		f.Problem = &problem{Kind: string(linux.Busy), What: "not asked: a run holds the rig", Next: "Ask again when the run is over."}
		return f
	}
	for _, a := range bus.Answers {
		if a.Address != address(c.Address) {
			continue
		}
		switch {
		case a.Claimed:
			f.Problem = &problem{Kind: string(linux.Busy), What: "a driver of the kernel has claimed it",
				Next: "Take the chip out of the device tree: the program drives it itself."}
		case a.Trouble != "":
			f.Problem = &problem{Kind: string(linux.Trouble), What: a.Trouble, Next: "Check the wires and pull-ups of the bus."}
		default:
			f.Found = "answers"
		}
		return f
	}
	f.Problem = &problem{Kind: string(linux.Absent), What: "nothing answers at " + address(c.Address),
		Next: "Check supply, address pins and wires of " + c.Name + "."}
	return f
}
