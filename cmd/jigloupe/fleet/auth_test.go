package fleet

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/nats-io/jwt/v2"
	"github.com/nats-io/nkeys"
)

func write(t *testing.T, dir, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// refused wants that options do not get in.
func refused(t *testing.T, what string, o Options) {
	t.Helper()
	a, err := Ask(context.Background(), o, program, func(string) {})
	if err == nil {
		a.Close()
		t.Errorf("let in %s", what)
	}
}

func TestTLS(t *testing.T) {
	dir := t.TempDir()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	about := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "shop"}, IsCA: true, BasicConstraintsValid: true,
		NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	cert, err := x509.CreateCertificate(rand.Reader, about, about, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	certFile := write(t, dir, "shop.crt", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert}))
	keyFile := write(t, dir, "shop.key", pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}))
	o := serveWith(t, &Server{Dir: t.TempDir(), Listen: "127.0.0.1:0", TLSCert: certFile, TLSKey: keyFile})
	refused(t, "without knowing the certificate", o)
	o.CA = certFile
	work(t, o, 1, readPhotos)
	wantAnswer(t, ask(t, o), dir, piece(t, dir, "A", "x"), "A:x")
}

func TestContext(t *testing.T) {
	o, dir, home := serve(t), t.TempDir(), t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", home)
	text, err := json.Marshal(map[string]string{"url": o.Server, "nkey": o.NKey})
	if err != nil {
		t.Fatal(err)
	}
	file := write(t, home, "nats/context/shop.json", text)
	for _, name := range []string{"shop", file} {
		o := Options{Server: name}
		work(t, o, 1, readPhotos)
		wantAnswer(t, ask(t, o), dir, piece(t, dir, "A", "x"), "A:x")
	}
	refused(t, "with a context that is not there", Options{Server: "shed"})
}

// Credentials as an operator hands them out: a signed statement about a user
// and the user's key, in one file.
func TestCredentials(t *testing.T) {
	dir := t.TempDir()
	pair := func(make func() (nkeys.KeyPair, error)) (nkeys.KeyPair, string) {
		p, err := make()
		if err != nil {
			t.Fatal(err)
		}
		public, err := p.PublicKey()
		if err != nil {
			t.Fatal(err)
		}
		return p, public
	}
	sign := func(c jwt.Claims, by nkeys.KeyPair) string {
		text, err := c.Encode(by)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	operator, operatorName := pair(nkeys.CreateOperator)
	account, accountName := pair(nkeys.CreateAccount)
	_, system := pair(nkeys.CreateAccount)
	user, userName := pair(nkeys.CreateUser)
	claims := jwt.NewAccountClaims(accountName)
	claims.Limits.JetStreamLimits = jwt.JetStreamLimits{MemoryStorage: -1, DiskStorage: -1, Streams: -1, Consumer: -1}
	config := fmt.Sprintf("listen: \"127.0.0.1:-1\"\njetstream { store_dir: %q }\noperator: %s\nsystem_account: %s\nresolver: MEMORY\nresolver_preload: { %s: %s, %s: %s }\n",
		filepath.Join(dir, "store"), sign(jwt.NewOperatorClaims(operatorName), operator), system,
		system, sign(jwt.NewAccountClaims(system), operator), accountName, sign(claims, operator))
	seed, err := user.Seed()
	if err != nil {
		t.Fatal(err)
	}
	creds, err := jwt.FormatUserConfig(sign(jwt.NewUserClaims(userName), account), seed)
	if err != nil {
		t.Fatal(err)
	}
	o := serveWith(t, &Server{Config: write(t, dir, "shop.conf", []byte(config))})
	o.NKey = ""
	refused(t, "without credentials", o)
	o.Creds = write(t, dir, "ana.creds", creds)
	work(t, o, 1, readPhotos)
	wantAnswer(t, ask(t, o), dir, piece(t, dir, "A", "x"), "A:x")
}

func TestServersThatCannotRun(t *testing.T) {
	dir := t.TempDir()
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	for what, s := range map[string]*Server{
		"a port that is taken": {Dir: dir, Listen: taken.Addr().String()},
		"no port":              {Dir: dir, Listen: "127.0.0.1"},
		"a key that is none":   {Dir: filepath.Dir(write(t, t.TempDir(), "fleet.nk", []byte("x"))), Listen: "127.0.0.1:0"},
		"no JetStream":         {Config: write(t, dir, "shop.conf", []byte("listen: \"127.0.0.1:-1\"\n"))},
		"no certificate":       {Dir: dir, Listen: "127.0.0.1:0", TLSCert: filepath.Join(dir, "none"), TLSKey: filepath.Join(dir, "none")},
	} {
		s.Say = func(string) {}
		if err := s.Run(context.Background(), func(string) { t.Errorf("%s: it runs", what) }); err == nil {
			t.Errorf("%s: no error", what)
		}
	}
}
