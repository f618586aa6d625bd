package api

import (
	"cmp"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// Lengths of a password, in characters (Unicode code points).
//
// What a password must be follows NIST SP 800-63B (revision 3, 2017), 5.1.1.2: a least
// length and a generous most, every printable character and the space, NFKC, nothing
// about kinds of characters, no change by the calendar, and a list of words that are
// tried first. That revision asks for 8 characters; revision 4 (2025), 3.1.1.2, for 15
// where nothing but the password is asked. 12 lies between them.
const (
	MinPassword = 12
	MaxPassword = 128
)

// common are pieces of which the passwords that are tried first are put together, the
// longest first (from memory, of lists that were published after break-ins).
var common = func() []string {
	list := strings.Fields(`
		1234567890 0123456789 0987654321 9876543210 123456789 987654321 12345678 87654321 1234567 7654321 123456 654321
		12345 54321 1234 4321 123 321 111111 000000 112233 121212 123123 1q2w3e4r5t 1q2w3e4r 1q2w3e 1qaz2wsx q1w2e3r4t5 q1w2e3r4
		qwertyuiop qwertzuiop qwertyui qwerty qwertz azerty asdfghjkl asdfgh zxcvbnm zxcvbn abcdefghijkl abcdefgh abcdef
		abcd1234 abc123 password passw0rd p@ssword p@ssw0rd passwort passwd pass letmein welcome iloveyou loveyou admin
		administrator root login master secret changeme default trustno1 dragon monkey football baseball basketball
		superman batman sunshine princess shadow michael jennifer jordan charlie starwars whatever freedom ninja
		spring summer autumn winter firetruck wetdown 2023 2024 2025 2026 2027 2028`)
	slices.SortStableFunc(list, func(x, y string) int { return cmp.Compare(len(y), len(x)) })
	return list
}()

// leastOwn is how many characters a password must have beside common pieces and the
// login name, and leastUnlike how many different ones (common practice, no source).
const (
	leastOwn    = 6
	leastUnlike = 5
)

// checkPassword returns a problem with a password that is too easily guessed. It does
// not quote it.
func checkPassword(password, login string) error {
	refuse := func(detail, next string) error { return invalid("password", detail, next) }
	const better = "Take a sentence that only you would say, or have a password manager make one."
	n := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password) || strings.ContainsRune(password, 0):
		return refuse("The password has bytes that are no text.", "Send it as UTF-8, without zero bytes.")
	case n < MinPassword:
		return refuse(fmt.Sprintf("The password has %d characters; it takes at least %d.", n, MinPassword), better)
	case n > MaxPassword:
		return refuse(fmt.Sprintf("The password has %d characters; %d are taken.", n, MaxPassword), "Take a shorter one.")
	}
	own := strings.ToLower(norm.NFKC.String(password))
	unlike := map[rune]bool{}
	for _, r := range own {
		unlike[r] = true
	}
	if len(unlike) < leastUnlike {
		return refuse(fmt.Sprintf("The password repeats %d characters.", len(unlike)), better)
	}
	if len(login) > 2 {
		own = strings.ReplaceAll(own, login, "")
	}
	if utf8.RuneCountInString(own) < leastOwn {
		return refuse("The password is little more than the login name.", better)
	}
	for _, w := range common {
		own = strings.ReplaceAll(own, w, "")
	}
	if utf8.RuneCountInString(own) < leastOwn {
		return refuse("The password is one of those that are tried first: it is made of common words and runs.", better)
	}
	return nil
}

// A cost is what argon2id is to take for one password.
type cost struct {
	memory  uint32 // KiB
	passes  uint32
	threads uint8
}

// cost now: the least that OWASP's Password Storage Cheat Sheet names first for
// argon2id (19 MiB, two passes, one thread). When it is raised, passwords are hashed
// anew as their owners log in.
var costNow = cost{19 * 1024, 2, 1}

const (
	saltBytes = 16
	keyBytes  = 32
)

// A hash is what is kept of a password: argon2id (RFC 9106), version 1.3.
type hash struct {
	cost
	salt, key []byte
}

// hashed hashes a password with a salt.
func hashed(password string, c cost, salt []byte, length int) hash {
	text := []byte(norm.NFKC.String(password))
	return hash{c, salt, argon2.IDKey(text, salt, c.passes, c.memory, c.threads, uint32(length))}
}

// newHash hashes a password that is chosen now.
func newHash(password string) string {
	salt := make([]byte, saltBytes)
	rand.Read(salt)
	return hashed(password, costNow, salt, keyBytes).String()
}

// nobody is a hash that no password has, for attempts to log in where there is none:
// it takes the same work.
var nobody = hash{costNow, make([]byte, saltBytes), make([]byte, keyBytes)}.String()

// is reports whether a password has the hash, in a time that does not depend on how
// nearly it has.
func (h hash) is(password string) bool {
	return subtle.ConstantTimeCompare(hashed(password, h.cost, h.salt, len(h.key)).key, h.key) == 1
}

// String is the hash in the PHC string format, as the reference program of argon2
// writes it.
func (h hash) String() string {
	b := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.memory, h.passes, h.threads, b.EncodeToString(h.salt), b.EncodeToString(h.key))
}

// parseHash reads a hash in the one way in which String writes it. A cost that would
// stop the service is no hash.
func parseHash(text string) (h hash, err error) {
	none := fmt.Errorf("this is no argon2id hash that wetdown has written")
	part := strings.Split(text, "$")
	if len(part) != 6 {
		return h, none
	}
	var n [3]uint64
	costs := strings.Split(part[3], ",")
	if len(costs) != len(n) {
		return h, none
	}
	for i, most := range []uint64{1 << 20, 16, 16} {
		digits, ok := strings.CutPrefix(costs[i], []string{"m=", "t=", "p="}[i])
		if n[i], err = strconv.ParseUint(digits, 10, 32); !ok || err != nil || n[i] < 1 || n[i] > most {
			return h, none
		}
	}
	h.cost = cost{uint32(n[0]), uint32(n[1]), uint8(n[2])}
	b := base64.RawStdEncoding.Strict()
	var salt, key error
	h.salt, salt = b.DecodeString(part[4])
	h.key, key = b.DecodeString(part[5])
	switch {
	case salt != nil || len(h.salt) < 8 || len(h.salt) > 64,
		key != nil || len(h.key) < 16 || len(h.key) > 64,
		h.memory < 8*uint32(h.threads),
		h.String() != text:
		return hash{}, none
	}
	return h, nil
}
