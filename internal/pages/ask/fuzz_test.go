package ask

import (
	"net/url"
	"testing"

	"bondtrial/internal/record"
)

// Whatever is sent as a form is taken without a panic, never grows beyond what a
// trial may have, and stays what it is when it is sent back.
func FuzzTyped(f *testing.F) {
	for _, s := range []string{"name=x&do=save", "do=add+adhesive&adhesive.0.name=Tarn", "do=remove+wood+0&wood.0.name=ash", "do=rack+7", "do=add+factor&factor.7.name=%00",
		"adhesive.99999999999.name=x", "board.0.wood=ash&do=add+board", "unknown.0.key=a&unknown.0.value=b&unknown.0.part=work"} {
		f.Add(s)
	}
	things := &record.Things{Shelf: []record.Adhesive{{Name: "Tarn", OnShelf: record.OnShelf{Family: "pva", Open: "soon"}}},
		Rack: []record.Board{{Stamp: record.Stamp{Seq: 7}, OnRack: record.OnRack{Wood: "ash", Name: "A", LengthMM: 900}}}}
	f.Fuzz(func(t *testing.T, query string) {
		sent, err := url.ParseQuery(query)
		if err != nil {
			return
		}
		s, _ := typed(sent, things)
		for _, k := range kinds {
			if n := count(s.form, k.key); n > k.most {
				t.Errorf("%d rows of the kind %s", n, k.key)
			}
		}
		back := url.Values{}
		for _, p := range s.form.Fields() {
			for _, x := range p.Fields {
				back.Set(x.Name, x.Value)
			}
		}
		again, _ := typed(back, things)
		if a, b := string(s.form.TOML()), string(again.form.TOML()); a != b {
			t.Errorf("sent once:\n%s\nsent back:\n%s", a, b)
		}
	})
}
