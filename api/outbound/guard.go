package outbound

import (
	"fmt"
	"net/netip"
	"slices"
	"syscall"
)

// A guard says where connections to webhooks may go.
type guard struct {
	allow []netip.Prefix // beside public addresses
}

// closed are the addresses that no public host has, by IANA's registries of special
// purpose addresses for IPv4 and IPv6 (RFC 6890 and later), and those that stand for
// an address of the other protocol.
var closed = prefixes(
	"0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16", "172.16.0.0/12",
	"192.0.0.0/24", "192.0.2.0/24", "192.31.196.0/24", "192.52.193.0/24", "192.88.99.0/24", "192.168.0.0/16",
	"192.175.48.0/24", "198.18.0.0/15", "198.51.100.0/24", "203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4",
	"2001::/23", "2001:db8::/32", "2002::/16", "2620:4f:8000::/48", "3fff::/20",
)

// global is all of IPv6 that is given out to public hosts.
var global = netip.MustParsePrefix("2000::/3")

func prefixes(list ...string) (out []netip.Prefix) {
	for _, p := range list {
		out = append(out, netip.MustParsePrefix(p))
	}
	return out
}

// control is called with the address of every connection before it is made.
func (g guard) control(_, address string, _ syscall.RawConn) error {
	at, err := netip.ParseAddrPort(address)
	if err != nil {
		return fmt.Errorf("%s is no address", address)
	}
	ip := at.Addr().Unmap().WithZone("")
	in := func(p netip.Prefix) bool { return p.Contains(ip) }
	if slices.ContainsFunc(g.allow, in) || !slices.ContainsFunc(closed, in) && (ip.Is4() || global.Contains(ip)) {
		return nil
	}
	return fmt.Errorf("%s is no public address: let the configuration allow it if the program there is yours", ip)
}
