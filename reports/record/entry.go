package record

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Kind says what an entry holds.
type Kind string

// The kinds of entries about runs, each with its document as the body: an
// Opening, a Run, an Interruption.
const (
	RunOpened      Kind = "run opened"
	RunClosed      Kind = "run closed"
	RunInterrupted Kind = "run interrupted"
)

// Genesis is the previous hash of the first entry of every chain.
const Genesis = "0000000000000000000000000000000000000000000000000000000000000000"

var (
	// ErrAltered is the cause when the hash or the signature of an entry does
	// not fit its content.
	ErrAltered = errors.New("entry altered")
	// ErrKey is the cause when an entry was signed with a key that is not
	// among the given ones.
	ErrKey = errors.New("entry signed with another key")
	// ErrKind is the cause when this program does not know an entry's kind.
	ErrKind = errors.New("unknown kind of entry")
)

// Entry is a link of the chain.
type Entry struct {
	// Seq counts the entries of the chain from 1.
	Seq int64
	// Kind says which document Body is.
	Kind Kind
	// Previous is the hash of the entry before, Genesis in the first.
	Previous string
	// Body is the document in canonical form.
	Body []byte
	// Key is the id of the key that signed; see KeyID.
	Key string
	// Hash is the SHA-256 of the signed form, in lower-case hexadecimal.
	Hash string
	// Signature is the Ed25519 signature over the signed form.
	Signature []byte
}

// Document is what an entry can hold: an Opening, a Run, an Interruption, a
// Calibration, a Golden, GoldenRetirement, GoldenOpening, GoldenRun or
// GoldenInterruption, a Suspicion, a Withdrawal, a Clock, a LotDraw, a
// LotJudgement, a SupplierResumption or a TestOrder.
type Document interface {
	// Kind returns the kind of entry that holds such a document.
	Kind() Kind
	// encode validates the document and returns its canonical form.
	encode() ([]byte, error)
}

// Kind returns RunOpened.
func (o Opening) Kind() Kind { return RunOpened }

// Kind returns RunClosed.
func (r Run) Kind() Kind { return RunClosed }

// Kind returns RunInterrupted.
func (i Interruption) Kind() Kind { return RunInterrupted }

func (o Opening) encode() ([]byte, error)      { return EncodeOpening(o) }
func (r Run) encode() ([]byte, error)          { return EncodeRun(r) }
func (i Interruption) encode() ([]byte, error) { return EncodeInterruption(i) }

// Bytes returns the entry as it is stored and exchanged: its canonical form
// with hash and signature.
func (e Entry) Bytes() []byte {
	var b bytes.Buffer
	b.WriteString(`{"body":`)
	b.Write(e.Body)
	b.WriteString(`,"hash":"` + e.Hash + `"`)
	e.writeTail(&b)
	b.WriteString(`,"signature":"` + hex.EncodeToString(e.Signature) + `"}`)
	return b.Bytes()
}

// signedForm returns the canonical form of the entry without hash and
// signature. Its members stand in the order that RFC 8785 gives them and the
// body is canonical already, so that nothing has to be parsed again.
func (e Entry) signedForm() []byte {
	var b bytes.Buffer
	b.WriteString(`{"body":`)
	b.Write(e.Body)
	e.writeTail(&b)
	b.WriteByte('}')
	return b.Bytes()
}

// writeTail writes the members between hash and signature.
func (e Entry) writeTail(b *bytes.Buffer) {
	b.WriteString(`,"key":"` + e.Key + `","kind":"` + string(e.Kind) + `","previous":"` + e.Previous +
		`","schema":"` + e.Schema() + `","seq":` + strconv.FormatInt(e.Seq, 10))
}

// Schema is the oldest version that describes the entry. A body in canonical
// form holds the text of its schema nowhere else: in a string its quotes would
// be escaped.
func (e Entry) Schema() string {
	switch e.Kind {
	case GoldenRegistered, GoldenRetired, GoldenOpened, GoldenClosed, GoldenInterrupted, SuspicionRaised, SuspicionWithdrawn, ClockSet:
		return EntrySchema2
	case LotOpened, LotJudged, SupplierResumed:
		return EntrySchema3
	case OrderDrawn:
		return EntrySchema4
	case RunOpened:
		if bytes.Contains(e.Body, []byte(`"schema":"`+OpeningSchema2+`"`)) {
			return EntrySchema2
		}
	case CalibrationMade:
		if bytes.Contains(e.Body, []byte(`"schema":"`+CalibrationSchema2+`"`)) {
			return EntrySchema2
		}
	case RunClosed:
		if bytes.Contains(e.Body, []byte(`"schema":"`+RunSchema2+`"`)) {
			return EntrySchema2
		}
	}
	return EntrySchema
}

// DecodeEntry reads an entry as Bytes wrote it. It checks the form only; see
// Verify. It wraps ErrForm or ErrSchema.
func DecodeEntry(data []byte) (Entry, error) {
	var doc struct {
		Body      json.RawMessage `json:"body"`
		Hash      string          `json:"hash"`
		Key       string          `json:"key"`
		Kind      Kind            `json:"kind"`
		Previous  string          `json:"previous"`
		Schema    string          `json:"schema"`
		Seq       int64           `json:"seq"`
		Signature string          `json:"signature"`
	}
	if err := decode(data, &doc, EntrySchema, EntrySchema2, EntrySchema3, EntrySchema4); err != nil {
		return Entry{}, fmt.Errorf("entry: decode: %w", err)
	}
	signature, err := hex.DecodeString(doc.Signature)
	if err != nil || len(signature) != ed25519.SignatureSize {
		return Entry{}, fmt.Errorf("entry %d: decode: signature %.20q is not 64 bytes in hexadecimal: %w",
			doc.Seq, doc.Signature, ErrForm)
	}
	e := Entry{
		Seq: doc.Seq, Kind: doc.Kind, Previous: doc.Previous, Body: doc.Body,
		Key: doc.Key, Hash: doc.Hash, Signature: signature,
	}
	if e.Seq < 1 || !matches(hashForm, e.Hash) || !matches(hashForm, e.Previous) ||
		!matches(`^[0-9a-f]{32}$`, e.Key) || !matches(`^[a-z][a-z ]*$`, string(e.Kind)) {
		return Entry{}, fmt.Errorf("entry %d: decode: a member has not its form: %w", doc.Seq, ErrForm)
	}
	if doc.Schema != e.Schema() {
		return Entry{}, fmt.Errorf("entry %d: decode: schema %q where %q is expected: %w", doc.Seq, doc.Schema, e.Schema(), ErrSchema)
	}
	if again := e.Bytes(); !bytes.Equal(again, data) {
		return Entry{}, fmt.Errorf("entry %d: decode: %w: differs from its canonical form at byte %d",
			doc.Seq, ErrForm, firstDifference(data, again))
	}
	return e, nil
}

// Verify checks the entry by itself: that its hash fits, that one of the keys
// signed it, and that its body is in canonical form. It wraps ErrAltered,
// ErrKey or ErrForm. Whether it follows the entry before is the chain's
// affair; see Chain.
func (e Entry) Verify(keys ...ed25519.PublicKey) error {
	signed := e.signedForm()
	if sum := hashOf(signed); sum != e.Hash {
		return fmt.Errorf("entry %d: content hashes to %.12s…, the entry says %.12s…: %w", e.Seq, sum, e.Hash, ErrAltered)
	}
	var key ed25519.PublicKey
	var given []string
	for _, k := range keys {
		given = append(given, KeyID(k))
		if KeyID(k) == e.Key {
			key = k
		}
	}
	if key == nil {
		return fmt.Errorf("entry %d: signed with key %s, given %s: %w", e.Seq, e.Key, strings.Join(given, ", "), ErrKey)
	}
	if !ed25519.Verify(key, signed, e.Signature) {
		return fmt.Errorf("entry %d: signature is not that of key %s: %w", e.Seq, e.Key, ErrAltered)
	}
	if !isCanonical(e.Body) {
		return fmt.Errorf("entry %d: body is not in canonical form: %w", e.Seq, ErrForm)
	}
	return nil
}

// Document decodes the body to what its kind says. It wraps ErrKind for another
// kind, or what the decoder wraps.
func (e Entry) Document() (Document, error) {
	switch e.Kind {
	case RunOpened:
		return DecodeOpening(e.Body)
	case RunClosed:
		return DecodeRun(e.Body)
	case RunInterrupted:
		return DecodeInterruption(e.Body)
	case CalibrationMade:
		return DecodeCalibration(e.Body)
	case GoldenRegistered:
		return DecodeGolden(e.Body)
	case GoldenRetired:
		return DecodeGoldenRetirement(e.Body)
	case GoldenOpened:
		return decodeGoldenOpening(e.Body)
	case GoldenClosed:
		return DecodeGoldenRun(e.Body)
	case GoldenInterrupted:
		i, err := DecodeInterruption(e.Body)
		return GoldenInterruption{i}, err
	case SuspicionRaised:
		return DecodeSuspicion(e.Body)
	case SuspicionWithdrawn:
		return DecodeWithdrawal(e.Body)
	case ClockSet:
		return DecodeClock(e.Body)
	case LotOpened:
		return DecodeLotDraw(e.Body)
	case LotJudged:
		return DecodeLotJudgement(e.Body)
	case SupplierResumed:
		return DecodeSupplierResumption(e.Body)
	case OrderDrawn:
		return DecodeTestOrder(e.Body)
	}
	return nil, fmt.Errorf("entry %d: kind %q: %w", e.Seq, e.Kind, ErrKind)
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
