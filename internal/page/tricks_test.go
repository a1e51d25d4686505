package page

import (
	"bufio"
	"io"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// TestTricksOfTheWireAreRefused: what only a program that writes its own requests can
// send (RFC 9112 and 9113) gets past none of the checks. @ stands for the page's own
// address.
func TestTricksOfTheWireAreRefused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		for name, c := range map[string]struct {
			request  string
			want     int
			location string
		}{
			"its own address, in full":           {"GET http://@/about HTTP/1.1\r\nHost: @\r\n\r\n", 200, ""},
			"a foreign address, in full":         {"GET http://evil.example/about HTTP/1.1\r\nHost: @\r\n\r\n", 421, ""},
			"two names":                          {"GET /about HTTP/1.1\r\nHost: @\r\nHost: evil.example\r\n\r\n", 400, ""},
			"no name":                            {"GET /about HTTP/1.1\r\n\r\n", 400, ""},
			"no name, as of old":                 {"GET /about HTTP/1.0\r\n\r\n", 421, ""},
			"a name in capitals":                 {"GET /about HTTP/1.1\r\nHost: LOCALHOST:62333\r\n\r\n", 421, ""},
			"a name with a dot at its end":       {"GET /about HTTP/1.1\r\nHost: localhost.:62333\r\n\r\n", 421, ""},
			"a name with a user":                 {"GET /about HTTP/1.1\r\nHost: x@@\r\n\r\n", 421, ""},
			"options of the server":              {"OPTIONS * HTTP/1.1\r\nHost: @\r\n\r\n", 400, ""},
			"options of the server, by a name":   {"OPTIONS * HTTP/1.1\r\nHost: evil.example\r\n\r\n", 421, ""},
			"options before an order":            {"OPTIONS /order HTTP/1.1\r\nHost: @\r\nOrigin: http://evil.example\r\nAccess-Control-Request-Method: POST\r\n\r\n", 403, ""},
			"HTTP/2 from the start":              {"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", 421, ""},
			"HTTP/2 by an upgrade":               {"GET /about HTTP/1.1\r\nHost: @\r\nConnection: Upgrade, HTTP2-Settings\r\nUpgrade: h2c\r\nHTTP2-Settings: AAMAAABkAAQAAP__\r\n\r\n", 200, ""},
			"a tunnel":                           {"CONNECT evil.example:80 HTTP/1.1\r\nHost: evil.example:80\r\n\r\n", 421, ""},
			"an echo":                            {"TRACE /about HTTP/1.1\r\nHost: @\r\nCookie: bedd=x\r\n\r\n", 405, ""},
			"a method in small letters":          {"get /about HTTP/1.1\r\nHost: @\r\n\r\n", 405, ""},
			"another site's address as a path":   {"GET //evil.example/ HTTP/1.1\r\nHost: @\r\n\r\n", 307, "/evil.example/"},
			"up and out":                         {"GET /../../etc/passwd HTTP/1.1\r\nHost: @\r\n\r\n", 307, "/etc/passwd"},
			"up and out, written otherwise":      {"GET /%2e%2e/%2e%2e/etc/passwd HTTP/1.1\r\nHost: @\r\n\r\n", 404, ""},
			"up and out, all of it otherwise":    {"GET /..%2f..%2fetc%2fpasswd HTTP/1.1\r\nHost: @\r\n\r\n", 404, ""},
			"a file that is built in, otherwise": {"GET /site/index.html HTTP/1.1\r\nHost: @\r\n\r\n", 404, ""},
			"a header in a query":                {"GET /events?transpose=1%0d%0aSet-Cookie:x HTTP/1.1\r\nHost: @\r\n\r\n", 400, ""},
			"a null byte":                        {"GET /about%00 HTTP/1.1\r\nHost: @\r\n\r\n", 404, ""},
			"a bent head":                        {"GET /about HTTP/1.1\r\nHost: @\r\nX : y\r\n\r\n", 400, ""},
			"a huge cookie":                      {"GET /about HTTP/1.1\r\nHost: @\r\nCookie: bedd=" + strings.Repeat("x", 2*maxHeader) + "\r\n\r\n", 431, ""},
			"two lengths":                        {"POST /order HTTP/1.1\r\nHost: @\r\nOrigin: http://@\r\nContent-Length: 4\r\nContent-Length: 5\r\n\r\nstep", 400, ""},
			"an endless body":                    {"POST /order HTTP/1.1\r\nHost: @\r\nOrigin: http://@\r\nTransfer-Encoding: chunked\r\n\r\nfff\r\n" + strings.Repeat("x", 0xFFF), 403, ""},
		} {
			conn := w.dial()
			go io.WriteString(conn, strings.ReplaceAll(c.request, "@", wallAddress.String()))
			answer, err := http.ReadResponse(bufio.NewReader(conn), nil)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				conn.Close()
				continue
			}
			if answer.StatusCode != c.want || answer.Header.Get("Location") != c.location {
				t.Errorf("%s: %s to %q, want %d to %q", name, answer.Status, answer.Header.Get("Location"), c.want, c.location)
			}
			if answer.Header.Get("Set-Cookie") != "" || answer.Header.Get("Access-Control-Allow-Origin") != "" {
				t.Errorf("%s: %v", name, answer.Header)
			}
			conn.Close()
		}
		time.Sleep(requestTime) // of the made-up clock: the server lets go of them all
	})
}

// TestNothingIsAskedPastTheRate: not even the options of the whole server, which are
// otherwise answered before any of the checks.
func TestNothingIsAskedPastTheRate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		conn := w.dial()
		defer conn.Close()
		go io.WriteString(conn, strings.Repeat("OPTIONS * HTTP/1.1\r\nHost: "+wallAddress.String()+"\r\n\r\n", 2*requestsBurst))
		text, _ := io.ReadAll(conn)
		if n := strings.Count(string(text), "HTTP/1.1 "); n == 0 || n > requestsBurst+1 {
			t.Errorf("%d answers", n)
		}
		time.Sleep(requestTime)
	})
}
