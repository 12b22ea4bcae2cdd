package paper

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"
)

var planned = time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)

// Codes of five characters, as short as those that trials use.
func sampleCodes(n int) []string {
	const letters = "2456789CDHJKMPVWX"
	rng := rand.New(rand.NewPCG(1, 2))
	seen := make(map[string]bool)
	var codes []string
	for len(codes) < n {
		var b [5]byte
		for i := range b {
			b[i] = letters[rng.IntN(len(letters))]
		}
		if !seen[string(b[:])] {
			seen[string(b[:])] = true
			codes = append(codes, string(b[:]))
		}
	}
	return codes
}

// Names such as people give, two of them too long for any label and alike at both
// ends, one with letters whose code in UTF-16 holds a carriage return, brackets
// and a backslash.
var sampleAdhesives = []string{
	"PVA",
	"Polyurethane, one part",
	"Epoxy 1:1, thickened with cotton flock and left for 24 h at 15 °C – Ĩčĩŝ ≥ µ²",
	"Resorcinol, mixed in the shop at 20 °C with 5 % of extender from the first drum of the year, sieved",
	"Resorcinol, mixed in the shop at 20 °C with 5 % of extender from the second drum of the year, sieved",
}

const sampleTrial = "Esche & Lärche: four glues, winter 2026/27 – Клей, κόλλα"

var sampleCautions = []string{
	"Polyurethane adhesives hold isocyanates and epoxy hardeners amines, which can make you allergic for life; solvents burn. Gloves, fresh air, no flame, and the label's safety sheet first.",
	"A second caution, of one line.",
}

func sampleLabels(sheet LabelSheet, n int) Labels {
	in := Labels{Sheet: sheet, First: 3, Trial: sampleTrial, Date: planned}
	for i, c := range sampleCodes(n) {
		l := Label{Code: c, Adhesive: sampleAdhesives[i%5], Wood: []string{"ash", "larch"}[i%2], Board: fmt.Sprint(i/6 + 1), Pieces: []string{fmt.Sprint(2*i + 1), fmt.Sprint(2*i + 2)}}
		switch i % 7 {
		case 3:
			l.Wood = "Robinia pseudoacacia from the dry slope above the mill, felled in the winter of 2019"
		case 5:
			l.Pieces = []string{"upper half of the long offcut"}
		case 6:
			l.Wood, l.Board, l.Pieces = "", "", nil
		}
		in.Labels = append(in.Labels, l)
	}
	return in
}

func sampleGlueUp(p Size, n int) GlueUp {
	in := GlueUp{Paper: p, Head: Head{sampleTrial, planned, sampleCautions}}
	for i, c := range sampleCodes(n) {
		r := GlueUpRow{
			Number: i + 1, Code: c, Adhesive: sampleAdhesives[i%5], Wood: []string{"ash", "larch"}[i%2],
			Pieces: fmt.Sprintf("board %d: %d + %d", i/6+1, 2*i+1, 2*i+2), Planned: planned.Add(time.Duration(i) * 11 * time.Minute),
			OpenLimit: []time.Duration{8 * time.Minute, 90 * time.Minute, 0}[i%3], Group: fmt.Sprintf("session %d", i/25+1),
		}
		if i >= 25 {
			r.Planned = r.Planned.Add(24 * time.Hour)
		}
		if i == 4 {
			r.Wood, r.Pieces = "Robinia pseudoacacia from the dry slope above the mill", strings.Repeat("a long offcut, ", 12)
		}
		in.Rows = append(in.Rows, r)
	}
	return in
}

func sampleBreaks(p Size, n int) Breaks {
	in := Breaks{Paper: p, Head: Head{sampleTrial, planned, []string{
		"Breaking joints throws splinters and frees stored force: wear eye protection, keep a screen between the specimen and your face, keep others away.",
		"A comparison on the bench is no design value. Joints that carry people or loads go by the local building codes and by those licensed to design them.",
	}}, Codes: []string{"SF: wood, away from the bond", "CSF: wood, close to the bond", "CF: inside the adhesive", "AF: at the interface"}}
	for i, c := range sampleCodes(n) {
		in.Rows = append(in.Rows, BreakRow{Number: i + 1, Code: c, Adhesive: sampleAdhesives[(i*7)%5], Earliest: planned.Add(time.Duration(168+i%4*24) * time.Hour), Group: ""})
	}
	return in
}

func sampleKey(p Size, n int) Key {
	in := Key{Paper: p, Head: Head{Trial: sampleTrial, Date: planned}}
	for i := range n {
		in.Entries = append(in.Entries, KeyEntry{string([]byte{"GHJKLPSTVWXZ"[i%12], "ABCDEFGH"[i/12]}), sampleAdhesives[i%5] + strings.Repeat("!", i/5)})
	}
	return in
}
