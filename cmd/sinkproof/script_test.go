//go:build !race

package main

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	_ "modernc.org/sqlite"

	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// TestMain lets the scripts call the program itself as "sinkproof".
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"sinkproof": main})
}

// TestScripts runs every case of testdata/script from an empty folder: the
// command line, the files it needs, the output and the exit code.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":    exits,
			"alter":    alter,
			"shipped":  shipped,
			"withdraw": withdraw,
		},
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	})
}

// exits runs the program and demands an exit code: exits CODE ARGS...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: exits CODE ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec("sinkproof", args[1:]...)
	code := 0
	if err != nil {
		exit, ok := err.(interface{ ExitCode() int })
		if !ok {
			ts.Fatalf("sinkproof did not run: %v", err)
		}
		code = exit.ExitCode()
	}
	if code != want {
		ts.Fatalf("sinkproof %v ended with %d, not %d", args[1:], code, want)
	}
}

// shipped writes a shipped file into the folder: shipped KIND NAME FILE
func shipped(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: shipped wiring|product|scenario NAME FILE")
	}
	var file *source.File
	var err error
	switch args[0] {
	case record.RoleWiring:
		var rig *fixtures.Fixture
		if rig, err = fixtures.Shipped(args[1]); err == nil {
			file = rig.File
		}
	case record.RoleProduct:
		_, file, err = product.Shipped(args[1])
	default:
		file, err = scenarios.Shipped(args[1])
	}
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), file.Bytes, 0o600))
}

// alter does to a ledger what nobody may: alter FILE STATEMENT
func alter(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: alter FILE STATEMENT")
	}
	path := ts.MkAbs(args[0])
	_, err := os.Stat(path)
	ts.Check(err)
	db, err := sql.Open("sqlite", path)
	ts.Check(err)
	_, err = db.Exec(args[1])
	ts.Check(err)
	ts.Check(db.Close())
}

// withdraw withdraws the one suspicion of the default ledger: withdraw PERSON
// REASON
func withdraw(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: withdraw PERSON REASON")
	}
	view, err := ledger.OpenView(context.Background(), ts.MkAbs("sinkproof-runs/ledger.db"))
	ts.Check(err)
	all, err := view.Suspicions(context.Background())
	ts.Check(errors.Join(err, view.Close()))
	if len(all) != 1 {
		ts.Fatalf("%d suspicions, one is wanted", len(all))
	}
	exits(ts, false, []string{"0", "rig", "golden", "withdraw", "--run", all[0].Run, "--by", args[0], "--reason", args[1]})
}
