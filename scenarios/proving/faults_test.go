//go:build !race && study

package proving_test

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/scenarios/proving"
)

// broken is one fault of the rig with the suspect that must be named.
type broken struct {
	fault twin.RigFault
	want  proving.Suspect
}

func (b broken) String() string {
	text := string(b.fault.Kind) + " " + b.fault.Part
	switch b.fault.Kind {
	case twin.ContactWelded, twin.ContactStuckOpen, twin.ContactRestOpen, twin.ContactRestWeld, twin.ChannelGain:
		text += fmt.Sprintf(" %d", b.fault.Index)
	}
	if b.fault.Value != 0 {
		text += fmt.Sprintf(" %+g", b.fault.Value)
	}
	return text
}

// everything lists each single fault that the rig of a wiring file can have:
// whatever is added to the file is broken here without anybody thinking of it.
func everything(w *wiring.Rig) []broken {
	var out []broken
	add := func(f twin.RigFault, thing, part string, kind proving.Kind) {
		out = append(out, broken{f, proving.Suspect{Thing: thing, Part: part, Fault: kind}})
	}
	for i := range w.Relays {
		k := &w.Relays[i]
		for j, c := range k.Contacts {
			part := c.Name
			if len(k.Contacts) == 1 {
				part = ""
			}
			if c.NO != "" {
				add(twin.RigFault{Kind: twin.ContactWelded, Part: k.Name, Index: j}, k.Name, part, proving.Welded)
				add(twin.RigFault{Kind: twin.ContactStuckOpen, Part: k.Name, Index: j}, k.Name, part, proving.StuckOpen)
			}
			if c.Form == wiring.FormC && c.NC != "" {
				add(twin.RigFault{Kind: twin.ContactRestOpen, Part: k.Name, Index: j}, k.Name, part, proving.RestOpen)
				add(twin.RigFault{Kind: twin.ContactRestWeld, Part: k.Name, Index: j}, k.Name, part, proving.RestWelded)
			}
		}
		dead, on := proving.StuckOpen, proving.Welded
		switch {
		case len(k.Contacts) > 1:
			dead, on = proving.CoilDead, proving.CoilOn
		case k.Contacts[0].NO == "":
			dead, on = proving.RestWelded, proving.RestOpen
		}
		add(twin.RigFault{Kind: twin.CoilOpen, Part: k.Name}, k.Name, "", dead)
		add(twin.RigFault{Kind: twin.CoilDriverOn, Part: k.Name}, k.Name, "", on)
	}
	for _, s := range w.Selects {
		add(twin.RigFault{Kind: twin.SelectStuck, Part: s.Name}, s.Name, "", proving.SelectDead)
		add(twin.RigFault{Kind: twin.SelectStuck, Part: s.Name, Value: 1}, s.Name, "", proving.SelectOn)
	}
	for _, c := range w.Chips {
		add(twin.RigFault{Kind: twin.ChipAbsent, Part: c.Name}, c.Name, "", proving.Absent)
	}
	meters := map[string]bool{}
	for _, c := range w.Channels {
		for _, e := range []float64{0.02, -0.02} {
			switch c.Kind {
			case wiring.VoltageChannel, wiring.LightChannel:
				add(twin.RigFault{Kind: twin.ChannelGain, Part: c.Chip, Index: c.Input, Value: e}, c.Name, "", proving.Gain)
			case wiring.CurrentChannel:
				for _, g := range c.Ranges {
					if meters[fmt.Sprint(g.Chip, e)] {
						continue // one monitor serves two channels
					}
					meters[fmt.Sprint(g.Chip, e)] = true
					add(twin.RigFault{Kind: twin.ChannelGain, Part: g.Chip, Value: e}, c.Name+" by "+g.Chip, "", proving.Gain)
				}
			}
		}
	}
	for _, s := range w.Supplies {
		add(twin.RigFault{Kind: twin.SupplyDead, Part: s.Name}, s.Name, "", proving.SupplyDead)
		if s.Kind == wiring.Probe {
			// It is asked once: one that is not there then gives nothing.
			add(twin.RigFault{Kind: twin.SupplyLate, Part: s.Name, For: 2 * time.Second}, s.Name, "", proving.SupplyDead)
		} else {
			add(twin.RigFault{Kind: twin.SupplyLate, Part: s.Name, For: 700 * time.Millisecond}, s.Name, "", proving.SupplyLate)
		}
		far := 0.06
		if s.Kind == wiring.Reference {
			far = 0.02
		}
		add(twin.RigFault{Kind: twin.SupplyOff, Part: s.Name, Value: far}, s.Name, "", proving.SupplyOff)
		add(twin.RigFault{Kind: twin.SupplyOff, Part: s.Name, Value: -far}, s.Name, "", proving.SupplyOff)
		if s.Kind == wiring.CSupply {
			add(twin.RigFault{Kind: twin.SupplySlowOff, Part: s.Name, For: 700 * time.Millisecond}, s.Name, "", proving.SupplySlowOff)
		}
	}
	for _, l := range w.Lines {
		for _, level := range []float64{0, 1} {
			add(twin.RigFault{Kind: twin.LineStuck, Part: l.Name, Value: level}, l.Name, "", proving.LineStuck)
		}
		switch l.Use {
		case wiring.Heartbeat:
			add(twin.RigFault{Kind: twin.MonostableStuck, Part: l.Name}, l.Name, "", proving.NotCut)
		case wiring.EmergencyStop, wiring.Lid:
			add(twin.RigFault{Kind: twin.ChainBypassed, Part: l.Name}, l.Name, "", proving.NotCut)
		case wiring.CoilSupply:
			add(twin.RigFault{Kind: twin.CoilSupplyDead, Part: l.Name}, "coil supply (fuse, monostable, latch, contacts of stop and lid)", "", proving.NoSupply)
		}
	}
	for _, b := range w.Buses {
		add(twin.RigFault{Kind: twin.BusDead, Part: b.Name}, b.Name, "", proving.Absent)
	}
	for _, p := range w.Nest.Pins {
		if p.Pin == wiring.PinLight {
			continue
		}
		add(twin.RigFault{Kind: twin.PinOpen, Part: p.Pin}, "pin "+p.Pin, "", proving.PinOpen)
		add(twin.RigFault{Kind: twin.PinWorn, Part: p.Pin, Value: wornOhms(p.Pin)}, "pin "+p.Pin, "", proving.PinWorn)
	}
	return out
}

// wornOhms is a worn contact that this rig must see: where current flows half
// an ohm, at the cell's pad 5 Ω, at the other pins what begins to matter to what
// is measured through them.
func wornOhms(pin string) float64 {
	switch pin {
	case wiring.PinVbusForce, wiring.PinGround:
		return 0.5
	case wiring.PinCell:
		return 5
	case wiring.PinVbusSense:
		return 50e3 // into a megohm
	case wiring.PinCC1, wiring.PinCC2:
		return 200
	}
	return 5e3 // at a data pin, beside 10 to 47 kΩ of the check receptacle
}

// named tells whether a finding has a suspect of a thing and fault.
func named(f proving.Finding, want proving.Suspect) bool {
	return slices.ContainsFunc(f.Suspects, func(s proving.Suspect) bool {
		return s.Thing == want.Thing && s.Fault == want.Fault && s.Part == want.Part
	})
}

// Every single fault of the rig is found and named, alone or in a group of what
// no measurement tells apart; the log lists the groups.
func TestSweepEveryFaultOfTheRigIsNamed(t *testing.T) {
	list := everything(benchOne(t))
	results := make([]tested, len(list))
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				results[i] = selfTest(t, uint64(i), true, list[i].fault)
			}
		})
	}
	for i := range list {
		next <- i
	}
	close(next)
	wait.Wait()
	var groups []string
	for i, b := range list {
		got := results[i]
		if got.Bench >= 20*time.Second {
			t.Errorf("%s: %s of bench time", b, got.Bench)
		}
		if unseen(b) {
			require.Empty(t, got.Findings, "%s", b)
			continue
		}
		if len(got.Findings) != 1 || !named(got.Findings[0], b.want) {
			t.Errorf("%s: found %v", b, got.Findings)
			continue
		}
		if n := len(got.Findings[0].Suspects); n > 1 {
			groups = append(groups, b.String()+": "+got.Findings[0].String())
			require.LessOrEqual(t, n, 4, "%s: %v", b, got.Findings[0])
		}
	}
	slices.Sort(groups)
	t.Logf("%d faults, %d of them named as one of a group:\n%s", len(list), len(groups), strings.Join(groups, "\n"))
	require.Less(t, len(groups), len(list)/5)
}

// unseen is what this rig cannot see, and need not: the channel at the other CC
// pin of the C supply only tells Ra from open, so 2 % of it are nothing.
func unseen(b broken) bool {
	return b.want.Thing == "csup_cc2" && b.want.Fault == proving.Gain
}
