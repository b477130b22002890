package ledger

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/gowebpki/jcs"
	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestAWholeLedgerVerifies(t *testing.T) {
	path := filled(t)
	report := verify(t, path, VerifyOpts{})
	require.EqualValues(t, 8, report.Entries)
	require.EqualValues(t, 4, report.Opened)
	require.EqualValues(t, 3, report.Closed)
	require.EqualValues(t, 1, report.Interrupted)
	require.Zero(t, report.Twin)
	last, err := record.DecodeEntry(stored(t, path)[7])
	require.NoError(t, err)
	require.Equal(t, last.Hash, report.Hash)
}

func TestAnEmptyLedgerVerifies(t *testing.T) {
	l := NewLedger(t)
	report, err := l.Verify(context.Background(), VerifyOpts{Keys: []ed25519.PublicKey{record.Public(benchKey())}})
	require.NoError(t, err)
	require.Equal(t, Report{Hash: record.Genesis}, report)
}

// replace writes other bytes under an entry's number.
func replace(t *testing.T, path string, seq int, data []byte) {
	t.Helper()
	alter(t, path, fmt.Sprintf("update entries set entry = x'%x' where seq = %d", data, seq))
}

// remade signs an entry with a changed text again, rules of the record or
// not, as someone with the key and another program could.
func remade(t *testing.T, data []byte, key ed25519.PrivateKey, from, to string) []byte {
	t.Helper()
	require.Contains(t, string(data), from)
	var members map[string]any
	require.NoError(t, json.Unmarshal([]byte(strings.Replace(string(data), from, to, 1)), &members))
	delete(members, "hash")
	delete(members, "signature")
	members["key"] = record.KeyID(record.Public(key))
	signed := canonical(t, members)
	sum := sha256.Sum256(signed)
	members["hash"] = hex.EncodeToString(sum[:])
	members["signature"] = hex.EncodeToString(ed25519.Sign(key, signed))
	return canonical(t, members)
}

func canonical(t *testing.T, doc any) []byte {
	t.Helper()
	data, err := json.Marshal(doc)
	require.NoError(t, err)
	data, err = jcs.Transform(data)
	require.NoError(t, err)
	return data
}

func TestTamperingIsNamed(t *testing.T) {
	for name, c := range map[string]struct {
		tamper func(t *testing.T, path string)
		cause  error
		says   string
		good   int64
	}{
		"a byte of a body flipped": {func(t *testing.T, path string) {
			data := stored(t, path)[3]
			data[bytes.Index(data, []byte("5103.25"))] ^= 1
			replace(t, path, 4, data)
		}, record.ErrAltered, "entry 4: content hashes to", 3},
		"a signature flipped": {func(t *testing.T, path string) {
			data := stored(t, path)[0]
			at := bytes.Index(data, []byte(`"signature":"`)) + len(`"signature":"`)
			data[at] = "01"[1&^(data[at]&1)]
			replace(t, path, 1, data)
		}, record.ErrAltered, "entry 1: signature is not that of key", 0},
		"a fail turned into a pass": {func(t *testing.T, path string) {
			replace(t, path, 2, []byte(strings.Replace(string(stored(t, path)[1]), `"verdict":"fail"`, `"verdict":"pass"`, 1)))
		}, record.ErrAltered, "entry 2:", 1},
		"a row deleted": {func(t *testing.T, path string) {
			alter(t, path, "delete from entries where seq = 3", "delete from history where seq = 3")
		}, record.ErrMissing, "entry 3: missing, entry 4 stands in its place", 2},
		"a row deleted, the others moved up": {func(t *testing.T, path string) {
			alter(t, path, "delete from entries where seq = 3", "delete from history where seq = 3",
				"update entries set seq = seq - 1 where seq > 3", "update history set seq = seq - 1 where seq > 3")
		}, record.ErrMissing, "entry 3: missing", 2},
		"the first row deleted": {func(t *testing.T, path string) {
			alter(t, path, "delete from entries where seq = 1")
		}, record.ErrMissing, "entry 1: missing", 0},
		"rows swapped": {func(t *testing.T, path string) {
			alter(t, path, "update entries set seq = 99 where seq = 5", "update entries set seq = 5 where seq = 6",
				"update entries set seq = 6 where seq = 99")
		}, record.ErrMisplaced, "entry 5: out of order", 4},
		"signed again with another key": {func(t *testing.T, path string) {
			replace(t, path, 2, remade(t, stored(t, path)[1], testKey("z"), "Rd missing", "Rd shared"))
		}, record.ErrKey, "entry 2: signed with key", 1},
		"one entry written anew with the key": {func(t *testing.T, path string) {
			replace(t, path, 2, remade(t, stored(t, path)[1], benchKey(), "Rd missing", "Rd shared"))
			alter(t, path, "update history set reason = 'Rd shared' where seq = 2")
		}, ErrColumns, "entry 2: column hash holds", 1},
		"the same with its columns": {func(t *testing.T, path string) {
			data := remade(t, stored(t, path)[1], benchKey(), "Rd missing", "Rd shared")
			e, err := record.DecodeEntry(data)
			require.NoError(t, err)
			replace(t, path, 2, data)
			alter(t, path, "update history set reason = 'Rd shared', hash = '"+e.Hash+"' where seq = 2")
		}, record.ErrFork, "entry 3: follows an entry with hash", 2},
		"a signed document that breaks the schema": {func(t *testing.T, path string) {
			replace(t, path, 2, remade(t, stored(t, path)[1], benchKey(), `"answer":"fail"`, `"answer":"well"`))
		}, record.ErrInvalid, "entry 2: run closed: breaks the published schema", 1},
		"a signed document of another kind": {func(t *testing.T, path string) {
			replace(t, path, 2, remade(t, stored(t, path)[1], benchKey(), `"run closed"`, `"tea break"`))
		}, record.ErrInvalid, "entry 2: tea break: breaks the published schema", 1},
		"a signed document whose references lead nowhere": {func(t *testing.T, path string) {
			replace(t, path, 2, remade(t, stored(t, path)[1], benchKey(), `"name":"rd-cc1"`, `"name":"rd-cc1","readings":["none"]`))
		}, record.ErrInvalid, "entry 2:", 1},
		"junk in place of an entry": {func(t *testing.T, path string) {
			replace(t, path, 6, []byte("junk"))
		}, record.ErrAltered, "entry 6:", 5},
		"a row of the projection deleted": {func(t *testing.T, path string) {
			alter(t, path, "delete from history where seq = 3")
		}, ErrColumns, "entry 3: has no row in the history", 2},
		"a row of the projection added": {func(t *testing.T, path string) {
			alter(t, path, "insert into history select 9, "+strings.Join(columnNames()[1:], ", ")+" from history where seq = 4")
		}, ErrColumns, "table history has 9 rows", 8},
		"an index dropped": {func(t *testing.T, path string) {
			alter(t, path, "drop index history_serial")
		}, ErrColumns, `"history_serial" is missing`, 0},
		"a trigger planted": {func(t *testing.T, path string) {
			alter(t, path, "create trigger t after insert on history begin delete from history; end")
		}, ErrColumns, `trigger "t" is not as this program makes it`, 0},
		"the table of entries loosened": {func(t *testing.T, path string) {
			alter(t, path, "alter table entries add column remark text")
		}, ErrColumns, `"entries" is not as this program makes it`, 0},
	} {
		t.Run(name, func(t *testing.T) {
			path := filled(t)
			c.tamper(t, path)
			report, err := tryVerify(t, path, VerifyOpts{})
			require.ErrorIs(t, err, c.cause)
			require.ErrorContains(t, err, c.says)
			require.Equal(t, c.good, report.Entries, "what was good before it")
		})
	}
}

func columnNames() []string {
	var names []string
	for _, c := range project(record.Entry{}, record.Opening{}, record.Run{}, record.Interruption{}) {
		names = append(names, c.name)
	}
	return names
}

// Every column is recomputed: whichever is changed, it is named.
func TestEveryColumnIsRecomputed(t *testing.T) {
	path := filled(t)
	for _, name := range columnNames()[1:] {
		db, err := connect(path, "mode", "rw")
		require.NoError(t, err)
		var before any
		require.NoError(t, db.QueryRow("select "+name+" from history where seq = 4").Scan(&before))
		changed := any("other")
		if n, ok := before.(int64); ok {
			changed = n + 1
		}
		_, err = db.Exec("update history set "+name+" = $1 where seq = 4", changed)
		require.NoError(t, err)

		report, err := tryVerify(t, path, VerifyOpts{})
		require.ErrorIs(t, err, ErrColumns, name)
		require.ErrorContains(t, err, "entry 4: column "+name+" holds", name)
		require.EqualValues(t, 3, report.Entries)

		_, err = db.Exec("update history set "+name+" = $1 where seq = 4", before)
		require.NoError(t, err)
		require.NoError(t, db.Close())
	}
	verify(t, path, VerifyOpts{})
}

// Several columns changed: the first one of the first entry is named.
func TestTheFirstDifferingColumnIsNamed(t *testing.T) {
	path := filled(t)
	alter(t, path, "update history set bin = 'pass', verdict = 'pass', failed = '' where seq >= 2")
	_, err := tryVerify(t, path, VerifyOpts{})
	require.ErrorContains(t, err, `entry 2: column verdict holds "pass", the entry says "fail"`)
}

func TestACutTailIsSeenWithAHeadOnly(t *testing.T) {
	path := filled(t)
	head := verify(t, path, VerifyOpts{}).Hash
	report := verify(t, path, VerifyOpts{Head: head})
	require.EqualValues(t, 8, report.HeadSeq)
	require.Equal(t, "The chain ends with the given head, entry 8.", report.Tail())

	alter(t, path, "delete from entries where seq > 6", "delete from history where seq > 6")
	report = verify(t, path, VerifyOpts{})
	require.EqualValues(t, 6, report.Entries)
	require.Contains(t, report.Tail(), "cannot be seen without --head")

	_, err := tryVerify(t, path, VerifyOpts{Head: head})
	require.ErrorIs(t, err, record.ErrHead)
	require.ErrorContains(t, err, "after entry 6")

	older := report.Hash
	l := reopen(t, path)
	complete(t, l, 40, "LMP-40", record.Pass)
	require.NoError(t, l.Close())
	report = verify(t, path, VerifyOpts{Head: older})
	require.EqualValues(t, 6, report.HeadSeq)
	require.Equal(t, "The given head is entry 6; entries cut off after entry 8 cannot be seen.", report.Tail())
}

func TestRecordsOfTheTwinAreRefusedUnlessAllowed(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Pass)
	o := opening(2, "LMP-2")
	o.Bench = record.Bench{Name: "twin", Kind: record.Twin, Program: "0.1.0"}
	o, _, err := l.OpenRun(ctx, o)
	require.NoError(t, err)
	_, err = l.CloseRun(ctx, runOf(o, record.Pass))
	require.NoError(t, err)

	report, err := tryVerify(t, l.path, VerifyOpts{})
	require.ErrorIs(t, err, ErrTwin)
	require.ErrorContains(t, err, `entry 3: run `+o.ID+` of serial "LMP-2"`)
	require.EqualValues(t, 2, report.Entries)
	require.EqualValues(t, 1, verify(t, l.path, VerifyOpts{AllowTwin: true}).Twin)
}

// A holder of the key who writes what no run can be is found by the way of
// the runs.
func TestTheWayOfARunIsChecked(t *testing.T) {
	first, second := opening(1, "LMP-1"), opening(2, "LMP-2")
	first.Attempt, second.Attempt = 1, 1
	other := first
	other.Lot = "another lot"
	third := first
	third.ID, third.Attempt = second.ID, 3
	for name, c := range map[string]struct {
		docs []record.Document
		says string
	}{
		"closed without an opening": {[]record.Document{runOf(first, record.Pass)}, "entry 1: closes run"},
		"closed twice": {[]record.Document{first, runOf(first, record.Fail), runOf(first, record.Pass)},
			"entry 3: closes run " + first.ID + ", which is not open"},
		"closed as another":             {[]record.Document{first, runOf(other, record.Pass)}, "entry 2: closes run " + first.ID + " with another identity"},
		"opened twice":                  {[]record.Document{first, first}, "entry 2: opens run " + first.ID + " a second time"},
		"an attempt left out":           {[]record.Document{first, runOf(first, record.Fail), third}, "entry 3: is attempt 3 of serial \"LMP-1\", the chain makes it 2"},
		"interrupted without a reason":  {[]record.Document{second, record.Interruption{ID: second.ID, Serial: "LMP-2", Opened: record.Genesis, Reason: "x"}}, "entry 2: interrupts run"},
		"interrupted, but never opened": {[]record.Document{record.Interruption{ID: second.ID, Serial: "LMP-2", Opened: record.Genesis, Reason: "x"}}, "entry 1: interrupts run"},
	} {
		t.Run(name, func(t *testing.T) {
			l := reopen(t, t.TempDir()+"/bench.ledger")
			for _, doc := range c.docs {
				_, err := l.append(context.Background(), doc)
				require.NoError(t, err)
			}
			require.NoError(t, l.Close())
			_, err := tryVerify(t, l.path, VerifyOpts{})
			require.ErrorIs(t, err, ErrRun)
			require.ErrorContains(t, err, c.says)
		})
	}
}

func TestRebuildMakesTheColumnsAnew(t *testing.T) {
	ctx, path := context.Background(), filled(t)
	before := stored(t, path)
	alter(t, path, "update history set verdict = 'pass', serial = 'X' where seq = 2", "delete from history where seq = 5",
		"drop index history_serial")
	_, err := tryVerify(t, path, VerifyOpts{})
	require.ErrorIs(t, err, ErrColumns)
	count, err := Rebuild(ctx, path)
	require.NoError(t, err)
	require.EqualValues(t, 8, count)
	verify(t, path, VerifyOpts{})
	require.Equal(t, before, stored(t, path), "the entries are not touched")

	alter(t, path, "drop table history")
	_, err = Rebuild(ctx, path)
	require.NoError(t, err)
	verify(t, path, VerifyOpts{})
	require.NoError(t, reopen(t, path).Close(), "and the ledger goes on")
}

func TestRebuildChangesNothingWhenAnEntryIsUnreadable(t *testing.T) {
	path := filled(t)
	replace(t, path, 3, []byte("junk"))
	alter(t, path, "update history set bin = 'x' where seq = 1")
	_, err := Rebuild(context.Background(), path)
	require.ErrorIs(t, err, record.ErrForm)
	require.ErrorContains(t, err, "entry 3")
	_, err = tryVerify(t, path, VerifyOpts{})
	require.ErrorContains(t, err, `entry 1: column bin holds "x"`)

	path = filled(t)
	replace(t, path, 3, remade(t, stored(t, path)[2], benchKey(), `"run opened"`, `"tea break"`))
	_, err = Rebuild(context.Background(), path)
	require.ErrorIs(t, err, record.ErrKind)
}

// forge changes columns, with sums that fit: those are against accidents.
func forge(t *testing.T, path string, statements ...string) {
	t.Helper()
	alter(t, columnsBeside(path), statements...)
	db, err := connect(columnsBeside(path), "mode", "rw")
	require.NoError(t, err)
	rows, err := db.Query("select col, number, data from blocks")
	if err != nil {
		require.NoError(t, db.Close()) // no blocks are left
		return
	}
	var sums []string
	for rows.Next() {
		var col uint32
		var number int
		var data []byte
		require.NoError(t, rows.Scan(&col, &number, &data))
		sums = append(sums, fmt.Sprintf("update blocks set sum = %d where col = %d and number = %d", checksum(col, number, data), col, number))
	}
	require.NoError(t, errorsOf(rows.Err(), rows.Close(), db.Close()))
	alter(t, columnsBeside(path), sums...)
}

// Columns beside the ledger that somebody changed so that they fit are found; such as
// do not fit are none of the ledger's trouble, since nobody reads them.
func TestColumnsBesideAreVerified(t *testing.T) {
	for name, c := range map[string]struct {
		statements []string
		bad        bool
	}{
		"as they are":        {nil, false},
		"a value":            {[]string{"update blocks set data = (select data from blocks where col = 3 and number = 0) where col > 3"}, true},
		"when runs were":     {[]string{"update blocks set low = 0, high = 0"}, true},
		"a block too many":   {[]string{"insert into blocks select 77, 0, low, high, sum, data from blocks where col = 0"}, true},
		"a block taken out":  {[]string{"delete from blocks where col = 1"}, true},
		"a later block":      {[]string{"insert into blocks select col, 5, low, high, sum, data from blocks where col = 0"}, true},
		"a text":             {[]string{"update texts set name = 'board house B' where name = 'board house A'"}, true},
		"the count of runs":  {[]string{"update followed set runs = 2"}, true},
		"an earlier version": {[]string{"pragma user_version = 1", "delete from blocks"}, false},
		"another chain":      {[]string{"update followed set hash = 'x'", "delete from blocks"}, false},
		"all of it":          {[]string{"drop table blocks"}, false},
	} {
		path := filled(t)
		require.NoError(t, openValues(t, path).Close())
		forge(t, path, c.statements...)
		_, err := tryVerify(t, path, VerifyOpts{})
		if !c.bad {
			require.NoError(t, err, name)
			continue
		}
		require.ErrorIs(t, err, ErrColumns, name)
		require.ErrorContains(t, err, columnsBeside(path), name)
	}
}
