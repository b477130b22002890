package main

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

func newLedger() *cobra.Command {
	c := &cobra.Command{
		Use:   "ledger",
		Short: "Verifies and repairs the store of records",
	}
	c.PersistentPreRun = func(*cobra.Command, []string) { makeRoom() }
	c.AddCommand(newVerify(), newRebuild(), newYield(), newScale())
	return c
}

// deskRoom is what the collector may let a question about many runs take, or the
// simulation of many units. With what SQLite and the runtime hold beside it a million
// runs stay below 300 MiB.
const deskRoom = 192 << 20

// deskGrowth is by how much the heap may grow before it is collected, in percent of
// what is in use: the simulation of a unit leaves little behind, and collecting after
// every doubling took a fifteenth of its time.
const deskGrowth = 400

// makeRoom raises the program's own memory limit, which suits a small computer at a
// bench, and lets the heap grow farther before it is collected, unless somebody set
// these, and returns what sets them back.
func makeRoom() (back func()) {
	if os.Getenv("GOMEMLIMIT") != "" || os.Getenv("GOGC") != "" {
		return func() {}
	}
	limit, growth := debug.SetMemoryLimit(deskRoom), debug.SetGCPercent(deskGrowth)
	return func() {
		debug.SetMemoryLimit(limit)
		debug.SetGCPercent(growth)
	}
}

// verifyFlags are the flags of sinkproof ledger verify.
type verifyFlags struct {
	path       string
	keys       []string
	head       string
	twin, json bool
}

func newVerify() *cobra.Command {
	var f verifyFlags
	c := described(&cobra.Command{
		Use:   "verify --key FILE [--head HASH]",
		Short: "Proves that no record was altered, taken out or put in",
		Long: `Walks the whole chain: hashes, signatures, the documents against their schema,
every column of the projection, and the columns beside the ledger. It names the
first entry that is altered, missing or out of order. That entries were cut off the
end can be seen only with --head, which every report prints.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof ledger verify --ledger line/ledger.db --key line/ledger.db.pub
  sinkproof ledger verify --ledger sinkproof-demo/ledger.db --key sinkproof-demo/ledger.db.pub --twin`)
	fs := c.Flags()
	fs.StringVar(&f.path, "ledger", "sinkproof-runs/ledger.db", "the ledger's `file`")
	fs.StringArrayVar(&f.keys, "key", nil, "public key `file` of the bench; may be given more than once")
	fs.StringVar(&f.head, "head", "", "`hash` of an entry that must be there, as a report prints it")
	fs.BoolVar(&f.twin, "twin", false, "accept records of the twin")
	fs.BoolVar(&f.json, "json", false, "print the result for a program")
	return c
}

func (f *verifyFlags) run(c *cobra.Command) (err error) {
	opts := ledger.VerifyOpts{Head: strings.ReplaceAll(f.head, " ", ""), AllowTwin: f.twin}
	if raw, err := hex.DecodeString(opts.Head); err != nil || opts.Head != "" && len(raw) != sha256.Size {
		return usage("a report prints the chain head as 64 hexadecimal digits", "--head %q is no hash", f.head)
	}
	if opts.Keys, err = loadKeys(f.keys); err != nil {
		return err
	}
	view, err := ledger.OpenView(c.Context(), f.path)
	if err != nil {
		return ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	report, complaint := view.Verify(c.Context(), opts)
	if err := f.tell(c.OutOrStdout(), report, complaint); err != nil {
		return err
	}
	if complaint != nil {
		return judgedBad()
	}
	return nil
}

func loadKeys(paths []string) ([]ed25519.PublicKey, error) {
	if len(paths) == 0 {
		return nil, usage("the bench leaves it beside its ledger, as ledger.db.pub: --key FILE", "no key to verify with")
	}
	var keys []ed25519.PublicKey
	for _, path := range paths {
		key, err := record.LoadPublicKey(path)
		if err != nil {
			return nil, usage("", "key %s: %w", path, err)
		}
		keys = append(keys, key)
	}
	return keys, nil
}

// finding is the result of a verification, for a program.
type finding struct {
	Good         bool   `json:"good"`
	Complaint    string `json:"complaint,omitempty"`
	Entries      int64  `json:"entries"`
	Opened       int64  `json:"opened"`
	Closed       int64  `json:"closed"`
	Interrupted  int64  `json:"interrupted"`
	Calibrations int64  `json:"calibrations"`
	GoldenUnits  int64  `json:"golden_units"`
	GoldenRuns   int64  `json:"golden_runs"`
	Suspicions   int64  `json:"suspicions"`
	Suspects     int64  `json:"suspects"`
	Lots         int64  `json:"lots"`
	LotsJudged   int64  `json:"lots_judged"`
	Twin         int64  `json:"twin"`
	Hash         string `json:"hash"`
	Tail         string `json:"tail"`
}

func (f *verifyFlags) tell(w io.Writer, r ledger.Report, complaint error) error {
	if f.json {
		out := finding{
			Good: complaint == nil, Entries: r.Entries, Opened: r.Opened, Closed: r.Closed,
			GoldenUnits: r.GoldenUnits, GoldenRuns: r.GoldenRuns, Suspicions: r.Suspicions, Suspects: r.Suspects,
			Lots: r.Lots, LotsJudged: r.LotsJudged,
			Interrupted: r.Interrupted, Calibrations: r.Calibrations, Twin: r.Twin, Hash: r.Hash, Tail: r.Tail(),
		}
		if complaint != nil {
			out.Complaint = complaint.Error()
		}
		return printJSON(w, out)
	}
	if complaint != nil {
		fmt.Fprintf(w, "NOT IN ORDER  %v\n", complaint)
		fmt.Fprintf(w, "good up to there: %d entries, the last with hash %s\n", r.Entries, r.Hash)
		return nil
	}
	fmt.Fprintf(w, "in order: %d entries (%d runs opened, %d closed, %d interrupted, %d still open)\n",
		r.Entries, r.Opened, r.Closed, r.Interrupted, r.Open())
	if r.Calibrations > 0 {
		fmt.Fprintf(w, "calibrations among them: %d\n", r.Calibrations)
	}
	if r.GoldenUnits > 0 {
		fmt.Fprintf(w, "golden units among them: %d, run %d times; %d suspicions, %d records under one\n", r.GoldenUnits, r.GoldenRuns, r.Suspicions, r.Suspects)
	}
	if r.Lots > 0 {
		fmt.Fprintf(w, "lots among them: %d, %d of them judged\n", r.Lots, r.LotsJudged)
	}
	fmt.Fprintf(w, "last entry: %s\n%s\n", r.Hash, r.Tail())
	return nil
}

func newRebuild() *cobra.Command {
	var path string
	c := &cobra.Command{
		Use:   "rebuild",
		Short: "Makes the columns of the ledger anew from the signed entries",
		Args:  noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			n, err := ledger.Rebuild(c.Context(), path)
			if err != nil {
				return ledgerTrouble(err)
			}
			fmt.Fprintf(c.OutOrStdout(), "rebuilt the columns of %d entries\n", n)
			return nil
		},
	}
	c.Flags().StringVar(&path, "ledger", "sinkproof-runs/ledger.db", "the ledger's `file`")
	return c
}
