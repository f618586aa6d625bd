package api_test

import (
	"errors"
	"fmt"
	"os/exec"
	"strings"
	"testing"
	"unicode/utf8"

	"wetdown/api"
	"wetdown/solver/outside"
)

// TestPassword_Reference has the reference program of argon2 (Debian package argon2,
// by the designers) hash the same, and compares the whole strings.
func TestPassword_Reference(t *testing.T) {
	program := outside.Find(t, "argon2", "argon2")
	for _, c := range []struct {
		password, salt  string
		memory, passes  uint32
		threads, length int
	}{
		{"correct horse battery", "0123456789abcdef", 19456, 2, 1, 32},
		{"grüße an die spritze", "sixteen bytes ok", 19456, 2, 1, 32},
		{" ~!@#$%^&*()_+`", "saltsalt", 65536, 3, 4, 24},
		{strings.Repeat("long ", 25), "another salt 16b", 8192, 1, 2, 64},
	} {
		cmd := exec.Command(program, c.salt, "-id", "-v", "13", "-e",
			"-k", fmt.Sprint(c.memory), "-t", fmt.Sprint(c.passes), "-p", fmt.Sprint(c.threads), "-l", fmt.Sprint(c.length))
		cmd.Stdin = strings.NewReader(c.password)
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		want := strings.TrimSpace(string(out))
		if got := api.HashWith(c.password, c.salt, c.memory, c.passes, uint8(c.threads), c.length); got != want {
			t.Errorf("%q: got  %s\nthe reference program writes %s", c.password, got, want)
		}
		if is, err := api.HashIs(want, c.password); err != nil || !is {
			t.Errorf("%s is not taken for the hash of %q: %v", want, c.password, err)
		}
		if is, err := api.HashIs(want, c.password+"x"); err != nil || is {
			t.Errorf("%s is taken for the hash of another password: %v", want, err)
		}
	}
}

// written by the program argon2, Debian 0~20171227-0.3+deb12u1:
// printf 'correct horse battery' | argon2 0123456789abcdef -id -t 2 -k 19456 -p 1 -l 32 -e
const written = "$argon2id$v=19$m=19456,t=2,p=1$MDEyMzQ1Njc4OWFiY2RlZg$69I7qCjDTsQwhQqFvpQJiqEI0lGQvxC84fXE0Ktxca4"

func TestPassword_Written(t *testing.T) {
	if is, err := api.HashIs(written, "correct horse battery"); err != nil || !is {
		t.Errorf("not taken: %v", err)
	}
	for _, text := range []string{
		"", "$", "$$$$$", strings.Replace(written, "argon2id", "argon2i", 1), strings.Replace(written, "v=19", "v=16", 1),
		strings.Replace(written, "m=19456", "m=019456", 1), strings.Replace(written, "m=19456", "m=4294967295", 1),
		strings.Replace(written, "t=2", "t=0", 1), strings.Replace(written, "t=2", "t=17", 1), strings.Replace(written, "p=1", "p=256", 1),
		strings.Replace(written, "m=19456,t=2", "t=2,m=19456", 1), strings.Replace(written, "m=19456", "m=7", 1),
		written + "=", written + "$", written[:len(written)-1] + "5", written + "\n", written[:80],
	} {
		if _, err := api.ParseHash(text); err == nil {
			t.Errorf("%q is taken for a hash", text)
		}
	}
}

// TestPassword_Cost keeps the cost of new hashes, and that of attempts for nobody, at
// what OWASP's Password Storage Cheat Sheet names for argon2id: 19 MiB, 2 passes, 1 thread.
func TestPassword_Cost(t *testing.T) {
	const want = "$argon2id$v=19$m=19456,t=2,p=1$"
	one, two := api.NewHash("correct horse battery"), api.NewHash("correct horse battery")
	if !strings.HasPrefix(one, want) || !strings.HasPrefix(api.Nobody, want) || len(one) != len(written) || len(api.Nobody) != len(written) {
		t.Errorf("hashes are of other costs or sizes: %s, nobody's %s", one, api.Nobody)
	}
	if one == two {
		t.Error("two hashes of one password have the same salt")
	}
}

// TestPassword_Forms takes one text typed in two ways for one password: the two
// sequences for é of Unicode Standard Annex 15, figure 3.
func TestPassword_Forms(t *testing.T) {
	if is, err := api.HashIs(api.NewHash("caf\u00e9 by the station"), "cafe\u0301 by the station"); err != nil || !is {
		t.Errorf("the decomposed form is another password: %v", err)
	}
}

// TestPassword_Rules are those of NIST SP 800-63B (revision 3), 5.1.1.2, with 12
// characters for its 8.
func TestPassword_Rules(t *testing.T) {
	for _, c := range []struct {
		password, says string // "": taken
	}{
		{"a dozen here", ""},
		{"elevenchars", "11 characters"},
		{strings.Repeat("é", 11), "11 characters"}, // characters, not bytes
		{"the pump panel hums", ""},
		{"消防車は赤いです、いつも!", ""},
		{"🚒🧯🪣🧑‍🚒🔥💦🚨 on time", ""},
		{"all lower case and no digit", ""},
		{strings.Repeat("pump panel ", 11) + "1234567", ""},
		{strings.Repeat("pump panel ", 11) + "12345678", "129 characters"},
		{"aaaaaaaaaaaaaaaa", "repeats"},
		{"121212121212", "repeats"},
		{"password1234", "tried first"},
		{"PassWord123456", "tried first"},
		{"Welcome12345", "tried first"},
		{"qwertyuiop123", "tried first"},
		{"1234567890123", "tried first"},
		{"passwordpassword", "tried first"},
		{"Summer2026!!", "tried first"},
		{"wetdown2026!", "tried first"},
		{"kim.lee.kim.lee", "login name"},
		{"Kim.Lee-2026", "login name"},
		{"kim.lee rides the tiller", ""},
		{"bad \xff bytes in here", "no text"},
		{"zero \x00 bytes in here", "no text"},
	} {
		err := api.CheckPassword(c.password, "kim.lee")
		switch {
		case c.says == "" && err != nil:
			t.Errorf("%q: %v", c.password, err)
		case c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)):
			t.Errorf("%q: got %v, want a problem that says %q", c.password, err, c.says)
		case err != nil && strings.Contains(err.Error(), c.password):
			t.Errorf("the problem quotes the password: %v", err)
		}
	}
}

func FuzzParseHash(f *testing.F) {
	f.Add(written)
	f.Add(api.Nobody)
	f.Add("$argon2id$v=19$m=8,t=1,p=1$c2FsdHNhbHQ$AAAAAAAAAAAAAAAAAAAAAA")
	f.Fuzz(func(t *testing.T, text string) {
		again, err := api.ParseHash(text)
		if err == nil && again != text {
			t.Errorf("%q is read as %q", text, again)
		}
	})
}

func FuzzCheckPassword(f *testing.F) {
	f.Add("the pump panel hums", "kim")
	f.Add("passwordpassword", "")
	f.Add("\xff\x00", "\xff")
	f.Fuzz(func(t *testing.T, password, login string) {
		err := api.CheckPassword(password, login)
		var p *api.Problem
		switch n := utf8.RuneCountInString(password); {
		case err == nil && (n < api.MinPassword || n > api.MaxPassword || !utf8.ValidString(password)):
			t.Errorf("%q is taken", password)
		case err != nil && (!errors.As(err, &p) || p.Kind != api.Invalid || p.Next == ""):
			t.Errorf("%q: %v", password, err)
		}
	})
}
