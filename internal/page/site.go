package page

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"bedd/internal/gathering"
)

//go:embed site
var site embed.FS

// asset gives a file of the page, which is built in.
func asset(name string) []byte {
	data, err := site.ReadFile("site/" + name)
	if err != nil {
		panic(err)
	}
	return data
}

// version tells one build's page from another's: an old page in a browser loads
// itself anew.
var version = func() string {
	sum := sha256.New()
	_ = fs.WalkDir(site, "site", func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			data, _ := site.ReadFile(name)
			sum.Write(data)
		}
		return err
	})
	return hex.EncodeToString(sum.Sum(nil)[:8])
}()

func (s *Server) handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.index)
	for name, kind := range map[string]string{"style.css": "text/css", "page.js": "text/javascript", "icon.svg": "image/svg+xml"} {
		mux.HandleFunc("GET /"+name, func(w http.ResponseWriter, r *http.Request) {
			give(w, http.StatusOK, kind, asset(path.Base(r.URL.Path)))
		})
	}
	mux.HandleFunc("GET /pair", s.pairPage)
	mux.HandleFunc("POST /pair", s.pair)
	mux.HandleFunc("GET /about", s.paired(s.about))
	mux.HandleFunc("GET /events", s.paired(s.events))
	mux.HandleFunc("POST /order", s.paired(s.order))
	return s.door(mux)
}

func give(w http.ResponseWriter, status int, kind string, data []byte) {
	w.Header().Set("Content-Type", kind+"; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(data)
}

func (s *Server) index(w http.ResponseWriter, r *http.Request) {
	if !s.known(r) {
		http.Redirect(w, r, "/pair", http.StatusSeeOther)
		return
	}
	give(w, http.StatusOK, "text/html", asset("index.html"))
}

// about tells the page what it may do, and which page it should be.
func (s *Server) about(w http.ResponseWriter, r *http.Request) {
	data, err := json.Marshal(struct {
		Control bool   `json:"control"`
		Version string `json:"version"`
	}{s.config.Control, version})
	if err != nil {
		panic(err)
	}
	give(w, http.StatusOK, "application/json", data)
}

func (s *Server) pairPage(w http.ResponseWriter, r *http.Request) {
	if s.known(r) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	givePairing(w, http.StatusOK, "")
}

// givePairing gives the form that asks for the code, with what went wrong: words
// of ours, never the reader's.
func givePairing(w http.ResponseWriter, status int, trouble string) {
	give(w, status, "text/html", []byte(strings.Replace(string(asset("pair.html")), "<!--trouble-->", trouble, 1)))
}

func (s *Server) pair(w http.ResponseWriter, r *http.Request) {
	if s.known(r) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	if err := r.ParseForm(); err != nil {
		refuse(w, tooMuchOr(err, http.StatusBadRequest), "that is no form of this page")
		return
	}
	token, err := s.pairing.try(peerOfRequest(r), r.PostForm.Get("code"))
	switch {
	case errors.Is(err, errTooSoon):
		w.Header().Set("Retry-After", "30")
		givePairing(w, http.StatusTooManyRequests, err.Error())
	case err != nil:
		givePairing(w, http.StatusForbidden, err.Error())
	default:
		http.SetCookie(w, &http.Cookie{Name: cookieOf(r), Value: token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		http.Redirect(w, r, "/", http.StatusSeeOther)
	}
}

// order takes an order as a rig writes it: step, fade, key-to Eb.
func (s *Server) order(w http.ResponseWriter, r *http.Request) {
	if !s.config.Control {
		refuse(w, http.StatusForbidden, "this page may only look: start bedd with --page-control")
		return
	}
	text, err := io.ReadAll(r.Body)
	if err != nil {
		refuse(w, tooMuchOr(err, http.StatusBadRequest), "that is too long for an order")
		return
	}
	order, err := gathering.ParseOrder(string(text))
	if err != nil {
		refuse(w, http.StatusBadRequest, err.Error())
		return
	}
	select {
	case s.orders <- order:
		w.WriteHeader(http.StatusNoContent)
	default:
		http.Error(w, "bedd is busy: press again", http.StatusServiceUnavailable)
	}
}

// tooMuchOr is the status for a body that cannot be read.
func tooMuchOr(err error, status int) int {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return http.StatusRequestEntityTooLarge
	}
	return status
}
