package publish

import (
	"encoding/json"
	"io"

	"bondtrial/internal/answer"
)

// jsonAnswer is the machine-readable answer, version 1 (docs/formats.md).
// Strengths are in MPa whatever the units shown to people. What does not exist
// is null.
type jsonAnswer struct {
	Schema       int     `json:"schema"`
	Seed         uint64  `json:"seed"`
	Draws        int     `json:"draws"`
	ThresholdPct float64 `json:"threshold_pct"`
	Readings     struct {
		Used        int `json:"used"`
		WoodLimited int `json:"wood_limited"`
		RigLimited  int `json:"rig_limited"`
		SetAside    int `json:"set_aside"`
	} `json:"readings"`
	Cells       []jsonCell        `json:"cells"`
	Pairs       []jsonPair        `json:"pairs"`
	Control     *string           `json:"control"`
	Best        []jsonBest        `json:"best"`
	Effects     []jsonEffect      `json:"factor_effects"`
	WoodLimit   []jsonWood        `json:"wood_limit"`
	Spread      jsonSpread        `json:"spread"`
	Fit         jsonFit           `json:"fit"`
	Sensitivity []jsonSensitivity `json:"sensitivity"`
	Warnings    []string          `json:"warnings"`
}

type jsonCondition struct {
	Wood    *string           `json:"wood"`
	Factors map[string]string `json:"factors"`
}

type jsonCell struct {
	Adhesive string `json:"adhesive"`
	jsonCondition
	N           int          `json:"n"`
	WoodLimited int          `json:"wood_limited"`
	Typical     answer.Value `json:"typical_mpa"`
	Low         answer.Value `json:"low_mpa"`
	High        answer.Value `json:"high_mpa"`
	OnlyAtLeast bool         `json:"only_at_least"`
	AtLeast     answer.Value `json:"at_least_mpa"`
	SDLog       answer.Value `json:"sd_log"`
	Char5       answer.Value `json:"char5_mpa"`
}

type jsonPair struct {
	jsonCondition
	A          string         `json:"a"`
	B          string         `json:"b"`
	Ratio      answer.Value   `json:"ratio"`
	Low        answer.Value   `json:"low"`
	High       answer.Value   `json:"high"`
	LowSim     answer.Value   `json:"low_sim"`
	HighSim    answer.Value   `json:"high_sim"`
	PAStronger answer.Value   `json:"p_a_stronger"`
	Verdict    answer.Verdict `json:"verdict"`
}

type jsonBest struct {
	jsonCondition
	Adhesive string  `json:"adhesive"`
	PBest    float64 `json:"p_best"`
}

type jsonEffect struct {
	Factor  string         `json:"factor"`
	A       string         `json:"a"`
	B       string         `json:"b"`
	Ratio   answer.Value   `json:"ratio"`
	Low     answer.Value   `json:"low"`
	High    answer.Value   `json:"high"`
	Low90   answer.Value   `json:"low90"`
	High90  answer.Value   `json:"high90"`
	Verdict answer.Verdict `json:"verdict"`
}

type jsonWood struct {
	Wood     *string      `json:"wood"`
	Typical  answer.Value `json:"typical_mpa"`
	Low      answer.Value `json:"low_mpa"`
	High     answer.Value `json:"high_mpa"`
	Handbook answer.Value `json:"handbook_mpa"`
}

type jsonSpread struct {
	Residual answer.Value `json:"residual_sd_log"`
	Board    answer.Value `json:"board_sd_log"`
	Session  answer.Value `json:"session_sd_log"`
	Trial    answer.Value `json:"trial_sd_log"`
}

type jsonFit struct {
	Lognormal answer.Value `json:"lognormal_loglik"`
	Weibull   answer.Value `json:"weibull_loglik"`
	MaxRHat   answer.Value `json:"max_rhat"`
	MinESS    answer.Value `json:"min_ess"`
}

type jsonSensitivity struct {
	ThresholdPct float64 `json:"threshold_pct"`
	Changed      *int    `json:"changed_verdicts"`
}

// JSON writes the machine-readable answer.
func JSON(w io.Writer, a *answer.Answer) error {
	j := jsonAnswer{
		Schema: 1, Seed: a.Settings.Seed, Draws: a.Draws, ThresholdPct: float64(a.Settings.Threshold),
		Cells: []jsonCell{}, Pairs: []jsonPair{}, Best: []jsonBest{}, Effects: []jsonEffect{}, WoodLimit: []jsonWood{},
		Sensitivity: []jsonSensitivity{}, Warnings: append([]string{}, a.Warnings...),
		Control: nameOrNull(a.Settings.Control),
		Spread:  jsonSpread{a.Spread.Residual, a.Spread.Board, a.Spread.Session, a.Spread.Trial},
		Fit:     jsonFit{a.Fit.LognormalLogLik, a.Fit.WeibullLogLik, answer.Value(a.Fit.MaxRHat), answer.Value(a.Fit.MinESS)},
	}
	j.Readings.Used, j.Readings.WoodLimited = a.Counts.Used, a.Counts.WoodLimited
	j.Readings.RigLimited, j.Readings.SetAside = a.Counts.RigLimited, a.Counts.SetAside
	for _, c := range a.Cells {
		j.Cells = append(j.Cells, jsonCell{c.Adhesive, condition(c.Condition), c.N, c.WoodLimited,
			c.Typical, c.Low, c.High, c.OnlyAtLeast, c.AtLeast, c.SDLog, c.Char5})
	}
	for _, p := range a.Pairs {
		j.Pairs = append(j.Pairs, jsonPair{condition(p.Condition), p.A, p.B, p.Ratio, p.Low, p.High, p.LowSim, p.HighSim, p.PAStronger, p.Verdict})
	}
	for _, b := range a.Best {
		j.Best = append(j.Best, jsonBest{condition(b.Condition), b.Adhesive, b.PBest})
	}
	for _, e := range a.Effects {
		j.Effects = append(j.Effects, jsonEffect{e.Factor, e.A, e.B, e.Ratio, e.Low, e.High, e.Low90, e.High90, e.Verdict})
	}
	for _, l := range a.WoodLimits {
		j.WoodLimit = append(j.WoodLimit, jsonWood{nameOrNull(l.Wood), l.Typical, l.Low, l.High, l.Handbook})
	}
	for _, s := range a.Sensitivity {
		js := jsonSensitivity{ThresholdPct: float64(s.Threshold)}
		if s.Failed == "" {
			changed := len(s.Changes)
			js.Changed = &changed
		}
		j.Sensitivity = append(j.Sensitivity, js)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(j)
}

func condition(c answer.Condition) jsonCondition {
	factors := c.Factors
	if factors == nil {
		factors = map[string]string{}
	}
	return jsonCondition{nameOrNull(c.Wood), factors}
}

func nameOrNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
