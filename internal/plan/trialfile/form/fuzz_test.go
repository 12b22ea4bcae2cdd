package form

import (
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bondtrial/internal/plan/trialfile"
)

// FuzzParse checks that no bytes make Parse panic, that a form which it returns
// comes back from its file, and that a file which is right gives the same trial.
func FuzzParse(f *testing.F) {
	f.Add(trialfile.Example())
	for _, s := range []string{
		inches, string(good().TOML()), "", "\xef\xbb\xbfname = 1\r\n", "a.b = 1\n[c]\nd = [1, [2, {e = 3}]]\n", "[[adhesive]]\n[adhesive.x]\ny = 1\n[[adhesive.z]]\nq = 1\n[[adhesive.z]]\nq = 2\n",
		"[[work]]\nclamps = 1\n[[work]]\nclamps = 2\n", "work = {hours = {monday = \"9-17\"}, clamps = 0b1}\n", "unknown = {part = 1}\n[[unknown]]\n", "\"\" = 1\n\"levels.0\" = 2\n",
		"name = '''\n\"\"\"\\'''\n", "[[factor]]\n\"levels.0\" = 1\nlevels = [[1], {a = 2}, 1979-05-27T07:32:00Z]\n", "foo.bar = 1\n\"foo.bar\" = 2\n",
		"board = []\nwood = {name = \"ash\"}\nlabels = 5\nspecimen = 1\n", "name = \"a\\u00e9\\U0001F600\\u0000\"\n", "[a." + strings.Repeat("a.", 300) + "a]\nb = 1\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		form, err := Parse(data)
		if (form == nil) == (err == nil) {
			t.Fatalf("form %v beside the error %v", form, err)
		}
		if err != nil {
			return
		}
		checkForm(t, form)
		once := mustParse(t, string(form.TOML()))
		twice := mustParse(t, string(once.TOML()))
		if d := cmp.Diff(once, twice, sameForm); d != "" {
			t.Fatalf("not settled:\n%s", d)
		}
		if want, err := read(string(data)); err == nil {
			got, err := read(string(form.TOML()))
			if err != nil {
				t.Fatalf("%v\n%s", err, form.TOML())
			}
			if d := cmp.Diff(want, got, sameTrial); d != "" {
				t.Fatalf("another trial:\n%s", d)
			}
		}
	})
}

// FuzzFromValues checks that nothing that is sent makes FromValues panic, and that
// a form which it returns is sent again as it is.
func FuzzFromValues(f *testing.F) {
	f.Add(valuesOf(mustParse(f, string(trialfile.Example()))).Encode())
	for _, s := range []string{"", "name=1&name=2", "adhesive.5.name=x&unknown.0.part=adhesive.5&unknown.0.key=name&unknown.0.value=y", "unknown.0.key=wood&unknown.0.value=1&wood.0.name=ash",
		"unknown.0.part=unknown.0&unknown.0.key=%00&unknown.0.value=1&unknown.1.key=name&unknown.1.value=2", "work.days_off=%0d%0a+2027-05-01&factor.0.levels.0=+"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, query string) {
		v, err := url.ParseQuery(query)
		if err != nil {
			return
		}
		form := FromValues(v)
		checkForm(t, form)
		form.surplus = nil // a page does not send what was not kept
		if d := cmp.Diff(form, FromValues(valuesOf(form)), sameForm); d != "" {
			t.Fatal(d)
		}
	})
}
