package page

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/glance"
)

// hall is a server without a network, at an address.
func hall(t *testing.T, local string, control bool) *Server {
	t.Helper()
	s := &Server{config: Config{Control: control, Say: func(line string) { t.Log(line) }, NewCode: func(string) {}},
		models: newMailbox[glance.Model](), orders: make(chan gathering.Order, maxOrders), done: make(chan struct{})}
	s.rates.now, s.rates.rate, s.rates.burst = time.Now, requestsRate, requestsBurst
	if !strings.HasPrefix(local, "127.") {
		s.pairing = newPairing(time.Now, s.config.Say, s.config.NewCode)
	}
	return s
}

// ask sends a request that arrived at a local address.
func ask(s *Server, local, method, path, body string, header map[string]string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	address, err := net.ResolveTCPAddr("tcp", local)
	if err != nil {
		panic(err)
	}
	r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(address)))
	r.Host = local
	for k, v := range header {
		if k == "Host" {
			r.Host = v
		} else {
			r.Header.Set(k, v)
		}
	}
	w := httptest.NewRecorder()
	s.handler().ServeHTTP(w, r)
	return w
}

const (
	loopback = "127.0.0.1:62333"
	network  = "192.168.1.20:62333"
)

// TestHostileRequestsAreRefused: who comes by a foreign name, from a foreign site,
// with too much, or unpaired, gets nothing, and no order arrives.
func TestHostileRequestsAreRefused(t *testing.T) {
	own := map[string]string{"Origin": "http://" + loopback}
	form := func(code string) string { return url.Values{"code": {code}}.Encode() }
	for name, c := range map[string]struct {
		local, method, path, body string
		header                    map[string]string
		want                      int
	}{
		"a name pointed here":            {loopback, "GET", "/", "", map[string]string{"Host": "evil.example:62333"}, 421},
		"a name without a port":          {loopback, "GET", "/", "", map[string]string{"Host": "127.0.0.1"}, 421},
		"another port":                   {loopback, "GET", "/", "", map[string]string{"Host": "127.0.0.1:80"}, 421},
		"no name":                        {loopback, "GET", "/", "", map[string]string{"Host": ""}, 421},
		"localhost, but over a network":  {network, "GET", "/pair", "", map[string]string{"Host": "localhost:62333"}, 421},
		"another address of the network": {network, "GET", "/pair", "", map[string]string{"Host": "192.168.1.21:62333"}, 421},
		"events of a foreign site":       {loopback, "GET", "/events", "", map[string]string{"Origin": "http://evil.example"}, 403},
		"events of a page without one":   {loopback, "GET", "/events", "", map[string]string{"Origin": "null"}, 403},
		"a script of a foreign site":     {loopback, "GET", "/about", "", map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}, 403},
		"a frame in a foreign site":      {loopback, "GET", "/", "", map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}, 403},
		"another port's page":            {loopback, "GET", "/events", "", map[string]string{"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, 403},
		"an order of a foreign site":     {loopback, "POST", "/order", "step", map[string]string{"Origin": "http://evil.example"}, 403},
		"an order from nowhere":          {loopback, "POST", "/order", "step", nil, 403},
		"an order over https":            {loopback, "POST", "/order", "step", map[string]string{"Origin": "https://" + loopback}, 403},
		"an order of a form elsewhere":   {loopback, "POST", "/order", "step", map[string]string{"Origin": "http://" + loopback, "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}, 403},
		"a huge order":                   {loopback, "POST", "/order", strings.Repeat("step ", 1e6), own, 413},
		"an unknown order":               {loopback, "POST", "/order", "explode", own, 400},
		"no order":                       {loopback, "POST", "/order", "", own, 400},
		"nothing as an order":            {loopback, "POST", "/order", "nothing", own, 400},
		"two orders":                     {loopback, "POST", "/order", "step\nstep", own, 400},
		"an order by GET":                {loopback, "GET", "/order", "", nil, 405},
		"a way out of the folder":        {loopback, "GET", "/../server.go", "", nil, 307},
		"a file that is not there":       {loopback, "GET", "/pair.html", "", nil, 404},
		"a silly transposition":          {loopback, "GET", "/events?transpose=12", "", nil, 400},
		"unpaired, the page":             {network, "GET", "/", "", nil, 303},
		"unpaired, events":               {network, "GET", "/events", "", nil, 401},
		"unpaired, about":                {network, "GET", "/about", "", nil, 401},
		"unpaired, an order":             {network, "POST", "/order", "step", map[string]string{"Origin": "http://" + network}, 401},
		"a made-up cookie":               {network, "GET", "/events", "", map[string]string{"Cookie": "bedd-62333=AAAAAAAAAAAAAAAAAAAAAAAAAA"}, 401},
		"an empty cookie":                {network, "GET", "/events", "", map[string]string{"Cookie": "bedd-62333="}, 401},
		"a wrong code":                   {network, "POST", "/pair", form("x"), map[string]string{"Origin": "http://" + network, "Content-Type": "application/x-www-form-urlencoded"}, 403},
		"a code from a foreign site":     {network, "POST", "/pair", form("x"), map[string]string{"Origin": "http://evil.example", "Content-Type": "application/x-www-form-urlencoded"}, 403},
		"a huge code":                    {network, "POST", "/pair", form(strings.Repeat("1", 1e6)), map[string]string{"Origin": "http://" + network, "Content-Type": "application/x-www-form-urlencoded"}, 413},
		"a code in the address":          {network, "POST", "/pair?code=CODE", "", map[string]string{"Origin": "http://" + network, "Content-Type": "application/x-www-form-urlencoded"}, 403},
	} {
		s := hall(t, c.local, true)
		if s.pairing != nil {
			c.path = strings.ReplaceAll(c.path, "CODE", s.pairing.code)
		}
		w := ask(s, c.local, c.method, c.path, c.body, c.header)
		if w.Code != c.want {
			t.Errorf("%s: %d %q, want %d", name, w.Code, w.Body, c.want)
		}
		if len(w.Result().Cookies()) > 0 || strings.Contains(w.Body.String(), "data:") || len(s.orders) > 0 {
			t.Errorf("%s: something gets through", name)
		}
	}
}

// TestTheOwnPageGetsThrough by every name that this machine has.
func TestTheOwnPageGetsThrough(t *testing.T) {
	for _, c := range []struct{ local, host string }{
		{loopback, loopback}, {loopback, "localhost:62333"}, {"[::1]:62333", "[::1]:62333"}, {"[::ffff:127.0.0.1]:62333", loopback},
	} {
		s := hall(t, loopback, true)
		if w := ask(s, c.local, "GET", "/", "", map[string]string{"Host": c.host, "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}); w.Code != 200 {
			t.Errorf("%s at %s: %d %s", c.host, c.local, w.Code, w.Body)
		}
		if w := ask(s, c.local, "POST", "/order", "key-to Eb", map[string]string{"Host": c.host, "Origin": "http://" + c.host}); w.Code != 204 || (<-s.orders).String() != "key-to Eb" {
			t.Errorf("an order to %s: %d %s", c.host, w.Code, w.Body)
		}
	}
}

// TestPairingOverTheNetwork: the code is spent on a cookie that no script can read
// and no other site can send, and with it everything is open.
func TestPairingOverTheNetwork(t *testing.T) {
	s := hall(t, network, false)
	w := ask(s, network, "POST", "/pair", "code="+s.pairing.code, map[string]string{"Origin": "http://" + network, "Content-Type": "application/x-www-form-urlencoded"})
	cookies := w.Result().Cookies()
	if w.Code != 303 || w.Header().Get("Location") != "/" || len(cookies) != 1 {
		t.Fatalf("%d, %v", w.Code, w.Header())
	}
	if c := cookies[0]; !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.MaxAge != 0 {
		t.Errorf("the cookie is %v", c)
	}
	paired := map[string]string{"Cookie": cookies[0].Name + "=" + cookies[0].Value, "Origin": "http://" + network}
	if w := ask(s, "192.168.1.20:62334", "GET", "/about", "", map[string]string{"Cookie": cookies[0].Name + "=" + cookies[0].Value}); w.Code != 401 {
		t.Errorf("another port takes the same cookie: %d", w.Code)
	}
	for path, want := range map[string]int{"/": 200, "/about": 200, "/pair": 303} {
		if w := ask(s, network, "GET", path, "", paired); w.Code != want {
			t.Errorf("%s: %d, want %d", path, w.Code, want)
		}
	}
	if w := ask(s, network, "POST", "/order", "step", paired); w.Code != 403 || w.Body.String() != "this page may only look: start bedd with --page-control\n" {
		t.Errorf("an order without control: %d %s", w.Code, w.Body)
	}
}

// TestFullOrdersAreRefused: a session that takes no orders makes nobody wait.
func TestFullOrdersAreRefused(t *testing.T) {
	s := hall(t, loopback, true)
	own := map[string]string{"Origin": "http://" + loopback}
	for i := range maxOrders + 2 {
		want := 204
		if i >= maxOrders {
			want = 503
		}
		if w := ask(s, loopback, "POST", "/order", "step", own); w.Code != want {
			t.Errorf("order %d: %d, want %d", i, w.Code, want)
		}
	}
}

func TestTooManyRequestsAreRefused(t *testing.T) {
	s := hall(t, loopback, false)
	now := time.Unix(1000, 0)
	s.rates.now = func() time.Time { return now }
	for i := range requestsBurst + 1 {
		want := 200
		if i == requestsBurst {
			want = 429
		}
		if w := ask(s, loopback, "GET", "/about", "", nil); w.Code != want {
			t.Fatalf("request %d: %d, want %d", i, w.Code, want)
		}
	}
	now = now.Add(time.Second)
	if w := ask(s, loopback, "GET", "/about", "", nil); w.Code != 200 {
		t.Errorf("a second later: %d", w.Code)
	}
}

// TestAHandlersFaultEndsItsRequestAlone, and is told of once.
func TestAHandlersFaultEndsItsRequestAlone(t *testing.T) {
	var said []string
	s := hall(t, loopback, false)
	s.config.Say = func(line string) { said = append(said, line) }
	faulty := s.door(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("a mishap of the test's") }))
	for range 2 {
		r := httptest.NewRequest("GET", "/", nil)
		r.Host = loopback
		address, _ := net.ResolveTCPAddr("tcp", loopback)
		w := httptest.NewRecorder()
		faulty.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(address))))
		if w.Code != 500 {
			t.Errorf("%d", w.Code)
		}
	}
	if len(said) != 1 || said[0] != "(the page has a fault, and the bed goes on; please report it: a mishap of the test's)" {
		t.Errorf("said %q", said)
	}
}

func FuzzHost(f *testing.F) {
	for _, s := range []string{"", loopback, "localhost:62333", "[::1]:62333", "127.0.0.1:062333", "127.1:62333", "2130706433:62333", "evil.example:62333", "[fe80::1%25eth0]:62333", "127.0.0.1.:62333"} {
		f.Add(s)
	}
	address, _ := net.ResolveTCPAddr("tcp", loopback)
	f.Fuzz(func(t *testing.T, host string) {
		if !hostFits(host, address) {
			return
		}
		if name, port, err := net.SplitHostPort(host); err != nil || port != "62333" || name != "localhost" && !net.ParseIP(name).Equal(address.IP) {
			t.Errorf("%q gets in", host)
		}
	})
}

func FuzzOrder(f *testing.F) {
	for _, s := range []string{"step", "key-to Eb", "key-to", "\xff", "nothing", strings.Repeat("a", 300)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, body string) {
		s := hall(t, loopback, true)
		w := ask(s, loopback, "POST", "/order", body, map[string]string{"Origin": "http://" + loopback})
		want, err := gathering.ParseOrder(body)
		switch {
		case w.Code == 204 && (err != nil || <-s.orders != want || len(body) > maxBody):
			t.Errorf("%q is taken for %v, %v", body, want, err)
		case w.Code != 204 && err == nil && len(body) <= maxBody, w.Code >= 500:
			t.Errorf("%q: %d %s", body, w.Code, w.Body)
		}
	})
}
