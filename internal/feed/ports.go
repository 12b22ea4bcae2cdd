package feed

import (
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"go.bug.st/serial"
)

// Ports lists the serial ports there are, by the names that NewSerial takes. No port
// is opened: that would start many boards anew.
func Ports() []string {
	if runtime.GOOS == "windows" {
		ports, err := serial.GetPortsList() // from the registry
		if err != nil {
			return nil
		}
		slices.Sort(ports)
		return ports
	}
	return portsUnder("/", runtime.GOOS)
}

// portNames are the names of serial ports under /dev. On macOS those with cu. are
// for dialling out, which does not wait for a carrier signal. From memory,
// unconfirmed, but for those of USB devices on Linux.
var portNames = map[string][]string{
	"linux":  {"ttyACM*", "ttyUSB*", "ttyAMA*", "rfcomm*", "ttyS*"},
	"darwin": {"cu.*"},
}

// portsUnder lists the ports of a system whose files lie under root.
func portsUnder(root, system string) []string {
	var out []string
	for _, name := range portNames[system] {
		found, err := filepath.Glob(filepath.Join(root, "dev", name))
		if err != nil {
			panic("feed: a pattern of port names is none")
		}
		slices.Sort(found)
		for _, path := range found {
			port := filepath.Base(path)
			if strings.HasPrefix(port, "ttyS") && !realPort(root, port) || port == "cu.Bluetooth-Incoming-Port" {
				continue
			}
			out = append(out, path)
		}
	}
	return out
}

// realPort reports whether there is hardware behind a port built into the computer:
// Linux keeps names for many that are not there, with type 0.
func realPort(root, port string) bool {
	kind, err := os.ReadFile(filepath.Join(root, "sys/class/tty", port, "type"))
	return err == nil && strings.TrimSpace(string(kind)) != "0"
}
