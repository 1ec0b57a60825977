package guard

// The passphrase is kept as an argon2id hash in the customary text form ($argon2id$v=19$m=…,t=…,p=…$salt$hash).

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
)

// The second recommended option of RFC 9106, section 4: 3 passes over 64 MiB in 4 lanes, 128 bits of salt, 256 bits of hash. The first
// one takes 2 GiB, too much for the laptop at a bench.
const (
	passes   = 3
	memory   = 64 << 10 // KiB
	lanes    = 4
	saltSize = 16 // bytes
	hashSize = 32 // bytes
)

const (
	// shortest is the length in characters that NIST SP 800-63B-4 (2025), section 3.1.1, asks of a password that stands alone.
	shortest = 15
	longest  = 1024 // bytes; nobody types more
)

// HashPassphrase makes the text that Config.Hash takes. It refuses a passphrase that is too short.
func HashPassphrase(p string) (string, error) {
	switch {
	case !utf8.ValidString(p):
		return "", errors.New("the passphrase is not written in UTF-8: use another keyboard setting")
	case utf8.RuneCountInString(p) < shortest:
		return "", fmt.Errorf("the passphrase has %d characters and needs %d: take three or four words that do not belong together",
			utf8.RuneCountInString(p), shortest)
	case len(p) > longest:
		return "", fmt.Errorf("the passphrase is longer than %d bytes: take a shorter one", longest)
	}
	salt := make([]byte, saltSize)
	_, _ = rand.Read(salt) // never fails (crypto/rand)
	sum := argon2.IDKey([]byte(p), salt, passes, memory, lanes, hashSize)
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memory, passes, lanes,
		base64.RawStdEncoding.EncodeToString(salt), base64.RawStdEncoding.EncodeToString(sum)), nil
}

type passHash struct {
	memory, passes uint32
	lanes          uint8
	salt, sum      []byte
}

// parseHash reads the text form; parameters are bounded so that a damaged file cannot ask for all memory or all day.
func parseHash(s string) (*passHash, error) {
	f := strings.Split(s, "$")
	if len(f) != 6 || f[0] != "" || f[1] != "argon2id" || f[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return nil, errors.New("it is no argon2id hash")
	}
	var m, t, p uint32
	if _, err := fmt.Sscanf(f[3], "m=%d,t=%d,p=%d", &m, &t, &p); err != nil || f[3] != fmt.Sprintf("m=%d,t=%d,p=%d", m, t, p) {
		return nil, errors.New("its parameters are damaged")
	}
	if p < 1 || p > 16 || t < 1 || t > 16 || m < 8*p || m > 1<<20 {
		return nil, errors.New("its parameters are out of bounds")
	}
	salt, err := base64.RawStdEncoding.Strict().DecodeString(f[4])
	if err != nil || len(salt) < 8 || len(salt) > 64 {
		return nil, errors.New("its salt is damaged")
	}
	sum, err := base64.RawStdEncoding.Strict().DecodeString(f[5])
	if err != nil || len(sum) < 16 || len(sum) > 64 {
		return nil, errors.New("its hash is damaged")
	}
	return &passHash{memory: m, passes: t, lanes: uint8(p), salt: salt, sum: sum}, nil
}

// matches takes the same time for every wrong passphrase of a sensible length.
func (h *passHash) matches(p string) bool {
	if len(p) > longest {
		return false
	}
	sum := argon2.IDKey([]byte(p), h.salt, h.passes, h.memory, h.lanes, uint32(len(h.sum)))
	return subtle.ConstantTimeCompare(sum, h.sum) == 1
}

// passphraseFile lies in the data folder.
const passphraseFile = "passphrase"

// SavePassphrase stores the passphrase's hash in the data folder, readable by its owner only.
func SavePassphrase(dir, p string) error {
	h, err := HashPassphrase(p)
	if err != nil {
		return err
	}
	return writePrivate(filepath.Join(dir, passphraseFile), []byte(h+"\n"))
}

// LoadPassphrase reads the hash that SavePassphrase stored. Without one the error is os.ErrNotExist.
func LoadPassphrase(dir string) (string, error) {
	b, err := os.ReadFile(filepath.Join(dir, passphraseFile))
	if err != nil {
		return "", err
	}
	return strings.TrimSpace(string(b)), nil
}

// writePrivate writes a whole file or none, readable by its owner only.
func writePrivate(name string, b []byte) (err error) {
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".new-*") // made with mode 0600
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(b); err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	return err
}
