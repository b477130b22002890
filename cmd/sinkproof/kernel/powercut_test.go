//go:build kernel

package kernel

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// The power is cut at cuts instants under a ledger that syncs, and at
// carelessCuts under one that does not.
const (
	cuts         = 20
	carelessCuts = 3
	most         = 6 // writes of a commit that are let through
	powerSeed    = 20261125
)

// ackLine is an entry that the writer has acknowledged: its number and hash.
type ackLine struct {
	seq  int64
	hash string
}

// crash is a disk after a power cut.
type crash struct {
	name         string
	disk         string
	lost         int // sectors
	acknowledged []ackLine
}

// TestPowerCut: whenever the power is cut, every entry that was acknowledged
// before is there when the disk is mounted again, and the ledger verifies. The
// same without syncing must lose one, or this test proves nothing.
func TestPowerCut(t *testing.T) {
	t.Parallel()
	test := shop.program("ledger.test")
	ready := bootReady(t, map[string]string{"ledger.test": test})

	var crashes []*crash
	for i := range cuts + carelessCuts {
		c := &crash{name: fmt.Sprintf("cut %d", i), disk: filepath.Join(t.TempDir(), "disk.img")}
		if i >= cuts {
			c.name = fmt.Sprintf("cut %d without sync", i-cuts)
		}
		crashes = append(crashes, c)
	}
	started := time.Now()
	// One machine after the other: the second core is for those that have to be
	// in time.
	t.Run("cut", func(t *testing.T) {
		for i, c := range crashes {
			t.Run(c.name, func(t *testing.T) {
				c.happen(t, ready, i >= cuts, i < cuts && i%2 == 0, rand.New(rand.NewPCG(powerSeed, uint64(i))))
			})
		}
	})
	t.Logf("%d cuts took %s", len(crashes), time.Since(started).Round(100*time.Millisecond))
	if t.Failed() {
		return
	}

	m, verdicts := examine(t, map[string]string{"ledger.test": test, "sinkproof": shop.program("sinkproof")}, crashes)
	total, lost := 0, 0
	for i, c := range crashes[:cuts] {
		total, lost = total+len(c.acknowledged), lost+c.lost
		require.Empty(t, verdicts[i], "%s, %d entries acknowledged, %d sectors lost", c.name, len(c.acknowledged), c.lost)
	}
	require.Greater(t, total, cuts, "the writer did write")
	require.Positive(t, lost, "no cut has lost a sector: none came in mid-commit")
	careless := 0
	for i := range crashes[cuts:] {
		if verdicts[cuts+i] != "" {
			careless++
		}
	}
	require.Positive(t, careless, "a ledger that does not sync lost nothing: this test proves nothing\n%s", m.Console())
	t.Logf("%d entries acknowledged in %d cuts, %d sectors lost, all entries there; without sync %d of %d lost some",
		total, cuts, lost, careless, carelessCuts)
}

// blankDisk makes an image with an empty file system.
func blankDisk(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "blank.img")
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, f.Truncate(32<<20))
	require.NoError(t, f.Close())
	tool, err := exec.LookPath("mkfs.ext4")
	if err != nil {
		tool = "/sbin/mkfs.ext4"
	}
	said, err := exec.Command(tool, "-q", "-F", "-E", "lazy_itable_init=0,lazy_journal_init=0", path).CombinedOutput()
	require.NoError(t, err, "%s", said)
	return path
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	in, err := os.Open(from)
	require.NoError(t, err)
	out, err := os.Create(to)
	require.NoError(t, err)
	_, err = io.Copy(out, in)
	require.NoError(t, err)
	require.NoError(t, in.Close())
	require.NoError(t, out.Close())
}

// ready is a machine that has booted and mounted an empty disk, saved.
type ready struct {
	programs    map[string]string
	state, disk string
}

// options are those of the saved machine and of all that go on from it.
func (r ready) options(socket string) Options {
	return Options{Programs: r.programs, NoBuses: true, Megabytes: 256, Yielding: true, Disks: []Disk{{Path: "nbd+unix:///?socket=" + socket}}}
}

// bootReady boots the machine that the others go on from.
func bootReady(t *testing.T, programs map[string]string) ready {
	t.Helper()
	r := ready{programs, filepath.Join(t.TempDir(), "state"), blankDisk(t)}
	disk, socket := plate(t, r.disk)
	m := boot(t, r.options(socket))
	ctx, cancel := context.WithTimeout(t.Context(), 60*time.Second)
	defer cancel()
	require.NoError(t, m.Mount(ctx, "/dev/vda", "/ledger", "ext4", ""))
	require.NoError(t, m.Save(ctx, r.state))
	require.NoError(t, disk.Flush())
	m.Kill()
	lost, err := disk.Cut(rand.New(rand.NewPCG(powerSeed, powerSeed)))
	require.NoError(t, err)
	require.Zero(t, lost)
	return r
}

// plate serves a disk to a machine until the test ends.
func plate(t *testing.T, path string) (*Platter, string) {
	t.Helper()
	disk, err := OpenPlatter(path)
	require.NoError(t, err)
	socket := filepath.Join(t.TempDir(), "disk")
	l, err := net.Listen("unix", socket)
	require.NoError(t, err)
	served := sync.WaitGroup{}
	served.Go(func() {
		// The emulator is killed under it: how it ends is of no interest.
		_ = disk.Serve(l)
	})
	t.Cleanup(func() {
		require.NoError(t, l.Close())
		served.Wait()
	})
	return disk, socket
}

// happen lets a machine go on from where it was ready, write to a ledger on a
// disk of its own, and cuts the power between two acknowledgements: at any
// instant, or amid the writes of a commit.
func (c *crash) happen(t *testing.T, r ready, careless, amid bool, chance *rand.Rand) {
	copyFile(t, r.disk, c.disk)
	disk, socket := plate(t, c.disk)
	o := r.options(socket)
	o.Resume = r.state
	m := boot(t, o)
	env := []string{"SINKPROOF_TEST_VICTIM_LEDGER=/ledger/bench.db"}
	if careless {
		env = append(env, "SINKPROOF_TEST_VICTIM_SYNCHRONOUS=off")
	}
	writer, err := m.Start(wire.Program{Path: "/bin/ledger.test", Env: env, Dir: "/tmp"})
	require.NoError(t, err)
	after, part := 2+chance.IntN(11), chance.Float64()
	last, pace, n := time.Now(), time.Duration(0), 0
	for end := time.Now().Add(60 * time.Second); n < after; time.Sleep(time.Millisecond) {
		require.False(t, writer.Ended(), "the writer ended: %s", writer.Said())
		require.True(t, time.Now().Before(end), "the writer is too slow: %s %s", writer.Output(), writer.Said())
		if m := len(acknowledgedIn(writer.Output())); m > n {
			now := time.Now()
			last, pace, n = now, now.Sub(last)/time.Duration(m-n), m
		}
	}
	if amid {
		// A commit makes some writes before it flushes.
		select {
		case <-disk.FailAfter(1 + chance.IntN(most)):
		case <-t.Context().Done():
		}
	} else {
		// Anywhere in the next commit, should it take as long as the last one.
		time.Sleep(time.Duration(part * float64(pace)))
	}
	// What was not seen before the cut is not acknowledged.
	c.acknowledged = acknowledgedIn(writer.Output())
	c.lost, err = disk.Cut(chance)
	require.NoError(t, err)
	m.Kill()
}

// acknowledgedIn reads the whole lines of a writer.
func acknowledgedIn(output string) []ackLine {
	var all []ackLine
	for line := range strings.Lines(output) {
		var a ackLine
		if n, err := fmt.Sscan(line, &a.seq, &a.hash); err == nil && n == 2 && strings.HasSuffix(line, "\n") {
			all = append(all, a)
		}
	}
	return all
}

// examine mounts every disk in one machine and has the ledgers verified with the
// last acknowledged entry as their heads: a chain that holds it holds all before
// it. The first one the program itself verifies as well. A verdict is empty where
// everything is in order.
func examine(t *testing.T, programs map[string]string, crashes []*crash) (*Machine, []string) {
	t.Helper()
	var disks []Disk
	for _, c := range crashes {
		disks = append(disks, Disk{Path: c.disk})
	}
	m := boot(t, Options{Programs: programs, NoBuses: true, Yielding: true, Disks: disks})
	ctx, cancel := context.WithTimeout(t.Context(), 60*time.Second)
	defer cancel()
	job, exit, err := m.Run(ctx, wire.Program{Path: "/bin/ledger.test", Env: []string{"SINKPROOF_TEST_PUBLIC_KEY=/tmp/bench.pub"}, Dir: "/tmp"})
	require.NoError(t, err)
	require.Zero(t, exit.Code, job.Said())
	verdicts := make([]string, len(crashes))
	var list strings.Builder
	var mounted []int
	for i, c := range crashes {
		folder := fmt.Sprintf("/disk%d", i)
		if err := m.Mount(ctx, fmt.Sprintf("/dev/vd%c", 'a'+i), folder, "ext4", ""); err != nil {
			verdicts[i] = err.Error()
			continue
		}
		last := c.acknowledged[len(c.acknowledged)-1].hash
		fmt.Fprintln(&list, folder+"/bench.db", last)
		mounted = append(mounted, i)
		if i == 0 {
			job, exit, err := m.Run(ctx, wire.Program{Path: "/bin/sinkproof", Dir: "/tmp", Args: []string{
				"ledger", "verify", "--ledger", folder + "/bench.db", "--key", "/tmp/bench.pub", "--head", last}})
			require.NoError(t, err)
			require.Zero(t, exit.Code, "%s%s", job.Output(), job.Said())
		}
	}
	job, exit, err = m.Run(ctx, wire.Program{Path: "/bin/ledger.test", Env: []string{"SINKPROOF_TEST_EXAMINE=" + list.String()}, Dir: "/tmp"})
	require.NoError(t, err)
	require.Zero(t, exit.Code, job.Said())
	said := strings.Split(strings.TrimSpace(job.Output()), "\n")
	require.Len(t, said, len(mounted), "%s%s", job.Output(), job.Said())
	for k, i := range mounted {
		if said[k] != "sound" {
			verdicts[i] = said[k]
		}
	}
	return m, verdicts
}
