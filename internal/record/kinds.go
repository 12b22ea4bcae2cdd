package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"bondtrial/internal/plan/trialfile"
)

// Content is what an entry holds. The types of this file are all there are.
type Content interface {
	kind() string
	// claim is the name that no other live entry of the trial may hold at the same
	// time; empty: any number of such entries may stand beside each other.
	claim(subject string) string
	// check returns an error where the content cannot be right whatever the trial.
	check() error
}

// Asked is what a trial is about. The latest one counts.
type Asked struct {
	Name     string
	Question string
	File     string   `json:",omitempty"` // the trial file as it is written so far, TOML; it need not be complete
	Factors  []string `json:",omitempty"` // of readings taken in from a table; a trial file names its own
	Control  string   `json:",omitempty"` // likewise
	Table    string   `json:",omitempty"` // name of the table that was taken in

	parsed func() *trialfile.Trial
}

// Planned is a plan as it is worked by. It holds everything that the bench needs,
// so that labels and sheets in use stay true whatever later versions would plan.
type Planned struct {
	File      string // the trial file it was made from
	Made      string // the version that made it
	Zone      string // of clock times
	Blind     bool
	Control   string `json:",omitempty"`
	Factors   []string
	AreaMM2   float64
	Joint     string
	Adhesives []PlannedAdhesive
	Specimens []PlannedSpecimen // in glue-up order
	Checks    []PlannedCheck
	Ends      time.Time
	PerCell   int
}

// PlannedAdhesive is an adhesive of a plan.
type PlannedAdhesive struct {
	Name, Label               string // its name, and what labels and sheets call it
	Family                    string
	Open, Closed, Clamp, Cure time.Duration // 0: not known
}

// PlannedSpecimen is a specimen of a plan.
type PlannedSpecimen struct {
	Code      string
	Adhesive  int // index into Planned.Adhesives
	Wood      string
	Levels    []string `json:",omitempty"`
	Board     string
	Pieces    [2]int
	Pair      int `json:",omitempty"`
	Batch     int `json:",omitempty"`
	BreakTurn int
	GlueAt    time.Time
	BreakAt   time.Time
}

// PlannedCheck is a look at the specimens of one adhesive while they cure.
type PlannedCheck struct {
	At        time.Time
	Why       string // "24 h, half cure"
	Adhesive  int
	Batch     string `json:",omitempty"`
	GluedOn   string
	Specimens []int // indices into Planned.Specimens
}

// Joint is where a specimen comes from that is in no plan.
type Joint struct {
	Adhesive string
	Wood     string            `json:",omitempty"`
	Board    string            `json:",omitempty"`
	Batch    string            `json:",omitempty"`
	Session  string            `json:",omitempty"`
	Trial    string            `json:",omitempty"`
	Factors  map[string]string `json:",omitempty"`
}

// Added is a specimen that is in no plan; the entry's subject is its code.
type Added struct{ Joint }

// Glued says that a specimen was glued up, or spoiled in the attempt; the entry's
// subject is its code.
type Glued struct {
	Spoiled  string    `json:",omitempty"` // why it is not to be broken
	Spread   time.Time `json:",omitzero"`  // adhesive on the wood
	Clamped  time.Time `json:",omitzero"`  // under full pressure
	OverOpen bool      `json:",omitempty"` // the open time was over before the faces met
	Batch    string    `json:",omitempty"` // where another cartridge or mixing was used than planned
	Note     string    `json:",omitempty"`
}

// Marks say how an adhesive handled, 1 to 5, 0 where not said; the entry's subject
// is the adhesive's name as its labels have it.
type Marks struct {
	Batch    string `json:",omitempty"`
	Spreads  int    `json:",omitempty"`
	Squeezes int    `json:",omitempty"`
	HoldsGap int    `json:",omitempty"`
	Note     string `json:",omitempty"`
}

// Climate is the air of the shop.
type Climate struct {
	Station  string
	Celsius  float64
	Humidity *float64 `json:",omitempty"` // percent
}

// Cured is a look at an adhesive while it cures; the entry's subject is what was
// looked at, see CheckSubject.
type Cured struct {
	Adhesive string // as its labels have it
	Hardness int    `json:",omitempty"` // 1 to 5, 0: not said
	Flexible int    `json:",omitempty"` // 1 to 5, 0: not said
	Note     string `json:",omitempty"`
}

// Broken is one break; the entry's subject is the specimen's code.
type Broken struct {
	Peak     float64 `json:",omitempty"` // as read off, in Unit
	Unit     string  `json:",omitempty"` // N, kN, lbf, kgf, MPa or psi; with a calibration what its sensor shows, such as counts
	AreaMM2  float64 `json:",omitempty"` // that the force was divided by; 0 where Unit is a stress
	Strength float64 `json:",omitempty"` // MPa; 0 only where SetAside gives a reason

	Calibration string  `json:",omitempty"` // Key of the one that turned Peak into a force; empty: none
	Zero        float64 `json:",omitempty"` // shown at no load just before, in Unit; 0 without a calibration

	WoodShare  *float64 `json:",omitempty"` // percent of the broken area
	Failure    string   `json:",omitempty"` // ISO 10365
	RigLimited bool     `json:",omitempty"`
	SetAside   string   `json:",omitempty"`
	Note       string   `json:",omitempty"`
	Moisture   *float64 `json:",omitempty"` // percent

	// Of readings that were taken in from a table.
	Joint      *Joint `json:",omitempty"`
	GlueOrder  int    `json:",omitempty"`
	BreakOrder int    `json:",omitempty"`
	Line       int    `json:",omitempty"`
}

// Noted is a remark or a photo about anything of a trial.
type Noted struct {
	Station string
	Text    string `json:",omitempty"`
}

// KeyOpened says that somebody looked what the blind letters stand for.
type KeyOpened struct{ Broken, Of int }

// PutAway takes a trial off the list. Taking the entry back puts it there again.
type PutAway struct{ Why string }

// TookBack is the content of an entry that takes another back.
type TookBack struct {
	Why string `json:",omitempty"`
}

// OnShelf is an adhesive on the shelf; the entry's subject is its name. Label facts
// are the maker's, written as on the label with their unit.
type OnShelf struct {
	Family   string
	Open     string `json:",omitempty"`
	Clamp    string `json:",omitempty"`
	Cure     string `json:",omitempty"`
	Lowest   string `json:",omitempty"` // temperature of application
	Price    string `json:",omitempty"`
	Content  string `json:",omitempty"`
	Batch    string `json:",omitempty"` // as printed on the package
	UseBy    string `json:",omitempty"`
	Opened   string `json:",omitempty"` // when the package was opened
	Note     string `json:",omitempty"`
	Finished bool   `json:",omitempty"` // used up or thrown away
}

// OnRack is a board, or pieces of one, on the rack; the entry's subject is wood and
// name.
type OnRack struct {
	Wood, Name                 string
	LengthMM, WidthMM, ThickMM float64 `json:",omitempty"`
	Pieces                     int     `json:",omitempty"` // at hand, cut from it
	Uses                       int     `json:",omitempty"` // how often they were glued
	Note                       string  `json:",omitempty"`
	Finished                   bool    `json:",omitempty"`
}

// Rig is the rig that specimens are broken on; the latest one counts.
type Rig struct {
	Name       string
	Force      string  // how force comes to the specimen, in words
	Unit       string  // that its display shows: N, kN, lbf, kgf, MPa or psi
	Resolution float64 `json:",omitempty"` // of the display, in Unit
	Limit      float64 `json:",omitempty"` // rated maximum, in Unit
	Calibrated string  `json:",omitempty"` // date, year-month-day
	How        string  `json:",omitempty"` // how it was calibrated
	Note       string  `json:",omitempty"`
}

// RigCheck is a known mass hung on the rig and what its display showed.
type RigCheck struct {
	MassKG float64
	Shown  float64 // in Unit
	Unit   string
	Note   string `json:",omitempty"`

	Calibration string  `json:",omitempty"` // Key of the one that it is held against; empty: none was in force
	Zero        float64 `json:",omitempty"` // shown at no load just before, in Unit; 0 without a calibration
}

// Settings are of the logbook at large; the latest one counts.
type Settings struct {
	Units string // "si" or "us"
	Unit  string `json:",omitempty"` // that breaks are typed in, where no rig says it
}

// DeviceMet is a phone or tablet that was let in; the entry's subject is its name
// within the logbook.
type DeviceMet struct {
	Name     string
	TokenSum string // SHA-256 of its token, hex
}

func (Asked) kind() string     { return "asked" }
func (Planned) kind() string   { return "planned" }
func (Added) kind() string     { return "added" }
func (Glued) kind() string     { return "glued" }
func (Marks) kind() string     { return "marks" }
func (Climate) kind() string   { return "climate" }
func (Cured) kind() string     { return "cured" }
func (Broken) kind() string    { return "broken" }
func (Noted) kind() string     { return "noted" }
func (KeyOpened) kind() string { return "key opened" }
func (PutAway) kind() string   { return "put away" }
func (TookBack) kind() string  { return "taken back" }
func (OnShelf) kind() string   { return "adhesive" }
func (OnRack) kind() string    { return "board" }
func (Rig) kind() string       { return "rig" }
func (RigCheck) kind() string  { return "rig check" }
func (Settings) kind() string  { return "settings" }
func (DeviceMet) kind() string { return "device" }

func (Asked) claim(string) string       { return "" }
func (Planned) claim(string) string     { return "plan" }
func (Added) claim(s string) string     { return "specimen/" + s }
func (Glued) claim(s string) string     { return "glued/" + s }
func (m Marks) claim(s string) string   { return "marks/" + s + "/" + m.Batch }
func (Climate) claim(string) string     { return "" }
func (Cured) claim(s string) string     { return "cured/" + s }
func (Broken) claim(s string) string    { return "broken/" + s }
func (Noted) claim(string) string       { return "" }
func (KeyOpened) claim(string) string   { return "" }
func (PutAway) claim(string) string     { return "put away" }
func (TookBack) claim(string) string    { return "" }
func (OnShelf) claim(s string) string   { return "adhesive/" + s }
func (OnRack) claim(s string) string    { return "board/" + s }
func (Rig) claim(string) string         { return "" }
func (RigCheck) claim(string) string    { return "" }
func (Settings) claim(string) string    { return "" }
func (DeviceMet) claim(s string) string { return "device/" + s }

// decode reads the content of an entry of a kind. An unknown kind is an error: it
// was written by another version.
func decode(kind string, content json.RawMessage) (Content, error) {
	read, ok := readers[kind]
	if !ok {
		return nil, fmt.Errorf("an entry of the kind %q, which this version does not know", kind)
	}
	return read(content)
}

var readers = map[string]func(json.RawMessage) (Content, error){
	"asked": readAsked, "planned": readPlanned, "added": reader[Added], "glued": reader[Glued], "marks": reader[Marks],
	"climate": reader[Climate], "cured": reader[Cured], "broken": reader[Broken], "noted": reader[Noted],
	"key opened": reader[KeyOpened], "put away": reader[PutAway], "taken back": reader[TookBack],
	"adhesive": reader[OnShelf], "board": reader[OnRack], "rig": reader[Rig], "rig check": reader[RigCheck],
	"calibrated": readCalibrated, "settings": reader[Settings], "device": reader[DeviceMet],
}

func reader[C Content](raw json.RawMessage) (Content, error) {
	var c C
	if err := json.Unmarshal(raw, &c); err != nil {
		return nil, err
	}
	return c, nil
}

// readPlanned reads a plan. One that names what it lacks is an error: everything
// after relies on it.
func readPlanned(raw json.RawMessage) (Content, error) {
	var p Planned
	if err := json.Unmarshal(raw, &p); err != nil {
		return nil, err
	}
	return p, p.check()
}

// readAsked reads a trial's question and keeps the trial file ready to be parsed
// once, when it is first asked for.
func readAsked(raw json.RawMessage) (Content, error) {
	var a Asked
	if err := json.Unmarshal(raw, &a); err != nil {
		return nil, err
	}
	a.parsed = sync.OnceValue(func() *trialfile.Trial {
		if a.File == "" {
			return nil
		}
		t, err := trialfile.Read(bytes.NewReader([]byte(a.File)), "trial")
		if err != nil {
			return nil
		}
		return t
	})
	return a, nil
}
