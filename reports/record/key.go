package record

import (
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// ErrKeyFile is the cause when a file does not hold the key it should.
var ErrKeyFile = errors.New("not an Ed25519 key in PEM")

// GenerateKey makes a key from 32 bytes of the given randomness: crypto/rand
// on a bench, a seeded stream on the twin. The seed is used as it is (RFC
// 8032, 5.1.5), so that the same stream gives the same key.
func GenerateKey(random io.Reader) (ed25519.PrivateKey, error) {
	seed := make([]byte, ed25519.SeedSize)
	if _, err := io.ReadFull(random, seed); err != nil {
		return nil, fmt.Errorf("key: generate: read randomness: %w", err)
	}
	return ed25519.NewKeyFromSeed(seed), nil
}

// Public returns the public half of a key.
func Public(key ed25519.PrivateKey) ed25519.PublicKey {
	public, _ := key.Public().(ed25519.PublicKey)
	return public
}

// KeyID names a public key: the first 16 bytes of its SHA-256, in lower-case
// hexadecimal. It helps to find the key; the signature proves it.
func KeyID(key ed25519.PublicKey) string {
	sum := sha256.Sum256(key)
	return hex.EncodeToString(sum[:16])
}

// SaveKey writes a private key as PKCS #8 in PEM, readable by its owner only.
// It never replaces a file, since with its key a bench would lose the right
// to continue its chain; it wraps fs.ErrExist then.
func SaveKey(path string, key ed25519.PrivateKey) error {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("key: save %s: %w", path, fs.ErrExist)
	}
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return fmt.Errorf("key: save %s: %w", path, err)
	}
	return WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), 0o600)
}

// SavePublicKey writes a public key as PKIX in PEM, for those who verify.
func SavePublicKey(path string, key ed25519.PublicKey) error {
	der, err := x509.MarshalPKIXPublicKey(key)
	if err != nil {
		return fmt.Errorf("key: save %s: %w", path, err)
	}
	return WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der}), 0o644)
}

// LoadKey reads a private key that SaveKey wrote. It wraps ErrKeyFile when
// the file holds something else.
func LoadKey(path string) (ed25519.PrivateKey, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("key: load: %w", err)
	}
	key, err := ParseKey(data)
	if err != nil {
		return nil, fmt.Errorf("key: load %s: %w", path, err)
	}
	return key, nil
}

// LoadPublicKey reads a public key that SavePublicKey wrote, or takes the
// public half of a private key's file.
func LoadPublicKey(path string) (ed25519.PublicKey, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("key: load: %w", err)
	}
	key, err := ParsePublicKey(data)
	if err != nil {
		return nil, fmt.Errorf("key: load %s: %w", path, err)
	}
	return key, nil
}

// ParseKey reads a private key in PEM. It wraps ErrKeyFile.
func ParseKey(data []byte) (ed25519.PrivateKey, error) {
	block, _ := pem.Decode(data)
	if block == nil || block.Type != "PRIVATE KEY" {
		return nil, fmt.Errorf("no block PRIVATE KEY: %w", ErrKeyFile)
	}
	parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrKeyFile, err)
	}
	key, ok := parsed.(ed25519.PrivateKey)
	if !ok {
		return nil, fmt.Errorf("holds a %T: %w", parsed, ErrKeyFile)
	}
	return key, nil
}

// ParsePublicKey reads a public key in PEM, or the public half of a private
// one. It wraps ErrKeyFile.
func ParsePublicKey(data []byte) (ed25519.PublicKey, error) {
	block, _ := pem.Decode(data)
	if block == nil || block.Type != "PUBLIC KEY" {
		key, err := ParseKey(data)
		if err != nil {
			return nil, fmt.Errorf("neither PUBLIC KEY nor private one: %w", err)
		}
		return Public(key), nil
	}
	parsed, err := x509.ParsePKIXPublicKey(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrKeyFile, err)
	}
	key, ok := parsed.(ed25519.PublicKey)
	if !ok {
		return nil, fmt.Errorf("holds a %T: %w", parsed, ErrKeyFile)
	}
	return key, nil
}
