package ledger

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// victimLedger names the variable that turns this test program into the one
// that is killed: it holds the path of the ledger to write to.
const victimLedger = "SINKPROOF_TEST_VICTIM_LEDGER"

// Three more turn it into a victim that adds simulated records by the many, into one
// that does not sync, which the test of a power cut must catch, and into a program
// that leaves the public key in a file.
// That test runs this program in an emulated machine (cmd/sinkproof/kernel).
const (
	victimMany   = "SINKPROOF_TEST_VICTIM_MANY"
	victimSync   = "SINKPROOF_TEST_VICTIM_SYNCHRONOUS"
	publicKeyFor = "SINKPROOF_TEST_PUBLIC_KEY"
)

func TestMain(m *testing.M) {
	if path := os.Getenv(publicKeyFor); path != "" {
		if err := record.SavePublicKey(path, record.Public(benchKey())); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if list := os.Getenv(examineLedgers); list != "" {
		if err := examine(list); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if path := os.Getenv(victimLedger); path != "" && os.Getenv(victimMany) != "" {
		fmt.Fprintln(os.Stderr, simulateForEver(path))
		os.Exit(1)
	}
	if path := os.Getenv(victimLedger); path != "" {
		fmt.Fprintln(os.Stderr, commitForEver(path, os.Getenv(victimSync)))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// commitForEver opens and closes runs, those of a golden unit among them, and
// acknowledges each entry on standard output once it is committed, until it is
// killed.
func commitForEver(path, synchronous string) error {
	ctx := context.Background()
	l, err := Open(ctx, path, Opts{Key: benchKey()})
	if err != nil {
		return err
	}
	if synchronous != "" {
		if _, err := l.w.Exec("pragma synchronous = " + synchronous); err != nil {
			return err
		}
	}
	seq, _, err := l.Head(ctx)
	if err == nil && seq == 0 {
		_, err = l.RegisterGolden(ctx, goldenUnit(1_000_000, "GOLD-1"))
		seq = 1
	}
	for n := int(seq); err == nil; n++ {
		if n%3 == 0 {
			err = commitGolden(ctx, l, n)
			continue
		}
		err = commitRun(ctx, l, n)
	}
	return err
}

// simulateForEver adds simulated records, and acknowledges each batch, until it is
// killed.
func simulateForEver(path string) error {
	ctx := context.Background()
	l, err := Open(ctx, path, Opts{Key: benchKey()})
	if err != nil {
		return err
	}
	seq, _, err := l.Head(ctx)
	if err != nil {
		return err
	}
	return l.Simulate(ctx, func(yield func([]record.Run, error) bool) {
		for n := int(seq); ; n += 10 {
			var runs []record.Run
			for i := range 10 {
				runs = append(runs, tiny(n+i))
			}
			if !yield(runs, nil) {
				return
			}
		}
	}, func(int) {
		if seq, hash, err := l.Head(ctx); err == nil {
			fmt.Println(seq, hash)
		}
	})
}

// commitGolden runs the golden unit; half of its answers deviate.
func commitGolden(ctx context.Context, l *Ledger, n int) error {
	o, opened, err := l.OpenGolden(ctx, goldenOpening(n, "GOLD-1"))
	if err != nil {
		return err
	}
	fmt.Println(opened.Seq, opened.Hash)
	_, _, closed, err := l.CloseGolden(ctx, runOf(o, []record.Verdict{record.Pass, record.Fail}[n%2]))
	if err != nil {
		return err
	}
	fmt.Println(closed.Seq, closed.Hash)
	return nil
}

func commitRun(ctx context.Context, l *Ledger, n int) error {
	o, opened, err := l.OpenRun(ctx, opening(n, fmt.Sprintf("LMP-%d", n)))
	if err != nil {
		return err
	}
	fmt.Println(opened.Seq, opened.Hash)
	closed, err := l.CloseRun(ctx, runOf(o, record.Fail))
	if err != nil {
		return err
	}
	fmt.Println(closed.Seq, closed.Hash)
	return nil
}

// killed starts the victim, waits for a number of acknowledgements, then for
// the delay, and kills it with SIGKILL. It returns what was acknowledged. more are
// variables that say what kind of victim it is.
func killed(t *testing.T, path string, after int, delay time.Duration, more ...string) map[int64]string {
	t.Helper()
	program, err := os.Executable()
	require.NoError(t, err)
	victim := exec.Command(program)
	victim.Env = append(append(os.Environ(), victimLedger+"="+path), more...)
	var said strings.Builder
	victim.Stderr = &said
	out, err := victim.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, victim.Start())

	acknowledged := map[int64]string{}
	lines := bufio.NewScanner(out)
	armed := false
	for {
		if len(acknowledged) >= after && !armed {
			armed = true
			time.AfterFunc(delay, func() { _ = victim.Process.Kill() })
		}
		if !lines.Scan() {
			break
		}
		var seq int64
		var hash string
		// A line that the kill cut off acknowledges nothing.
		if n, err := fmt.Sscan(lines.Text(), &seq, &hash); err == nil && n == 2 && len(hash) == 64 {
			acknowledged[seq] = hash
		}
	}
	var exit *exec.ExitError
	require.ErrorAs(t, victim.Wait(), &exit)
	require.Equal(t, -1, exit.ExitCode(), "ended by the signal, not by itself: %s", &said)
	return acknowledged
}

// The right to write goes with the process that held it.
func TestAnotherProcessIsRefusedUntilItEnds(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	program, err := os.Executable()
	require.NoError(t, err)
	second := exec.Command(program)
	second.Env = append(os.Environ(), victimLedger+"="+path)
	out, err := second.CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), ErrWriter.Error())
	require.NoError(t, l.Close())

	require.NotEmpty(t, killed(t, path, 1, 0))
	l = reopen(t, path)
	complete(t, l, 1000, "LMP-1000", record.Pass)
	require.NoError(t, l.Close())
	verify(t, path, VerifyOpts{})
}
