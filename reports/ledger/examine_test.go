package ledger

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"strings"

	"sinkproof/reports/record"
)

// examineLedgers names the variable that turns this test program into one that
// verifies ledgers: a line for each, its path and the hash of an entry that must
// be there. The test of a power cut looks at its disks by it.
const examineLedgers = "SINKPROOF_TEST_EXAMINE"

// examine prints a line for each ledger: "sound", or quoted what is wrong. The
// schemas are compiled once: on an emulated computer that takes longer than all
// the rest.
func examine(list string) error {
	schema, err := newValidator()
	if err != nil {
		return err
	}
	for line := range strings.Lines(list) {
		var path, head string
		if _, err := fmt.Sscan(line, &path, &head); err != nil {
			return fmt.Errorf("path and hash in %q: %w", line, err)
		}
		if err := examineOne(schema, path, head); err != nil {
			fmt.Printf("%q\n", err.Error())
			continue
		}
		fmt.Println("sound")
	}
	return nil
}

func examineOne(schema *validator, path, head string) error {
	ctx := context.Background()
	v, err := OpenView(ctx, path)
	if err != nil {
		return err
	}
	_, err = v.verify(ctx, VerifyOpts{Keys: []ed25519.PublicKey{record.Public(benchKey())}, Head: head}, schema)
	return errors.Join(err, v.Close())
}
