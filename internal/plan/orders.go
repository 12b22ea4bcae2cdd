package plan

import (
	"strings"

	"bondtrial/internal/plan/order"
)

// order draws the orders of glueing and breaking and puts the specimens in the
// first.
func (p *Plan) order() error {
	drawn, err := order.Draw(p.units(p.Trial.Work.OneCartridge), p.source(streamGlueUp))
	if err != nil {
		return err
	}
	p.balance("glue-up", drawn)
	glued := make([]Specimen, 0, len(p.Specimens))
	for _, i := range drawn.Sequence {
		s := p.Specimens[i]
		if drawn.Batch != nil {
			s.Batch = drawn.Batch[i]
		}
		glued = append(glued, s)
	}
	p.Specimens = glued
	if drawn, err = order.Draw(p.units(false), p.source(streamBreaking)); err != nil {
		return err
	}
	p.balance("breaking", drawn)
	p.BreakOrder = drawn.Sequence
	for turn, i := range drawn.Sequence {
		p.Specimens[i].BreakTurn = turn + 1
	}
	return nil
}

// units are the specimens as package order sees them.
func (p *Plan) units(batches bool) []order.Specimen {
	units := make([]order.Specimen, len(p.Specimens))
	for i, s := range p.Specimens {
		a := p.Trial.Adhesives[s.Adhesive]
		units[i] = order.Specimen{Adhesive: a.Name, Cell: strings.Join(append([]string{s.Wood}, s.Levels...), "\x00")}
		if batches {
			units[i].Batch = p.batchSize(s.Adhesive)
		}
	}
	return units
}

// rounds is in how many batches each adhesive is glued at least, where one is open
// at a time: so that batches can be told from adhesives, and that no adhesive has
// the first day to itself.
const rounds = 4

// batchSize is the largest batch of an adhesive.
func (p *Plan) batchSize(adhesive int) int {
	n := 0
	for i := range p.Specimens {
		if p.Specimens[i].Adhesive == adhesive {
			n++
		}
	}
	size := (n + rounds - 1) / rounds
	if most := p.Trial.Adhesives[adhesive].PerBatch; most > 0 {
		size = min(size, most)
	}
	return size
}

func (p *Plan) balance(name string, drawn order.Order) {
	adhesives := make([]string, len(p.Specimens))
	for i, s := range p.Specimens {
		adhesives[i] = p.Trial.Adhesives[s.Adhesive].Name
	}
	p.Balance = append(p.Balance, Balance{name, order.Balance(drawn.Sequence, adhesives), drawn.Kept})
}
