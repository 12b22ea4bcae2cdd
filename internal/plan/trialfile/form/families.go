package form

import "bondtrial/internal/plan/trialfile"

// FamilyInfo is a family of adhesives and what is usual for it. A text is empty
// where nothing is usual and the form must say it; without a Lowest, no
// temperature is checked.
type FamilyInfo struct {
	Key         string // as in a trial file: "pva-yellow"
	Name        string // in plain words: "yellow PVA (aliphatic)"
	Open, Clamp string // "5 min"; Clamp is "none" where none is needed
	Cure        string // "7 d"
	Lowest      string // °C: "10"
	Source      string // of all but Cure
	CureSource  string
}

// Families returns all families in the order of the documentation.
func Families() []FamilyInfo {
	var all []FamilyInfo
	for _, f := range trialfile.Families() {
		u, _ := f.Usual() // it is one of those that there are
		all = append(all, FamilyInfo{string(f), u.What, u.Open, u.Clamp, u.Cure, u.Lowest, u.Source, u.CureSource})
	}
	return all
}
