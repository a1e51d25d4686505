package page

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"math/big"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// The limits of pairing. A code has six digits and pairs one device; after five
// wrong tries there is a new one. From the third wrong try in a row on, the next
// has to wait, up to half a minute: whoever guesses without a pause gets 120 tries
// an hour, and is right within an hour once in 8,000. So that a guesser keeps nobody
// else out, the first try of an address need not wait, but for so many an hour: with
// addresses without end, a guesser is right within an hour once in 5,000.
const (
	codeDigits  = 6
	triesACode  = 5
	triesAtOnce = 2 // wrong ones before the first wait
	firstWait   = time.Second
	longestWait = 30 * time.Second
	firstsBurst = 20
	firstsRate  = 60. / 3600 // a second
	maxSessions = 64         // paired devices; the oldest goes
)

var (
	errWrong   = errors.New("that is not the code that the terminal shows now")
	errTooSoon = errors.New("too many wrong codes: wait half a minute, then try again")
)

// pairing lets devices in that have been shown a code.
type pairing struct {
	now   func() time.Time
	say   func(line string)
	tell  func(code string)
	shown atomic.Pointer[string] // the code as people read it out

	mu       sync.Mutex
	code     string
	tries    int // wrong ones with this code
	wrong    int // in a row
	next     time.Time
	firsts   bucket
	erred    map[netip.Addr]struct{} // who has been wrong; no more than maxPeers
	sessions [][sha256.Size]byte     // of the tokens, the oldest first
}

func newPairing(now func() time.Time, say, tell func(string)) *pairing {
	p := &pairing{now: now, say: say, tell: tell, firsts: bucket{rate: firstsRate, burst: firstsBurst}, erred: map[netip.Addr]struct{}{}}
	p.renew()
	return p
}

// renew makes a new code.
func (p *pairing) renew() {
	n, err := rand.Int(rand.Reader, big.NewInt(1e6))
	if err != nil {
		panic(err) // never: crypto/rand ends the program first
	}
	p.code, p.tries = fmt.Sprintf("%0*d", codeDigits, n), 0
	shown := p.code[:codeDigits/2] + " " + p.code[codeDigits/2:]
	p.shown.Store(&shown)
}

// current gives the code in two groups. It never waits, whoever is being paired.
func (p *pairing) current() string { return *p.shown.Load() }

// try spends a code, typed at an address, on a token for a session. It fails with
// errWrong or errTooSoon.
func (p *pairing) try(peer netip.Addr, typed string) (token string, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.now()
	if now.Before(p.next) && !p.isFirst(peer, now) {
		return "", errTooSoon
	}
	digits := strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' {
			return -1
		}
		return r
	}, typed)
	if subtle.ConstantTimeCompare([]byte(digits), []byte(p.code)) != 1 {
		p.miss(peer, now)
		return "", errWrong
	}
	p.wrong = 0
	delete(p.erred, peer)
	token = rand.Text()
	p.sessions = append(p.sessions, sha256.Sum256([]byte(token)))
	if len(p.sessions) > maxSessions {
		p.sessions = p.sessions[1:]
	}
	p.say("page: a device has been paired")
	p.renew()
	p.tell(p.current())
	return token, nil
}

// isFirst reports whether a try may be looked at although it is too soon for others.
func (p *pairing) isFirst(peer netip.Addr, now time.Time) bool {
	_, erred := p.erred[peer]
	return !erred && len(p.erred) < maxPeers && p.firsts.take(now) == 0
}

// miss counts a wrong try.
func (p *pairing) miss(peer netip.Addr, now time.Time) {
	if len(p.erred) < maxPeers {
		p.erred[peer] = struct{}{}
	}
	p.tries++
	p.wrong++
	if late := p.wrong - triesAtOnce; late > 0 {
		wait := longestWait
		if late <= 5 { // 1, 2, 4, 8, 16 seconds
			wait = firstWait << (late - 1)
		}
		p.next = now.Add(wait)
	}
	if p.tries >= triesACode {
		p.say("page: too many wrong codes, so there is a new one")
		p.renew()
		p.tell(p.current())
	}
}

// knows reports whether a token is that of a paired device.
func (p *pairing) knows(token string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Contains(p.sessions, sha256.Sum256([]byte(token)))
}
