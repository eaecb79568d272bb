package page

import (
	"crypto/subtle"
	"net"
	"net/http"
	"strings"
)

// policy lets the page load its own style and script, talk to its own address, and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// largestRequest bounds the body of a request that brings no file, in bytes.
const largestRequest = 1 << 20

// guard lets only through what the page itself asks: another site's page has neither our address in Host nor in Origin, nor the key.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		switch {
		case !s.ours(r.Host):
			refuse(w, "this address is not the page's own")
		case !sameSite(r):
			refuse(w, "the request comes from another page")
		case r.Method == http.MethodPost && s.o.ReadOnly:
			refuse(w, "this page is for reading only")
		case r.Method == http.MethodGet && r.URL.Path == "/" && s.isKey(r.URL.Query().Get("key")):
			s.letIn(w, r)
		case !s.known(r):
			refuse(w, "open the address that the program has printed; it holds a new key after each start")
		default:
			if r.URL.Path != "/drop" {
				r.Body = http.MaxBytesReader(w, r.Body, largestRequest)
			}
			next.ServeHTTP(w, r)
		}
	})
}

func refuse(w http.ResponseWriter, why string) {
	http.Error(w, "phasetally: "+why, http.StatusForbidden)
}

// ours reports whether a host is the loopback address on our port: a foreign name that leads here is none.
func (s *Server) ours(host string) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		return false
	}
	_, own, err := net.SplitHostPort(s.host)
	return err == nil && port == own && (name == "127.0.0.1" || name == "localhost" || name == "::1")
}

// sameSite reports whether a request comes from our page, or, to read the page, from the address bar.
func sameSite(r *http.Request) bool {
	origin := r.Header.Get("Origin")
	if origin != "" && !strings.EqualFold(origin, "http://"+r.Host) {
		return false
	}
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin":
	case "none":
		return r.Method == http.MethodGet
	default:
		return r.Method == http.MethodGet && r.URL.Path == "/" && r.Header.Get("Sec-Fetch-Mode") == "navigate" // a link to us
	}
	return r.Method == http.MethodGet || origin != ""
}

func (s *Server) isKey(key string) bool {
	return subtle.ConstantTimeCompare([]byte(key), []byte(s.key)) == 1
}

// cookieName holds the port, since cookies of one host are shared by all its ports.
func (s *Server) cookieName() string {
	_, port, _ := net.SplitHostPort(s.host)
	return "phasetally_" + port
}

func (s *Server) known(r *http.Request) bool {
	c, err := r.Cookie(s.cookieName())
	return err == nil && s.isKey(c.Value)
}

// letIn gives the key to the browser and takes it out of the address, where shoulders and histories would see it.
func (s *Server) letIn(w http.ResponseWriter, r *http.Request) {
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(), Value: s.key, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}
