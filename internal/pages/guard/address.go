package guard

import (
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strings"
)

// Interface is what connects the machine to a network.
type Interface struct {
	Name  string
	Flags net.Flags
	Addrs []netip.Addr
}

// Address is an address of the machine on a local network.
type Address struct {
	IP        netip.Addr
	Interface string
}

// virtual are the beginnings of names of interfaces that lead to no other device
// at the bench: containers, virtual machines, tunnels.
var virtual = []string{"br-", "bridge", "cni", "docker", "lxc", "lxd", "podman", "tap", "tun", "utun", "vboxnet", "vethernet", "veth", "virbr", "vmnet", "wg", "zt"}

// LocalAddresses returns the addresses of private ranges at which other devices
// may reach the machine, the likeliest first: the one that the machine itself
// would call the outside from, then IPv4 before IPv6, then what belongs to
// virtual networks, then addresses that a machine gave itself for want of a
// network. outbound may be the zero Addr. It may return none.
func LocalAddresses(interfaces []Interface, outbound netip.Addr) []Address {
	type ranked struct {
		Address
		rank int
	}
	var list []ranked
	for _, i := range interfaces {
		if i.Flags&net.FlagUp == 0 || i.Flags&net.FlagLoopback != 0 {
			continue
		}
		for _, ip := range i.Addrs {
			ip = ip.Unmap().WithZone("")
			rank := 0
			switch {
			case ip.Is4() && ip.IsLinkLocalUnicast():
				rank = 4
			case !ip.IsPrivate():
				continue
			case i.Flags&net.FlagPointToPoint != 0 || isVirtual(i.Name):
				rank = 3
			case ip == outbound:
				rank = 0
			case ip.Is4():
				rank = 1
			default:
				rank = 2
			}
			list = append(list, ranked{Address{ip, i.Name}, rank})
		}
	}
	slices.SortStableFunc(list, func(a, b ranked) int { return a.rank - b.rank })
	out := make([]Address, len(list))
	for i, r := range list {
		out[i] = r.Address
	}
	return out
}

func isVirtual(name string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(virtual, func(v string) bool { return strings.HasPrefix(name, v) })
}

// Interfaces asks the system for what LocalAddresses needs. It sends nothing.
func Interfaces() (interfaces []Interface, outbound netip.Addr, err error) {
	found, err := net.Interfaces()
	if err != nil {
		return nil, netip.Addr{}, fmt.Errorf("listing the machine's networks: %w", err)
	}
	for _, f := range found {
		addrs, err := f.Addrs()
		if err != nil {
			continue // gone in between
		}
		i := Interface{Name: f.Name, Flags: f.Flags}
		for _, a := range addrs {
			if p, err := netip.ParsePrefix(a.String()); err == nil {
				i.Addrs = append(i.Addrs, p.Addr())
			}
		}
		interfaces = append(interfaces, i)
	}
	return interfaces, outboundAddress(), nil
}

// outboundAddress is the address that the machine would call the outside from,
// the zero Addr where there is no way. Connecting a UDP socket chooses it and
// sends nothing; 192.0.2.1 is of a range for documentation (RFC 5737), and no one's.
func outboundAddress() netip.Addr {
	c, err := net.Dial("udp4", "192.0.2.1:9")
	if err != nil {
		return netip.Addr{}
	}
	defer c.Close()
	a, err := netip.ParseAddrPort(c.LocalAddr().String())
	if err != nil {
		return netip.Addr{}
	}
	return a.Addr().Unmap()
}
