package feed

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"strings"
	"sync"
	"time"

	"go.bug.st/serial"
)

// DefaultSpeed is the speed of a port where none is said, baud. Common practice, no
// source.
const DefaultSpeed = 115200

// How often a port that is gone is looked for, and one that is there is looked at.
const (
	lookEvery  = 200 * time.Millisecond
	checkEvery = 500 * time.Millisecond
)

// Serial is a source that reads a serial port: 8 data bits, no parity, 1 stop bit.
// When the port is gone, Read says so once, waits for it, and goes on.
type Serial struct {
	state
	name  string
	speed int
	clock Clock
	once  sync.Once

	mu     sync.Mutex
	port   serial.Port
	opened os.FileInfo // what the name stood for when it was opened; nil where names are no files

	split  splitter
	buf    [4096]byte
	queued []Line // events, and a half line, to be given before anything is read
	gone   bool
}

// NewSerial returns a source of the lines from a port, such as /dev/ttyACM0 or COM3,
// at a speed in baud; 0 stands for DefaultSpeed.
func NewSerial(port string, speed int, clock Clock) *Serial {
	if speed == 0 {
		speed = DefaultSpeed
	}
	return &Serial{name: port, speed: speed, clock: clock, state: state{done: make(chan struct{})}}
}

// Open opens the port. Where it is not there the error lists the ports that are.
func (s *Serial) Open() error {
	s.open()
	if closed(s.done) {
		return ErrClosed
	}
	if err := s.connect(); err != nil {
		return s.explain(err)
	}
	go s.check()
	return nil
}

// connect opens the port and keeps it.
func (s *Serial) connect() error {
	info, _ := os.Stat(s.name)
	port, err := serial.Open(s.name, &serial.Mode{BaudRate: s.speed, DataBits: 8, Parity: serial.NoParity, StopBits: serial.OneStopBit})
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if closed(s.done) {
		return errors.Join(ErrClosed, port.Close())
	}
	s.port, s.opened = port, info
	s.split.restart(true)
	return nil
}

// explain says what kept the port from opening, and what to do.
func (s *Serial) explain(err error) error {
	var p *serial.PortError
	code := serial.PortErrorCode(-1)
	if errors.As(err, &p) {
		code = p.Code()
	}
	switch {
	case errors.Is(err, ErrClosed):
		return ErrClosed
	case code == serial.PortNotFound, errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("there is no serial port %s: %s", s.name, portsInWords(Ports()))
	case code == serial.PortBusy:
		return fmt.Errorf("serial port %s is in use: close the other program that reads it", s.name)
	case code == serial.PermissionDenied, errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("serial port %s may not be opened by this user: on Linux, let the user join the group that owns the port, and log in again", s.name)
	case code == serial.InvalidSpeed:
		return fmt.Errorf("serial port %s does not know %d baud: try %s", s.name, s.speed, otherSpeeds(s.speed))
	case code == serial.InvalidSerialPort:
		return fmt.Errorf("%s is no serial port: %s", s.name, portsInWords(Ports()))
	}
	return fmt.Errorf("serial port %s cannot be opened: %w", s.name, err)
}

func portsInWords(ports []string) string {
	if len(ports) == 0 {
		return "there is none at all; plug the board in"
	}
	return "there are " + strings.Join(ports, ", ")
}

// Read returns the next line, or says that the port is gone or back.
func (s *Serial) Read() (Line, error) {
	s.reading()
	for {
		if closed(s.done) {
			return Line{}, ErrClosed
		}
		if len(s.queued) > 0 {
			l := s.queued[0]
			s.queued = s.queued[1:]
			return l, nil
		}
		if s.gone {
			if !s.comeBack() {
				return Line{}, ErrClosed
			}
			continue
		}
		if l, ok := s.split.next(); ok {
			return l, nil
		}
		s.receive()
	}
}

// receive waits for bytes, or notices that the port is gone.
func (s *Serial) receive() {
	s.mu.Lock()
	port := s.port
	s.mu.Unlock()
	n, err := port.Read(s.buf[:])
	now := s.clock.Now()
	if n > 0 {
		s.split.fill(s.buf[:n], now)
		return
	}
	if closed(s.done) {
		return
	}
	if err == nil {
		err = errors.New("nothing can be read from it")
	}
	if l, ok := s.split.rest(); ok {
		l.Text = append([]byte(nil), l.Text...)
		s.queued = append(s.queued, l)
	}
	s.drop()
	s.gone = true
	words := fmt.Sprintf("%s is unplugged (%v): waiting for it to come back", s.name, err)
	s.queued = append(s.queued, Line{At: now, Kind: Unplugged, Text: []byte(shorten(words))})
}

// shorten keeps words within a line.
func shorten(words string) string { return words[:min(len(words), MaxLine)] }

// drop closes the port where it is open.
func (s *Serial) drop() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.port != nil {
		s.port.Close() // it is gone: an error says nothing new
		s.port = nil
	}
}

// comeBack waits until the port can be opened again; it returns false where Close
// was called.
func (s *Serial) comeBack() bool {
	for {
		if err := s.connect(); err == nil {
			s.gone = false
			s.queued = append(s.queued, Line{At: s.clock.Now(), Kind: Back, Text: []byte(shorten(s.name + " is back"))})
			return true
		}
		select {
		case <-s.clock.After(lookEvery):
		case <-s.done:
			return false
		}
	}
}

// check closes the port when its name is gone, or stands for another device: some
// drivers let a Read wait for ever on a port that was unplugged.
func (s *Serial) check() {
	for {
		select {
		case <-s.clock.After(checkEvery):
		case <-s.done:
			return
		}
		s.mu.Lock()
		port, opened := s.port, s.opened
		s.mu.Unlock()
		if port == nil || opened == nil || runtime.GOOS == "windows" {
			continue
		}
		if now, err := os.Stat(s.name); err != nil || !os.SameFile(opened, now) {
			port.Close() // which ends a Read that waits
		}
	}
}

// Close closes the port, and ends a Read that waits.
func (s *Serial) Close() error {
	var err error
	s.once.Do(func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		close(s.done)
		if s.port != nil {
			err = s.port.Close()
		}
	})
	return err
}

// Describe says which port it is.
func (s *Serial) Describe() Description {
	return Description{Kind: "serial port", Name: s.name, Speed: s.speed}
}
