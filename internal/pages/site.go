package pages

import (
	"context"
	"embed"
	"encoding/hex"
	"fmt"
	"io"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bondtrial/internal/pages/beside"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/guard"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var (
	demoPage = frame.Page(templates, "templates/demo.html")
	pairPage = frame.Page(templates, "templates/pair.html")
)

// Limits of what is sent to the pages, bytes.
const (
	mostTable = 64 << 20
	mostPhoto = 32 << 20 // a form with a photo; photos themselves have their own limit
)

// protect sets up who may talk to the pages.
func (s *Site) protect() error {
	c := guard.Config{Clock: s.config.Clock, Random: s.config.Random, Port: s.config.Port, Limit: limit, Open: []string{"/static/"},
		PairPage: s.pairPage, Refuse: s.refuse}
	if s.config.Share {
		addresses, err := s.addresses()
		if err != nil {
			return err
		}
		c.Hosts = addresses
		c.Load, c.Save, c.Drop = s.loadDevices, s.saveDevice, s.dropDevice
	}
	g, err := guard.New(c)
	if err != nil {
		return err
	}
	s.guard = g
	s.sharing = beside.Sharing{On: s.config.Share, Devices: s.devices, Code: s.code,
		Forget: func(r *http.Request, id string) error { return g.Forget(r.Context(), id) }}
	return nil
}

// Patterns lists every address of the pages but the static files and the pairing
// page, each written as for http.ServeMux.
func (s *Site) Patterns() []string {
	var out []string
	for _, r := range s.routes() {
		out = append(out, r.pattern)
	}
	return out
}

// limit returns how many bytes the body of a request may have.
func limit(r *http.Request) int64 {
	switch {
	case r.URL.Path == "/take-in":
		return mostTable + 1<<20
	case r.Method == http.MethodPost && takesPhoto(r.URL.Path):
		return mostPhoto
	}
	return guard.DefaultLimit
}

// takesPhoto reports whether a form at an address may bring a photo: a break, its
// correction, and a look while an adhesive cures.
func takesPhoto(path string) bool {
	return strings.HasPrefix(path, "/trials/") && (strings.HasSuffix(path, "/break") || strings.Contains(path, "/break/") || strings.HasSuffix(path, "/cure"))
}

// addresses are those of the machine on local networks; there is one at least.
func (s *Site) addresses() (out []string, err error) {
	of := s.config.Addresses
	if of == nil {
		of = localAddresses
	}
	if out, err = of(); err != nil {
		return nil, err
	}
	out = slices.Clone(out)
	if len(out) == 0 {
		return nil, fmt.Errorf("this machine is on no local network: connect it first, or open the logbook without --share")
	}
	return out, nil
}

// localAddresses asks the system.
func localAddresses() (out []string, err error) {
	interfaces, outbound, err := guard.Interfaces()
	if err != nil {
		return nil, err
	}
	for _, a := range guard.LocalAddresses(interfaces, outbound) {
		out = append(out, a.IP.String())
	}
	return out, nil
}

// Links are the addresses of the pages as devices on the network reach them, the
// likeliest first.
func (s *Site) Links() ([]string, error) {
	addresses, err := s.addresses()
	if err != nil {
		return nil, err
	}
	s.guard.SetHosts(addresses) // the machine may have been given another since
	for i, a := range addresses {
		addresses[i] = "http://" + net.JoinHostPort(a, strconv.Itoa(s.config.Port))
	}
	return addresses, nil
}

// NewCode gives a pairing code, and the address that pairs with it filled in.
func (s *Site) NewCode() (code guard.Code, link string, err error) {
	addresses, err := s.addresses()
	if err != nil {
		return guard.Code{}, "", err
	}
	if code, err = s.guard.NewCode(); err != nil {
		return guard.Code{}, "", err
	}
	return code, guard.PairURL(addresses[0], s.config.Port, code), nil
}

func (s *Site) code() (code, until string, links []string, qr []byte, err error) {
	if links, err = s.Links(); err != nil {
		return "", "", nil, nil, err
	}
	c, link, err := s.NewCode()
	if err != nil {
		return "", "", nil, nil, err
	}
	qr, err = guard.QRPicture(link)
	return c.String(), c.Until.Local().Format("15:04"), links, qr, err
}

func (s *Site) devices() []beside.Device {
	var out []beside.Device
	for _, d := range s.guard.Devices() {
		out = append(out, beside.Device{ID: d.ID, Name: d.Name, Since: d.Paired.Local().Format("2 January 2006")})
	}
	return out
}

// loadDevices reads the devices that were let in from the logbook.
func (s *Site) loadDevices() ([]guard.Device, error) {
	things, err := s.config.Book.Things(context.Background())
	if err != nil {
		return nil, err
	}
	var out []guard.Device
	for _, m := range things.Devices {
		sum, err := hex.DecodeString(m.TokenSum)
		if err != nil || len(sum) != 32 {
			continue // of no use: the device pairs again
		}
		out = append(out, guard.Device{ID: m.ID, Name: m.Name, TokenSum: [32]byte(sum), Paired: m.At})
	}
	return out, nil
}

func (s *Site) saveDevice(ctx context.Context, d guard.Device) error {
	_, err := s.config.Book.Add(ctx, record.Who{By: d.Name, Device: d.Name}, "", d.ID, record.DeviceMet{Name: d.Name, TokenSum: hex.EncodeToString(d.TokenSum[:])})
	return err
}

func (s *Site) dropDevice(ctx context.Context, id string) error {
	things, err := s.config.Book.Things(ctx)
	if err != nil {
		return err
	}
	for _, m := range things.Devices {
		if m.ID == id {
			_, err := s.config.Book.Undo(ctx, record.Who{Device: "this machine"}, "", m.Seq, "let in no longer")
			return err
		}
	}
	return nil
}

func (s *Site) pairPage(w io.Writer, v guard.PairView) error {
	return pairPage.Execute(w, &frame.View{Title: "Pair this device", Stranger: true, Data: v, Version: s.config.Version})
}

// refuse tells of what the guard lets not through. Somebody unknown is shown no page
// of the logbook.
func (s *Site) refuse(w http.ResponseWriter, r *http.Request, status int, words string) {
	if frame.WantsJSON(r) {
		_ = frame.JSON(w, status, map[string]string{"error": words})
		return
	}
	http.Error(w, words, status)
}
