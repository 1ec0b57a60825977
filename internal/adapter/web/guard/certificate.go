package guard

// TLS: the user's own certificate, or a self-made one that is kept in the data folder so that the tablet has to be told only once.

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// tlsFile holds certificate and key together, so that there is never one without the other.
const tlsFile = "tls.pem"

const (
	certificateLife = 800 * 24 * time.Hour // tablets of one maker take no more than 825 days (their published rule of 2019)
	renewBefore     = 30 * 24 * time.Hour
)

// readCertificate loads, or makes, what TLS needs. Without LAN and without own files there is no TLS: the machine talks to itself.
func (g *Guard) readCertificate() error {
	c := g.cfg
	if c.CertFile != "" {
		cert, err := tls.LoadX509KeyPair(c.CertFile, c.KeyFile)
		if err != nil {
			return fmt.Errorf("the certificate %s with the key %s cannot be used (%w): check both files, or leave --cert and --key away",
				c.CertFile, c.KeyFile, err)
		}
		g.cert = &cert
		return nil
	}
	if !c.LAN {
		return nil
	}
	name := filepath.Join(c.Dir, tlsFile)
	cert, err := loadOwn(name, c.Now())
	if errors.Is(err, os.ErrNotExist) || errors.Is(err, errRunOut) {
		cert, err = makeOwn(name, c)
	}
	if err != nil {
		return fmt.Errorf("the self-made certificate %s: %w", name, err)
	}
	g.cert, g.selfMade = cert, true
	return nil
}

var errRunOut = errors.New("it has run out")

func loadOwn(name string, now time.Time) (*tls.Certificate, error) {
	b, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	cert, err := tls.X509KeyPair(b, b)
	if err != nil {
		return nil, fmt.Errorf("it is damaged (%w): delete the file and a new one is made, which the tablet then asks about again", err)
	}
	if err := os.Chmod(name, 0o600); err != nil { // someone may have copied the folder with wider rights
		return nil, err
	}
	if now.Add(renewBefore).After(cert.Leaf.NotAfter) {
		return nil, errRunOut
	}
	return &cert, nil
}

func makeOwn(name string, c Config) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return nil, err
	}
	now := c.Now()
	t := &x509.Certificate{
		SerialNumber: serial,
		Subject:      pkix.Name{CommonName: "halfsplit on this bench"},
		NotBefore:    now.Add(-24 * time.Hour), // the tablet's clock may be behind
		NotAfter:     now.Add(certificateLife),
		KeyUsage:     x509.KeyUsageDigitalSignature,
		ExtKeyUsage:  []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	for h := range knownHosts(c) {
		if a, err := netip.ParseAddr(h); err == nil {
			t.IPAddresses = append(t.IPAddresses, a.AsSlice())
			continue
		}
		t.DNSNames = append(t.DNSNames, h)
	}
	slices.Sort(t.DNSNames)
	for _, a := range append(lanAddresses(), netip.MustParseAddr("127.0.0.1"), netip.IPv6Loopback()) {
		t.IPAddresses = append(t.IPAddresses, net.IP(a.AsSlice()))
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, key.Public(), key)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	_ = pem.Encode(&b, &pem.Block{Type: "CERTIFICATE", Bytes: der}) // a Buffer takes everything
	_ = pem.Encode(&b, &pem.Block{Type: "PRIVATE KEY", Bytes: secret})
	if err := writePrivate(name, b.Bytes()); err != nil {
		return nil, err
	}
	cert, err := tls.X509KeyPair(b.Bytes(), b.Bytes())
	return &cert, err
}

// lanAddresses are this machine's addresses that others can reach, in the system's order.
func lanAddresses() []netip.Addr {
	var out []netip.Addr
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil // the page is still reached by name
	}
	for _, one := range all {
		p, err := netip.ParsePrefix(one.String())
		if err != nil {
			continue
		}
		if a := p.Addr().Unmap(); !a.IsLoopback() && !a.IsLinkLocalUnicast() {
			out = append(out, a)
		}
	}
	return out
}

// Fingerprint is the SHA-256 sum of the certificate as browsers show it, to be compared on the tablet; empty without TLS.
func (g *Guard) Fingerprint() string {
	if g.cert == nil {
		return ""
	}
	sum := sha256.Sum256(g.cert.Certificate[0])
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(pairs, ":")
}
