package outbound

import (
	"net/netip"
	"testing"
)

// TestGuard: which addresses are special is said by IANA's registries (RFC 6890 and
// those it was updated by); 169.254.169.254 is where many data centres keep what a
// machine may know of itself (common practice).
func TestGuard(t *testing.T) {
	for address, want := range map[string]bool{
		"93.184.216.34:443": true, "8.8.8.8:443": true, "[2606:2800:220:1::1]:443": true, "172.32.0.1:443": true, "100.128.0.1:443": true,
		"10.1.2.3:443": false, "172.16.0.1:443": false, "172.31.255.255:443": false, "192.168.1.1:443": false, "127.0.0.1:80": false, "127.9.9.9:80": false,
		"169.254.169.254:80": false, "100.64.0.1:443": false, "0.0.0.0:80": false, "224.0.0.1:80": false, "255.255.255.255:80": false, "198.18.0.1:80": false,
		"[::1]:80": false, "[::]:80": false, "[fe80::1%eth0]:80": false, "[fd00:ec2::254]:80": false, "[ff02::1]:80": false,
		"[::ffff:10.0.0.1]:80": false, "[::ffff:169.254.169.254]:80": false, "[64:ff9b::a00:1]:80": false, "[2002:a00:1::1]:80": false, "[2001:db8::1]:80": false, "[::10.0.0.1]:80": false,
		"nowhere": false,
	} {
		if err := (guard{}).control("tcp", address, nil); (err == nil) != want {
			t.Errorf("%s: %v", address, err)
		}
	}
	g := guard{[]netip.Prefix{netip.MustParsePrefix("10.20.0.0/16")}}
	if err := g.control("tcp", "10.20.3.4:443", nil); err != nil {
		t.Error(err)
	}
	if err := g.control("tcp", "10.21.3.4:443", nil); err == nil {
		t.Error("one network is allowed, and the next one is too")
	}
}
