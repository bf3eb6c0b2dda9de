package server

import (
	"context"
	"crypto/rand"
	_ "embed"
	"errors"
	"math/big"
	"net"
	"net/http"
	"net/netip"
	"runtime"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"golang.org/x/text/unicode/norm"
	"golang.org/x/time/rate"

	"rollingboil/server/store"
)

// Passwords as the OWASP Application Security Verification Standard 5.0 asks, V6.2:
// long enough, no rules about which signs, common ones refused, and pasting works.
const (
	passwordLeast = 10
	passwordMost  = 200 // so that hashing a page of text does not hold up the others
)

// hashing is argon2id as the OWASP Password Storage Cheat Sheet gives it at the least:
// 19 MiB, two passes, one lane.
var hashing = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

//go:embed common_passwords.txt
var commonPasswordFile string

//go:embed code_words.txt
var codeWordFile string

var commonPasswords = sync.OnceValue(func() map[string]bool {
	common := map[string]bool{}
	for line := range strings.Lines(commonPasswordFile) {
		if line = strings.TrimSpace(line); !strings.HasPrefix(line, "#") {
			common[line] = true
		}
	}
	return common
})

var codeWords = sync.OnceValue(func() []string { return strings.Fields(codeWordFile) })

// wrongPassword says what is amiss with a new password, "" if nothing is.
func wrongPassword(password, name string) string {
	n := length(password)
	folded := store.KnownAs(password)
	bare := strings.TrimFunc(folded, func(r rune) bool { return !unicode.IsLetter(r) })
	known := store.KnownAs(name)
	switch {
	case !utf8.ValidString(password):
		return "That could not be read as text. Type it again."
	case n < passwordLeast:
		return "Too short: at least 10 letters or signs. Three or four words that do not belong together are easy to keep in mind."
	case n > passwordMost:
		return "Too long: 200 letters or signs are the most."
	case commonPasswords()[folded], commonPasswords()[bare]:
		return "Many people use this one, so it is tried first by those who guess. Choose another."
	case oneSign(folded):
		return "One sign again and again is soon guessed. Choose another."
	case known != "" && (folded == known || bare == known || strings.ReplaceAll(folded, " ", "") == strings.ReplaceAll(known, " ", "")):
		return "That is your name. Choose another."
	case bare == "rolling boil", bare == "rollingboil", bare == "home canning", bare == "homecanning":
		return "That is what this course is about. Choose another."
	}
	return ""
}

// length is how many code points of a password count: those that are hashed.
func length(password string) int { return utf8.RuneCountInString(norm.NFKC.String(password)) }

// oneSign says whether a text is one sign again and again, or nothing but spaces.
func oneSign(text string) bool {
	first, _ := utf8.DecodeRuneInString(text)
	return strings.TrimLeft(text, string(first)) == ""
}

// newCode is words that are easy to read aloud: three of 362 are one of 47 million.
func newCode(words int) string {
	list := codeWords()
	code := make([]string, words)
	for i := range code {
		n, err := rand.Int(rand.Reader, big.NewInt(int64(len(list))))
		if err != nil {
			panic(err) // the system has no randomness: it never returns one
		}
		code[i] = list[n.Int64()]
	}
	return strings.Join(code, "-")
}

// readCode is a code as it is kept, however it was typed or heard.
func readCode(typed string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(norm.NFKC.String(typed)), func(r rune) bool { return !unicode.IsLetter(r) }), "-")
}

// hasher bounds how many passwords are hashed at once: each takes 19 MiB and a
// processor for a moment.
type hasher struct{ places chan struct{} }

func newHasher() hasher { return hasher{make(chan struct{}, max(1, runtime.GOMAXPROCS(0)))} }

func (h hasher) enter(ctx context.Context) error {
	select {
	case h.places <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (h hasher) hash(ctx context.Context, password string) (string, error) {
	if err := h.enter(ctx); err != nil {
		return "", err
	}
	defer func() { <-h.places }()
	return argon2id.CreateHash(norm.NFKC.String(password), hashing)
}

// nobody is a hash that no password has, compared with where there is no person, so
// that a wrong name takes as long as a wrong password.
var nobody = sync.OnceValues(func() (string, error) { return argon2id.CreateHash(rand.Text(), hashing) })

func (h hasher) matches(ctx context.Context, password, hash string) (bool, error) {
	if err := h.enter(ctx); err != nil {
		return false, err
	}
	defer func() { <-h.places }()
	if length(password) > passwordMost {
		return false, nil
	}
	if hash == "" {
		other, err := nobody()
		if err != nil {
			return false, err
		}
		_, err = argon2id.ComparePasswordAndHash(norm.NFKC.String(password), other)
		return false, err
	}
	return argon2id.ComparePasswordAndHash(norm.NFKC.String(password), hash)
}

// errTooMany means somebody tries too often. Nobody is ever locked out: waiting helps.
var errTooMany = errors.New("too many tries")

// tries slows down guessing, by name and by address. One who waits gets in.
type tries struct {
	mu   sync.Mutex
	by   map[string]*triesOf
	now  func() time.Time
	rate rate.Limit
	most int
}

type triesOf struct {
	limiter *rate.Limiter
	last    time.Time
}

// newTries allows most tries at once and one more every so often.
func newTries(now func() time.Time, every time.Duration, most int) *tries {
	return &tries{by: map[string]*triesOf{}, now: now, rate: rate.Every(every), most: most}
}

// allow counts a try. Whoever was not seen for long enough to have all tries again is
// forgotten, so that the list does not grow.
func (t *tries) allow(who string) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	full := time.Duration(float64(t.most) / float64(t.rate) * float64(time.Second))
	if len(t.by) > 10_000 {
		for who, of := range t.by {
			if now.Sub(of.last) > full {
				delete(t.by, who)
			}
		}
	}
	of := t.by[who]
	if of == nil {
		of = &triesOf{limiter: rate.NewLimiter(t.rate, t.most)}
		t.by[who] = of
	}
	of.last = now
	return of.limiter.AllowN(now, 1)
}

// from is the address a request comes from, without its port. Behind a proxy on the
// same machine it is the one that proxy names last; what a browser says itself stands
// before that. Of an IPv6 address it is the network: one household has all of it.
func from(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	address, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if address.IsLoopback() {
		list := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
		if behind, err := netip.ParseAddr(strings.TrimSpace(list[len(list)-1])); err == nil {
			address = behind
		}
	}
	if address = address.Unmap(); address.Is6() {
		return netip.PrefixFrom(address.WithZone(""), 64).Masked().String()
	}
	return address.String()
}
