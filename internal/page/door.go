package page

import (
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
)

// policy lets the page load its own script and style and speak with its own server,
// and nothing else (Content Security Policy Level 3).
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// cookieOf is the name of the cookie that tells a paired device. It has the port in it:
// a browser keeps the cookies of all ports of a machine together (RFC 6265, 8.5), and two
// bedds would take each other's.
func cookieOf(r *http.Request) string {
	local, _ := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if local == nil {
		return ""
	}
	return "bedd-" + strconv.Itoa(local.Port)
}

// door checks every request before a handler sees it. A handler's fault ends its
// request.
func (s *Server) door(inside http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if p := recover(); p != nil {
				s.fault(p)
				refuse(w, http.StatusInternalServerError, "the page has a fault")
			}
		}()
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		local, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
		switch {
		case !s.rates.allow(peerOfRequest(r)):
			h.Set("Retry-After", "5")
			refuse(w, http.StatusTooManyRequests, "too many requests: wait a moment")
		case !hostFits(r.Host, local):
			refuse(w, http.StatusMisdirectedRequest, "open the page by the address that bedd shows, in numbers")
		case !originFits(r):
			refuse(w, http.StatusForbidden, "another site asks: only the page itself may")
		default:
			r.Body = http.MaxBytesReader(w, r.Body, maxBody)
			inside.ServeHTTP(w, r)
		}
	})
}

// paired lets in only devices that have been paired, where that is needed.
func (s *Server) paired(inside http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.known(r) {
			refuse(w, http.StatusUnauthorized, "pair this device first")
			return
		}
		inside(w, r)
	}
}

func (s *Server) known(r *http.Request) bool {
	if s.pairing == nil {
		return true
	}
	c, err := r.Cookie(cookieOf(r))
	return err == nil && s.pairing.knows(c.Value)
}

// refuse answers with a line and ends the connection.
func refuse(w http.ResponseWriter, status int, line string) {
	w.Header().Set("Connection", "close")
	http.Error(w, line, status)
}

// hostFits reports whether a request names the address that it came to, in numbers
// or as localhost. A site whose name was pointed at this machine to get past the
// browser's rules (DNS rebinding) names itself.
func hostFits(host string, local net.Addr) bool {
	tcp, ok := local.(*net.TCPAddr)
	if !ok {
		return false
	}
	here := netip.AddrPortFrom(tcp.AddrPort().Addr().Unmap().WithZone(""), uint16(tcp.Port))
	if name, ok := strings.CutPrefix(host, "localhost"); ok && here.Addr().IsLoopback() {
		return name == ":"+portOf(here) || name == "" && here.Port() == 80
	}
	return host == here.String() || here.Port() == 80 && host+":80" == here.String()
}

// originFits reports whether a request comes from the page itself, or is the
// opening of a page. What changes something must say where it comes from.
func originFits(r *http.Request) bool {
	origin := r.Header.Get("Origin")
	if origin != "" && origin != "http://"+r.Host || origin == "" && r.Method == http.MethodPost {
		return false
	}
	switch r.Header.Get("Sec-Fetch-Site") { // Fetch Metadata Request Headers
	case "", "same-origin", "none":
		return true
	}
	return r.Method == http.MethodGet && r.Header.Get("Sec-Fetch-Mode") == "navigate" && r.Header.Get("Sec-Fetch-Dest") == "document"
}

func peerOfRequest(r *http.Request) netip.Addr {
	peer, _ := netip.ParseAddrPort(r.RemoteAddr)
	return asPeer(peer.Addr())
}
