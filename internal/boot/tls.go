package boot

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fairstick/internal/fault"
)

// A laptop's certificate is made at the first start with --lan and kept for as long as it lasts, even when the laptop gets
// other addresses: phones warn about a certificate that a laptop made itself whatever stands in it, and what tells people
// that they have reached the right laptop is its fingerprint, which must not change between two fairs.
const (
	certificateYears = 2
	lastDay          = 24 * time.Hour // a certificate that ends within a day would end in the middle of one
)

// certificate reads the laptop's own certificate, or makes it when there is none or it is about to end.
func certificate(dir string) (cert tls.Certificate, fingerprint string, err error) {
	file := filepath.Join(dir, "lan-certificate.pem")
	data, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		data, err = makeCertificate(file)
	}
	if err != nil {
		return cert, "", certificateFault(file, err)
	}
	cert, err = tls.X509KeyPair(data, data)
	if err != nil {
		return cert, "", certificateFault(file, err)
	}
	leaf, err := x509.ParseCertificate(cert.Certificate[0])
	if err != nil {
		return cert, "", certificateFault(file, err)
	}
	if time.Now().Add(lastDay).After(leaf.NotAfter) {
		if err := os.Remove(file); err != nil {
			return cert, "", certificateFault(file, err)
		}
		return certificate(dir)
	}
	sum := sha256.Sum256(cert.Certificate[0])
	return cert, spaced(hex.EncodeToString(sum[:])), nil
}

func certificateFault(file string, err error) error {
	return fault.New(fault.Unusable, "lan-certificate", "The certificate "+filepath.Base(file)+" cannot be used.",
		"Phones are served only over an encrypted connection.", "Move that file away; a new one is made at the next start.").Because(err)
}

// spaced writes a fingerprint in groups of four, to be compared by eye.
func spaced(h string) string {
	var b strings.Builder
	for i := 0; i < len(h); i += 4 {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(h[i:min(i+4, len(h))])
	}
	return b.String()
}

func makeCertificate(file string) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return nil, err
	}
	now := time.Now()
	t := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "Fairstick on this laptop"}, NotBefore: now.Add(-time.Hour),
		NotAfter: now.AddDate(certificateYears, 0, 0), KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: []string{"localhost"}, IPAddresses: certificateAddresses(), BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, &key.PublicKey, key)
	if err != nil {
		return nil, err
	}
	raw, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	data := append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw})...)
	tmp, err := os.CreateTemp(filepath.Dir(file), "lan-*.tmp") // for its owner alone, by its contract
	if err != nil {
		return nil, err
	}
	_, err = tmp.Write(data)
	if err = errors.Join(err, tmp.Sync(), tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), file)
	}
	if err != nil {
		return nil, errors.Join(err, os.Remove(tmp.Name()))
	}
	return data, nil
}

// certificateAddresses are the numbers that stand in the certificate.
func certificateAddresses() []net.IP {
	out := []net.IP{net.IPv4(127, 0, 0, 1), net.IPv6loopback}
	for _, a := range ownAddrs() {
		if !publicAddr(a) {
			out = append(out, a.AsSlice())
		}
	}
	return out
}

func tlsConfig(cert tls.Certificate) *tls.Config {
	return &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12}
}
