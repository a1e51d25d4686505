package page

import (
	"errors"
	"net/netip"
	"regexp"
	"slices"
	"testing"
	"time"
)

// lobby is a pairing with a clock of its own.
type lobby struct {
	*pairing
	at          time.Time
	said, codes []string
}

func newLobby() *lobby {
	l := &lobby{at: time.Unix(0, 0)}
	l.pairing = newPairing(func() time.Time { return l.at }, func(s string) { l.said = append(l.said, s) }, func(s string) { l.codes = append(l.codes, s) })
	return l
}

// phone is the address that tries unless another is told.
var phone = netip.MustParseAddr("192.168.1.30")

func (l *lobby) try(typed string) (string, error) { return l.pairing.try(phone, typed) }

// wrong gives a code that is not the right one.
func (l *lobby) wrong() string {
	if l.code == "123456" {
		return "123457"
	}
	return "123456"
}

func TestACodePairsOneDevice(t *testing.T) {
	l := newLobby()
	first := l.current()
	if !regexp.MustCompile(`^\d{3} \d{3}$`).MatchString(first) {
		t.Errorf("the code is %q", first)
	}
	token, err := l.try(first)
	if err != nil || len(token) < 26 { // 26 characters of 5 bits
		t.Fatalf("%q, %v", token, err)
	}
	if !l.knows(token) || l.knows("") || l.knows(first) || l.knows(token[1:]) {
		t.Error("it knows the wrong ones")
	}
	if again, err := l.try(first); !errors.Is(err, errWrong) || again != "" {
		t.Errorf("the same code again: %q, %v", again, err)
	}
	if want := []string{l.current()}; !slices.Equal(l.codes, want) || l.current() == first {
		t.Errorf("codes told: %q, want %q", l.codes, want)
	}
	other, err := l.try(l.code[:3] + "-" + l.code[3:]) // however it is written
	if err != nil || other == token || !l.knows(token) || !l.knows(other) {
		t.Errorf("a second device: %q, %v", other, err)
	}
}

// TestWrongCodesMeanAWaitAndANewCode, step by step.
func TestWrongCodesMeanAWaitAndANewCode(t *testing.T) {
	l := newLobby()
	code := l.code
	for i, c := range []struct {
		after time.Duration // since the step before
		right bool
		want  error
		fresh bool // a new code
	}{
		{0, false, errWrong, false},
		{0, false, errWrong, false},
		{0, false, errWrong, false}, // from here on it waits: 1 s
		{0, true, errTooSoon, false},
		{-time.Hour, true, errTooSoon, false}, // a clock that goes back
		{time.Hour + time.Second - 1, true, errTooSoon, false},
		{1, false, errWrong, false}, // 2 s
		{2*time.Second - 1, true, errTooSoon, false},
		{1, false, errWrong, true}, // the fifth; 4 s
		{4 * time.Second, false, errWrong, false},
		{8 * time.Second, false, errWrong, false},
		{16 * time.Second, false, errWrong, false}, // 30 s
		{30*time.Second - 1, true, errTooSoon, false},
		{1, true, nil, true},
		{0, false, errWrong, false}, // two for nothing again
		{0, false, errWrong, false},
		{0, true, nil, true},
	} {
		l.at = l.at.Add(c.after)
		typed := l.wrong()
		if c.right {
			typed = l.code
		}
		token, err := l.try(typed)
		if !errors.Is(err, c.want) || (token != "") != (c.want == nil) {
			t.Errorf("step %d: %q, %v, want %v", i, token, err, c.want)
		}
		if fresh := l.code != code; fresh != c.fresh {
			t.Errorf("step %d: a new code: %v, want %v", i, fresh, c.fresh)
		}
		code = l.code
	}
	want := []string{"page: too many wrong codes, so there is a new one", "page: a device has been paired", "page: a device has been paired"}
	if !slices.Equal(l.said, want) || len(l.codes) != 3 {
		t.Errorf("said %q and %d codes", l.said, len(l.codes))
	}
}

// TestAnHourOfGuessing is as many tries as the limits say, however fast they come.
func TestAnHourOfGuessing(t *testing.T) {
	l := newLobby()
	looked := 0
	for end := l.at.Add(time.Hour); l.at.Before(end); l.at = l.at.Add(50 * time.Millisecond) {
		if _, err := l.try(l.wrong()); errors.Is(err, errWrong) {
			looked++
		}
	}
	if looked > 130 {
		t.Errorf("%d codes looked at in an hour, want about 120", looked)
	}
	if looked < 100 {
		t.Errorf("%d codes looked at in an hour: nobody could pair", looked)
	}
}

// TestAnHourOfGuessingFromEverywhere, each time by another address, is not much more.
func TestAnHourOfGuessingFromEverywhere(t *testing.T) {
	l := newLobby()
	looked, peer := 0, netip.MustParseAddr("10.0.0.1")
	for end := l.at.Add(time.Hour); l.at.Before(end); l.at = l.at.Add(50 * time.Millisecond) {
		if _, err := l.pairing.try(peer, l.wrong()); errors.Is(err, errWrong) {
			looked++
		}
		peer = peer.Next()
	}
	if looked > 210 || len(l.erred) > maxPeers {
		t.Errorf("%d codes looked at in an hour, want about 200; %d addresses kept", looked, len(l.erred))
	}
}

// TestAGuesserKeepsNobodyElseOut: while one tries without a pause, the right code of
// another is taken at once, and a wrong one makes that wait too.
func TestAGuesserKeepsNobodyElseOut(t *testing.T) {
	l := newLobby()
	tablet, other := netip.MustParseAddr("192.168.1.40"), netip.MustParseAddr("192.168.1.41")
	for range 10 * 60 * 20 { // ten minutes
		_, _ = l.try(l.wrong())
		l.at = l.at.Add(50 * time.Millisecond)
	}
	if !l.at.Before(l.next) {
		t.Fatal("nobody has to wait")
	}
	if _, err := l.pairing.try(other, l.wrong()); !errors.Is(err, errWrong) {
		t.Errorf("a first try: %v", err)
	}
	if _, err := l.pairing.try(other, l.code); !errors.Is(err, errTooSoon) {
		t.Errorf("a second try at once: %v", err)
	}
	if token, err := l.pairing.try(tablet, l.code); err != nil || !l.knows(token) {
		t.Errorf("the right code: %v", err)
	}
}

func TestTheOldestDeviceGoes(t *testing.T) {
	l := newLobby()
	var tokens []string
	for range maxSessions + 1 {
		token, err := l.try(l.code)
		if err != nil {
			t.Fatal(err)
		}
		tokens = append(tokens, token)
	}
	if l.knows(tokens[0]) || !l.knows(tokens[1]) || !l.knows(tokens[maxSessions]) {
		t.Error("not the oldest device has gone")
	}
}

// TestCodesAreAllOverTheirRange: 6,000 codes fall into each tenth of the range
// about equally often (600, of a standard deviation of 23).
func TestCodesAreAllOverTheirRange(t *testing.T) {
	l := newLobby()
	var tenths [10]int
	for range 6000 {
		l.renew()
		tenths[l.code[0]-'0']++
	}
	for i, n := range tenths {
		if n < 450 || n > 750 {
			t.Errorf("%d codes begin with %d", n, i)
		}
	}
}

func FuzzPairing(f *testing.F) {
	for _, s := range []string{"", "000000", "123 456", "------", "１２３４５６", "1234567", "\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		l := newLobby()
		l.code = "not to be typed" // six digits are never this
		if token, err := l.try(typed); err == nil || token != "" {
			t.Errorf("%q lets in", typed)
		}
	})
}
