//go:build kernel

package kernel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/cmd/sinkproof/kernel/wire"
	"sinkproof/fixtures/product"
	"sinkproof/reports/record"
)

// The product and the seed of every run here.
const (
	lamp = "hand-lamp"
	seed = 1
)

// Exit codes of sinkproof (design of its commands: 0 pass, 1 bad, 3 the bench
// could not judge, 4 refused).
const (
	exitPass    = 0
	exitBad     = 1
	exitNoJudge = 3
	exitRefused = 4
)

// The longest time from the last edge of the heartbeat until the last contact
// stands open: the gap, and what the shipped rig's relays take to release and
// to stop bouncing. A look from outside adds its own time.
const (
	gap      = 200 * time.Millisecond
	release  = 4*time.Millisecond + 3*time.Millisecond
	opensBy  = gap + release + 2*Glance
	patience = 40 * time.Second
)

// station is a rig that is plugged into a machine, with the files of a run.
type station struct {
	t       *testing.T
	m       *Machine
	rig     *Rig
	plugged *Plugged
	wiring  []byte
}

// newStation plugs a rig in and leaves its wiring file in the machine.
func newStation(t *testing.T, m *Machine) *station {
	s := &station{t: t, m: m}
	data, f, err := Wiring("bench-one", 1)
	require.NoError(t, err)
	require.InDelta(t, gap.Seconds(), f.Rig.Guard.BeatGap.SI, 1e-12)
	p, _, err := product.Shipped(lamp)
	require.NoError(t, err)
	s.rig, err = NewRig(f.Rig, p, seed)
	require.NoError(t, err)
	s.plugged = plug(t, m, s.rig)
	require.Equal(t, 1, s.plugged.Bus, "the bridge has a bus of its own, which comes first")
	s.wiring = data
	_, err = m.Do(t.Context(), wire.Call{Do: wire.Remove, Path: "/tmp/station"})
	require.NoError(t, err)
	require.NoError(t, m.Write(t.Context(), "/tmp/station/rig.hcl", data))
	return s
}

// judge starts a run on a unit, with a person who seats it.
func (s *station) judge(scenario, serial string, faults ...twin.Fault) *attended {
	j := s.start(scenario, serial)
	a := &attended{Job: j, station: s, over: make(chan error, 1)}
	o := &Operator{Rig: s.rig, Serial: serial, Faults: faults}
	go func() { a.over <- o.Attend(context.Background(), j) }()
	s.t.Cleanup(func() { _ = j.Signal(9) })
	return a
}

// start starts a run that nobody attends.
func (s *station) start(scenario, serial string) *Job {
	require.NoError(s.t, s.rig.Use(func(t *twin.Twin) error { t.Unseat(); return nil }))
	j, err := s.m.Start(wire.Program{
		Path: "/bin/sinkproof", Dir: "/tmp/station", Env: []string{"HOME=/tmp/station"},
		Args: []string{"run", "--rig", "rig.hcl", "--scenario", scenario, "--product", lamp, "--serial", serial, "--out", "out", "--json",
			"--uncalibrated", "the emulated machine has no reference", "--no-golden", "the emulated machine has no golden unit",
			"--no-proof", "a bus of the emulated machine is too slow for the time of these tests"},
	})
	require.NoError(s.t, err)
	return j
}

// command runs a command of sinkproof in the machine.
func (s *station) command(args ...string) (*Job, wire.Exit) {
	ctx, cancel := context.WithTimeout(s.t.Context(), patience)
	defer cancel()
	j, exit, err := s.m.Run(ctx, wire.Program{Path: "/bin/sinkproof", Dir: "/tmp/station", Env: []string{"HOME=/tmp/station"}, Args: args})
	require.NoError(s.t, err)
	return j, exit
}

// attended is a run with a person at the keyboard.
type attended struct {
	*Job
	station *station
	over    chan error
}

// end waits for the end of a run and checks how it ended.
func (a *attended) end(code int) *record.Run {
	t := a.station.t
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	exit, err := a.Wait(ctx)
	require.NoError(t, err)
	require.NoError(t, <-a.over, "%s", a.Said())
	require.Equal(t, wire.Exit{Code: code}, exit, "%s", a.Said())
	if a.Output() == "" {
		return nil
	}
	run := &record.Run{}
	require.NoError(t, json.Unmarshal([]byte(a.Output()), run))
	return run
}

// live starts the full scenario and waits until a supply is at the unit. On a
// computer that is busy with other things the samples may come too far apart to
// prove the nest empty; the run then has no verdict, and one retest is allowed.
func (s *station) live(serial string) *attended {
	var said string
	for range 2 {
		a := s.judge(full, serial)
		for end := time.Now().Add(patience); time.Now().Before(end) && !a.Ended(); time.Sleep(Glance) {
			l, err := s.rig.Look()
			require.NoError(s.t, err)
			if len(l.Closed) > 0 && l.Sense > 4 {
				return a
			}
		}
		said = a.Said()
		require.Regexp(s.t, "prove the nest empty|too slow to see a rise", said)
	}
	require.NoError(s.t, fmt.Errorf("a supply at the unit: %w\n%s", errPatience, said))
	return nil
}

// errPatience is the cause when nothing comes.
var errPatience = errors.New("it did not happen")

// opened checks from outside that every contact stood open in time after the
// last heartbeat before an instant, and stayed so.
func opened(t *testing.T, looks []Look, seen Seen, from, to time.Duration) {
	last := time.Duration(0)
	for _, b := range seen.Beats {
		if b <= to {
			last = b
		}
	}
	require.NotZero(t, last)
	for _, l := range looks {
		if l.At > max(last+opensBy, from) && l.At < to {
			require.Empty(t, l.Closed, "%s after the last heartbeat", l.At-last)
			require.False(t, l.Coils, "%s after the last heartbeat", l.At-last)
		}
	}
	require.NotEmpty(t, looks)
	require.Greater(t, looks[len(looks)-1].At, last+opensBy, "somebody has to look after the time has passed")
}

// kept checks that the ledger in the machine verifies, and gives back what it
// says.
func (s *station) kept(serial string) string {
	j, exit := s.command("ledger", "verify", "--ledger", "out/ledger.db", "--key", "out/ledger.db.pub")
	require.Zero(s.t, exit.Code, "%s%s", j.Output(), j.Said())
	j, exit = s.command("unit", serial, "--ledger", "out/ledger.db", "--json")
	require.NotEqual(s.t, 2, exit.Code, "%s%s", j.Output(), j.Said())
	return strings.TrimSpace(j.Output())
}
