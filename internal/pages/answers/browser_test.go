package answers

import (
	"context"
	"testing"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/record"
)

// On every screen the answer is worked out at once, shown without defects, and leads
// to the readings by keyboard. A break that another device records is told.
func TestBrowserAnswer(t *testing.T) {
	b := browsertest.Start(t)
	for name, screen := range map[string]browsertest.Screen{"phone": browsertest.Phone, "laptop": browsertest.Laptop} {
		t.Run(name, func(t *testing.T) {
			d := newDesk(t)
			id := d.broken(false, 15)
			p := b.For(t).Page(screen)
			p.Open(d.site.URL + "/trials/" + id + "/answer")
			p.WaitText("h2", "How strong") // without a hand
			sound(t, p)
			p.Eval("document.querySelector('.answers-rows a').focus()", nil)
			p.Press("Enter")
			p.WaitText("h1", "Readings: ")
			sound(t, p)
			p.Open(d.site.URL + "/trials/" + id + "/answer")
			p.WaitText("h2", "How strong")
			s := d.Trial(id).ToBreak()[0]
			share := 10.0
			if _, err := d.Book.Add(context.Background(), record.Who{By: "Bo", Device: "phone 2"}, id, s.Code,
				record.Broken{Peak: 1500, Unit: "N", AreaMM2: 200, Strength: 7.5, WoodShare: &share}); err != nil {
				t.Fatal(err)
			}
			p.WaitText("#answers-since", "1 more reading since.")
			sound(t, p)
			p.Click("#answers-since button")
			p.WaitText(".answers-sentences", "16 readings used")
			p.Gone("#answers-since button")
			p.Click("#settings summary")
			sound(t, p)
			p.Fill("#margin", "0")
			p.Click("#settings button.main")
			p.WaitText("#margin-wrong", "give per cent above 0")
			sound(t, p)
			if c := p.Console(); len(c) > 1 { // the status of the page above is told there
				t.Errorf("the console says %q", c)
			}
		})
	}
}

// Long work can be stopped by the button, and begun again.
func TestBrowserStop(t *testing.T) {
	free := make(chan struct{})
	d := deskWith(t, func(ctx context.Context, o *order, tell func(string, int, int)) (*Kept, error) {
		tell("the bonds", 45, 100)
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-free:
			return compute(ctx, o, tell)
		}
	})
	id := d.small()
	p := browsertest.Start(t).Page(browsertest.Phone)
	p.Open(d.site.URL + "/trials/" + id + "/answer")
	p.WaitText(".answers-words", "The bonds: 45 % sampled")
	sound(t, p)
	p.Tap("form[action*='/answer/stop'] button")
	p.WaitText("#work-title", "Stopped")
	sound(t, p)
	close(free)
	p.Tap("form[action*='/answer/run'] button")
	p.WaitText("h2", "How strong")
}

// sound fails where the page has defects of layout or barriers.
func sound(t *testing.T, p *browsertest.Page) {
	t.Helper()
	for _, defect := range p.Overflow() {
		t.Errorf("%s: %s", p.URL(), defect)
	}
	for _, v := range p.Axe() {
		t.Errorf("%s: %v", p.URL(), v)
	}
}
