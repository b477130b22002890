package record

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"

	"github.com/gowebpki/jcs"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func unhex(t testing.TB, text string) []byte {
	t.Helper()
	data, err := hex.DecodeString(text)
	require.NoError(t, err)
	return data
}

// RFC 8032, 7.1, tests 1 to 3: secret key, public key, message, signature.
func TestVectorsOfRFC8032(t *testing.T) {
	for _, c := range []struct{ name, secret, public, message, signature string }{
		{
			"test 1",
			"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
			"d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
			"",
			"e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
		},
		{
			"test 2",
			"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
			"3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
			"72",
			"92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
		},
		{
			"test 3",
			"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
			"fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
			"af82",
			"6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			key, err := GenerateKey(bytes.NewReader(unhex(t, c.secret)))
			require.NoError(t, err)
			require.Equal(t, c.public, hex.EncodeToString(Public(key)))
			require.Equal(t, c.signature, hex.EncodeToString(ed25519.Sign(key, unhex(t, c.message))))
		})
	}
}

// Hash and signature are what the published schema says, worked out here from
// the stored text alone.
func TestHashAndSignatureFromTheStoredText(t *testing.T) {
	key := sampleKey(t)
	for i, data := range sampleChain(t) {
		canonicalForm, err := jcs.Transform(data)
		require.NoError(t, err)
		require.Equal(t, string(canonicalForm), string(data), "stored in canonical form")

		var members map[string]json.RawMessage
		require.NoError(t, json.Unmarshal(data, &members))
		var hash, signature string
		require.NoError(t, json.Unmarshal(members["hash"], &hash))
		require.NoError(t, json.Unmarshal(members["signature"], &signature))
		delete(members, "hash")
		delete(members, "signature")
		rest, err := json.Marshal(members)
		require.NoError(t, err)
		signed, err := jcs.Transform(rest)
		require.NoError(t, err)

		sum := sha256.Sum256(signed)
		require.Equal(t, hex.EncodeToString(sum[:]), hash, "entry %d", i+1)
		require.True(t, ed25519.Verify(Public(key), signed, unhex(t, signature)), "entry %d", i+1)
	}
}

func TestSealLinksAndRepeats(t *testing.T) {
	key := sampleKey(t)
	first, err := Seal(nil, sampleOpening(), key)
	require.NoError(t, err)
	require.EqualValues(t, 1, first.Seq)
	require.Equal(t, Genesis, first.Previous)
	require.Equal(t, RunOpened, first.Kind)
	second, err := Seal(&first, sampleRun(), key)
	require.NoError(t, err)
	require.EqualValues(t, 2, second.Seq)
	require.Equal(t, first.Hash, second.Previous)
	require.Equal(t, RunClosed, second.Kind)
	require.NoError(t, second.Verify(Public(key)))

	again, err := Seal(&first, sampleRun(), key)
	require.NoError(t, err)
	require.Equal(t, second.Bytes(), again.Bytes(), "same inputs, same bytes")
}

func TestSealRefuses(t *testing.T) {
	_, err := Seal(nil, sampleOpening(), nil)
	require.ErrorIs(t, err, ErrKey)
	bad := sampleRun()
	bad.Verdict = "well"
	_, err = Seal(nil, bad, sampleKey(t))
	require.ErrorIs(t, err, ErrInvalid)
	require.ErrorContains(t, err, "run closed")
}

func TestDocumentOfAnEntry(t *testing.T) {
	chain := sampleChain(t)
	for i, want := range []Kind{RunOpened, RunClosed, RunOpened, RunInterrupted} {
		e, err := DecodeEntry(chain[i])
		require.NoError(t, err)
		doc, err := e.Document()
		require.NoError(t, err)
		require.Equal(t, want, doc.Kind())
	}
	e, err := DecodeEntry(chain[0])
	require.NoError(t, err)
	e.Kind = "tea break"
	_, err = e.Document()
	require.ErrorIs(t, err, ErrKind)
}

func TestDecodeEntryRefuses(t *testing.T) {
	text := string(sampleChain(t)[0])
	for name, c := range map[string]struct {
		from, to string
		cause    error
	}{
		"later schema":        {EntrySchema, "sinkproof-entry/2", ErrSchema},
		"number 0":            {`"seq":1}`, `"seq":0}`, ErrForm},
		"space":               {`"seq":1`, `"seq": 1`, ErrForm},
		"short signature":     {`"signature":"`, `"signature":"00`, ErrForm},
		"signature not hex":   {`"signature":"`, `"signature":"zz`, ErrForm},
		"hash in capitals":    {`"previous":"0`, `"previous":"A`, ErrForm},
		"short key":           {`"key":"`, `"key":"0`, ErrForm},
		"kind with a quote":   {`"kind":"run opened"`, `"kind":"run \"opened"`, ErrForm},
		"member added":        {`"seq":1`, `"seq":1,"size":2`, ErrForm},
		"not JSON":            {`{`, `(`, ErrForm},
		"body in other order": {`"body":{"attempt":1,`, `"body":{ "attempt":1,`, ErrAltered},
	} {
		t.Run(name, func(t *testing.T) {
			changed := strings.Replace(text, c.from, c.to, 1)
			if name == "number 0" {
				changed = strings.Replace(text, `"seq":1`, `"seq":0`, 1)
			}
			require.NotEqual(t, text, changed)
			e, err := DecodeEntry([]byte(changed))
			if err == nil {
				err = e.Verify(Public(sampleKey(t)))
			}
			require.ErrorIs(t, err, c.cause)
		})
	}
}

func TestVerifyRefuses(t *testing.T) {
	key := sampleKey(t)
	other, err := GenerateKey(strings.NewReader(strings.Repeat("x", 32)))
	require.NoError(t, err)
	good, err := Seal(nil, sampleOpening(), key)
	require.NoError(t, err)
	require.NoError(t, good.Verify(Public(other), Public(key)), "one of several keys")

	foreign, err := Seal(nil, sampleOpening(), other)
	require.NoError(t, err)
	require.ErrorIs(t, foreign.Verify(Public(key)), ErrKey)
	require.ErrorIs(t, good.Verify(), ErrKey, "no key given")

	pretender := foreign
	pretender.Key = good.Key
	pretender.Hash = hashOf(pretender.signedForm())
	pretender.Signature = ed25519.Sign(other, pretender.signedForm())
	require.ErrorIs(t, pretender.Verify(Public(key)), ErrAltered, "another key under this key's id")

	loose := good
	loose.Body = append([]byte(" "), good.Body...)
	loose.Hash = hashOf(loose.signedForm())
	loose.Signature = ed25519.Sign(key, loose.signedForm())
	require.ErrorIs(t, loose.Verify(Public(key)), ErrForm, "signed, but not canonical")
}

// No byte of a stored entry can change unseen.
func TestAnyFlippedByteIsSeen(t *testing.T) {
	chain := sampleChain(t)
	key := Public(sampleKey(t))
	rapid.Check(t, func(t *rapid.T) {
		data := bytes.Clone(rapid.SampledFrom(chain).Draw(t, "entry"))
		at := rapid.IntRange(0, len(data)-1).Draw(t, "byte")
		data[at] ^= byte(rapid.IntRange(1, 255).Draw(t, "bits"))
		e, err := DecodeEntry(data)
		if err == nil {
			err = e.Verify(key)
		}
		require.Error(t, err)
	})
}

func FuzzDecodeEntry(f *testing.F) {
	for _, data := range append(sampleChain(f), sampleChain2(f)...) {
		f.Add(data)
	}
	f.Add([]byte(`{"schema":"sinkproof-entry/1","seq":1}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		e, err := DecodeEntry(data)
		if err != nil {
			return
		}
		require.Equal(t, string(data), string(e.Bytes()), "what is read is what would be written")
		if doc, err := e.Document(); err == nil {
			body, err := doc.encode()
			require.NoError(t, err)
			require.Equal(t, string(e.Body), string(body))
		}
	})
}

// One record encoded and signed, and what of it is the signature alone.
func BenchmarkSealRun(b *testing.B) {
	key, run := sampleKey(b), largeRun()
	e, err := Seal(nil, run, key)
	require.NoError(b, err)
	b.SetBytes(int64(len(e.Body)))
	for b.Loop() {
		if _, err := Seal(nil, run, key); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSignAlone(b *testing.B) {
	key := sampleKey(b)
	e, err := Seal(nil, largeRun(), key)
	require.NoError(b, err)
	signed := e.signedForm()
	b.SetBytes(int64(len(signed)))
	for b.Loop() {
		hashOf(signed)
		ed25519.Sign(key, signed)
	}
}

func BenchmarkVerifyEntry(b *testing.B) {
	key := sampleKey(b)
	e, err := Seal(nil, largeRun(), key)
	require.NoError(b, err)
	data := e.Bytes()
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		e, err := DecodeEntry(data)
		if err == nil {
			err = e.Verify(Public(key))
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}
