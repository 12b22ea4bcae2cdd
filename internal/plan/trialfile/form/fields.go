package form

import (
	"fmt"
	"strings"

	"bondtrial/internal/plan/trialfile"
)

// Part is a part of a form as a page shows it.
type Part struct {
	Name   string // "", "adhesive.0", "work.hours"
	Title  string // in plain words: "Adhesive 1"
	Fields []Field
}

// Field is a field of a form as a page shows it.
type Field struct {
	Name    string // as it is sent: "adhesive.0.open"
	Label   string // in plain words
	Unit    string // of the number to type, empty where there is none or where it is typed as well
	Kind    Kind
	Value   string // as it was typed
	Example string
	Without string // what is taken where it is blank; empty: nothing
	Must    bool   // it must be filled in
	Choices []Choice

	// Spare says that the same measure is typed in its twin, in the other unit,
	// so that a page may leave this one out.
	Spare bool

	Problems []string // to be shown beside it
}

// Choice is one of the values that a field can have.
type Choice struct{ Value, Text string }

// Field returns the field of a key, such as "open". It panics where the part has no
// such key.
func (p Part) Field(key string) Field {
	for _, f := range p.Fields {
		if f.Name == fieldName(p.Name, key) {
			return f
		}
	}
	panic("form: no such field in the part")
}

// Fields returns every part of the form with its fields, in the order of the trial
// file, each field with those of the problems that belong to it. Problems that
// belong to none are not among them.
func (f *Form) Fields(problems ...Problem) []Part {
	said := map[string][]string{}
	for _, p := range problems {
		if p.Field != "" {
			said[p.Field] = append(said[p.Field], p.Message)
		}
	}
	all := f.sections()
	for i := range f.Unknown {
		all = append(all, section{rowName(unknownKind, i), unknownKind, f.Unknown[i].slots()})
	}
	choices := f.choices()
	parts := make([]Part, 0, len(all))
	for _, s := range all {
		p := Part{Name: s.name, Title: title(s), Fields: make([]Field, 0, len(s.slots))}
		for _, c := range s.slots {
			i, _ := lookUp(s.kind, c.key)
			name := fieldName(s.name, c.key)
			p.Fields = append(p.Fields, Field{
				Name: name, Label: i.label, Unit: unitOf(c.key), Kind: i.kind, Value: *c.to,
				Example: i.example, Without: i.without, Must: i.must,
				Choices: choices[fieldName(s.kind, c.key)], Spare: f.spare(s, c.key), Problems: said[name],
			})
		}
		parts = append(parts, p)
	}
	return parts
}

// spare reports whether the twin of a measure is the one to type: the one that is
// filled in, or else the one of the form's units.
func (f *Form) spare(s section, key string) bool {
	other := twin(key)
	if s.find(other) == nil || s.text(key) != "" {
		return false
	}
	if s.text(other) != "" {
		return true
	}
	inches := strings.HasSuffix(key, "_in") || strings.HasSuffix(key, "_in2")
	return inches != f.inInches()
}

func (f *Form) inInches() bool {
	u := strings.ToLower(strings.TrimSpace(f.Units))
	return u == "us" || u == "psi"
}

var titles = map[string]string{
	"": "The trial", "adhesive": "Adhesive", "wood": "Wood", "board": "Board", "reused": "Reused pieces", "factor": "Factor",
	"specimen": "Specimen", "cutting": "Sawing and planing", "work": "Work", "hours": "Hours of work", "labels": "Sheet of labels",
	unknownKind: "Not known to a trial file",
}

func title(s section) string {
	if kind, n, ok := rowNumber(s.name); ok && kind != unknownKind {
		return fmt.Sprintf("%s %d", titles[kind], n+1)
	}
	return titles[s.kind]
}

// choices returns the values of fields that have them, by kind of part and key.
func (f *Form) choices() map[string][]Choice {
	var adhesives, woods, factors, families []Choice
	for _, a := range f.Adhesives {
		adhesives = named(adhesives, a.Name)
	}
	for _, w := range f.Woods {
		woods = named(woods, w.Name)
	}
	for _, c := range f.Factors {
		factors = named(factors, c.Name)
	}
	for _, i := range Families() {
		families = append(families, Choice{i.Key, i.Name})
	}
	yesNo := []Choice{{"true", "yes"}, {"false", "no"}}
	return map[string][]Choice{
		"units":   {{"si", "MPa"}, {"us", "psi"}},
		"blind":   yesNo,
		"control": adhesives,
		"pairs":   append([]Choice{{"off", "off"}}, factors...),

		"adhesive.family":   families,
		"adhesive.retested": yesNo,
		"board.wood":        woods,
		"reused.wood":       woods,
		"specimen.joint": {
			{string(trialfile.BlockShear), "block shear: two blocks, offset, sheared along the bond"},
			{string(trialfile.Lap), "lap: two strips, overlapping, pulled lengthwise"},
			{string(trialfile.Butt), "butt: end to end, pulled apart"},
			{string(trialfile.CrossLap), "cross-lap: crossed at right angles, pulled apart"},
		},
		"work.one_cartridge": yesNo,
		"labels.page":        {{"A4", "A4"}, {"letter", "letter"}},
	}
}

// named adds a name where there is one.
func named(list []Choice, name string) []Choice {
	if name = strings.Join(strings.Fields(name), " "); name == "" {
		return list
	}
	return append(list, Choice{name, name})
}
