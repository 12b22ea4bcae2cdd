package guard

import (
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
)

// SetHosts replaces the names and addresses, without port, under which others may
// reach the machine, as when it is shared, no longer shared, or given another
// address. The loopback names stay.
func (g *Guard) SetHosts(hosts []string) {
	set := make(map[string]bool, len(hosts))
	for _, h := range hosts {
		set[plainHost(strings.Trim(h, "[]"))] = true
	}
	delete(set, "")
	g.mu.Lock()
	defer g.mu.Unlock()
	g.hosts = set
}

// plainHost writes a name or an address in one way.
func plainHost(name string) string {
	if a, err := netip.ParseAddr(name); err == nil {
		return a.Unmap().WithZone("").String()
	}
	return strings.ToLower(name)
}

// ours reports whether a request asks for this machine by one of its names.
func (g *Guard) ours(r *http.Request) bool {
	name, port := hostOf(r)
	if port != g.config.Port {
		return false
	}
	g.mu.RLock()
	defer g.mu.RUnlock()
	return loopbackName(name) || g.hosts[name]
}

func loopbackName(name string) bool {
	return name == "localhost" || name == "127.0.0.1" || name == "::1"
}

// hostOf returns the name and the port that a request asks for, port 0 when the
// Host header is not of the right form.
func hostOf(r *http.Request) (name string, port int) {
	host := r.Host
	if _, _, err := net.SplitHostPort(host); err != nil { // without a port it is the scheme's
		scheme := "80"
		if r.TLS != nil {
			scheme = "443"
		}
		host += ":" + scheme
	}
	name, digits, err := net.SplitHostPort(host)
	if err != nil || name == "" || strings.Contains(name, "%") {
		return "", 0
	}
	n, err := strconv.ParseUint(digits, 10, 16)
	if err != nil {
		return "", 0
	}
	return plainHost(name), int(n)
}

// forwarding are the headers by which a proxy says that it passes a request on.
var forwarding = []string{"Forwarded", "Via", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Forwarded-Server", "X-Forwarded-Port", "X-Real-Ip",
	"X-Client-Ip", "True-Client-Ip", "X-Original-Forwarded-For"}

// itself reports whether a request is of the machine that the pages run on.
func itself(r *http.Request) bool {
	for _, h := range forwarding {
		if _, ok := r.Header[h]; ok {
			return false
		}
	}
	name, _ := hostOf(r)
	return remote(r).IsLoopback() && loopbackName(name)
}
