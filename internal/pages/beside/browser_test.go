package beside_test

import (
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/pages/frametest"
)

// A calibration pasted on a tablet; the rig's page with it on every screen.
func TestBrowserRig(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	ask(t, s, "/rig", url.Values{"name": {"Lever rig"}, "unit": {"N"}, "force": {"lever of 8 : 1 on a load cell"}, "limit": {"1000"}}, 200)
	br := browsertest.Start(t)
	keep := os.Getenv("BONDTRIAL_PICTURES")
	p := br.Page(browsertest.Tablet)
	p.Open(s.URL + "/rig")
	p.Fill("#calibration-rows", "series,direction,mass_kg,shown\n1,up,ten,1790\n")
	p.Fill("#f-step", "1")
	p.Fill("#f-latitude", "52")
	p.Fill("#f-accuracy", "0.1")
	p.Click("#calibrate button.main")
	p.WaitText("#calibration-problems", "mass_kg")
	for _, v := range p.Axe() {
		t.Error(v)
	}
	if keep != "" {
		p.Screenshot(filepath.Join(keep, "rig-wrong.png"))
	}
	p.Fill("#calibration-rows", frametest.CalibrationTable)
	p.Click("#calibrate button.main")
	p.WaitText("#calibration-head + p", "In force: the calibration of 2027-04-12")
	k := b.Calibrate("2027-04-11")
	ask(t, s, "/rig/checks", url.Values{"masskg": {"40"}, "shown": {"4736"}, "zero": {"812"}, "unit": {"counts"}, "calibration": {k.Key()}}, 200)
	ask(t, s, "/rig/checks", url.Values{"masskg": {"40"}, "shown": {"4776"}, "zero": {"812"}, "unit": {"counts"}, "calibration": {k.Key()}}, 200)
	dark := browsertest.Laptop
	dark.Dark = true
	for name, screen := range map[string]browsertest.Screen{"phone": browsertest.Phone, "tablet": browsertest.Tablet, "dark laptop": dark} {
		p := br.Page(screen)
		p.Open(s.URL + "/rig")
		p.Click("details summary")
		for _, defect := range p.Overflow() {
			t.Errorf("%s: %s", name, defect)
		}
		for _, v := range p.Axe() {
			t.Errorf("%s: %s", name, v)
		}
		if errors := p.Console(); len(errors) > 0 {
			t.Errorf("%s: console: %q", name, errors)
		}
		if keep != "" {
			p.Screenshot(filepath.Join(keep, "rig-"+name+".png"))
		}
	}
}
