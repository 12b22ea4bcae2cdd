package plan

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math/rand/v2"

	"bondtrial/internal/plan/cut"
	"bondtrial/internal/plan/howmany"
	"bondtrial/internal/plan/order"
	"bondtrial/internal/plan/schedule"
	"bondtrial/internal/plan/shortcode"
	"bondtrial/internal/plan/trialfile"
)

// Plan is what is to be done. The same trial gives the same plan, whatever the
// machine and the number of its processors.
type Plan struct {
	Trial *trialfile.Trial

	// Expected lists what was taken for strengths that the file does not give.
	Expected []trialfile.Assumption

	Numbers   *howmany.Result // what each number of specimens would find
	PerCell   int             // specimens of each adhesive in each condition
	Shortened string          // why PerCell is less than what is recommended; empty where it is not

	Specimens  []Specimen // in glue-up order
	BreakOrder []int      // indices into Specimens
	Names      []string   // of each adhesive on labels and sheets: a blind letter, or its name
	Deals      []Deal     // one a wood
	Balance    []Balance  // of the glue-up order, then of the breaking order
	Schedule   *schedule.Plan
	Cuts       []Cut // one for each wood of which something is cut
}

// Cut is how the boards of a wood are cut.
type Cut struct {
	Wood string
	*cut.Plan
}

// Specimen is one joint of the plan.
type Specimen struct {
	Code      string
	Adhesive  int // index into Trial.Adhesives
	Wood      string
	Levels    []string // of each factor of the trial
	Board     string
	Pieces    [2]int // numbers of the two pieces, within the board
	Pair      int    // specimens of one pair, cut side by side, share a number from 1; 0: no pairs
	Batch     int    // cartridge or mixing, numbered from 1 as they are opened; 0: no batches
	BreakTurn int    // place in the breaking order, from 1
}

// Deal says how well the boards of a wood serve the comparisons on it.
type Deal struct {
	Wood       string
	Efficiency float64 // of the comparisons, over what boards without differences would give
	Bound      float64 // no way of dealing reaches more
	Places     int     // specimens that the boards could give
	Used       int
	Boards     int      // that specimens come from
	Spare      []string // boards that give none
}

// Balance says how an order meets the adhesives.
type Balance struct {
	Order   string // "glue-up" or "breaking"
	Figures []order.Figure
	Kept    bool // the limits are kept as far as the numbers allow
}

// Streams of random numbers, one for each purpose, so that more of one does not
// change another.
const (
	streamDeal = 1 + iota
	streamPlaces
	streamCodes
	streamNames
	streamGlueUp
	streamBreaking
)

// source is the random numbers of one stream. They depend on the names in the
// trial as well as on the seed, so that the letters of one trial tell nothing of
// those of another with the same seed.
func (p *Plan) source(stream uint64) *rand.Rand {
	h := sha256.New()
	fmt.Fprintf(h, "%d %q", p.Trial.Seed, p.Trial.Name)
	for _, a := range p.Trial.Adhesives {
		fmt.Fprintf(h, " %q", a.Name)
	}
	return rand.New(rand.NewPCG(binary.LittleEndian.Uint64(h.Sum(nil)), stream))
}

// Options are what does not belong to the trial.
type Options struct {
	Trials   int                              // simulated for each number of specimens; 0: the usual
	Progress func(stage string, done, of int) // may be nil
}

// Make plans a trial. The error says what is short and by how much where the trial
// is impossible, and is ctx's where ctx ends first.
func Make(ctx context.Context, t *trialfile.Trial, o Options) (*Plan, error) {
	if o.Progress == nil {
		o.Progress = func(string, int, int) {}
	}
	p := &Plan{Trial: t}
	racks, err := stack(t)
	if err != nil {
		return nil, err
	}
	if err := p.number(ctx, racks, o); err != nil {
		return nil, err
	}
	if err := p.deal(ctx, racks, o); err != nil {
		return nil, err
	}
	if err := p.name(); err != nil {
		return nil, err
	}
	if err := p.order(); err != nil {
		return nil, err
	}
	if p.Schedule, err = p.when(); err != nil {
		return nil, fmt.Errorf("when: %w", err)
	}
	return p, nil
}

// name gives specimens their codes and adhesives the names on labels.
func (p *Plan) name() error {
	codes, err := shortcode.Draw(len(p.Specimens), nil, p.source(streamCodes))
	if err != nil {
		return err
	}
	for i := range p.Specimens {
		p.Specimens[i].Code = codes[i]
	}
	if p.Trial.Blind {
		p.Names, err = shortcode.Blind(len(p.Trial.Adhesives), p.source(streamNames))
		return err
	}
	for _, a := range p.Trial.Adhesives {
		p.Names = append(p.Names, a.Name)
	}
	return nil
}
