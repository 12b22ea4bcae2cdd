package handout

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"time"

	"bondtrial"
	"bondtrial/internal/show"
)

// table writes one line for each specimen in glue-up order.
func (h *handout) table(w io.Writer) error {
	head := []string{"code", "adhesive", "wood"}
	for _, f := range h.Trial.Factors {
		head = append(head, f.Name)
	}
	head = append(head, "board", "piece_1", "piece_2", "pair", "batch", "glue_order", "break_order", "glue_at", "clamp_off_at", "cured_at", "break_at")
	c := csv.NewWriter(w)
	if err := c.Write(head); err != nil {
		return err
	}
	for k := range h.Specimens {
		s, t := &h.Specimens[k], h.Schedule.Times[k]
		row := append([]string{s.Code, h.adhesive(s), s.Wood}, s.Levels...)
		off := ""
		if t.Clamp > 0 {
			off = moment(t.Release)
		}
		row = append(row, s.Board, strconv.Itoa(s.Pieces[0]), strconv.Itoa(s.Pieces[1]), orBlank(s.Pair), orBlank(s.Batch),
			strconv.Itoa(k+1), strconv.Itoa(s.BreakTurn), moment(t.Spread), off, moment(t.Cured), moment(t.Break))
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// readings writes the table that answer reads, without the readings.
func (h *handout) readings(w io.Writer) error {
	head := []string{"specimen", "adhesive", "wood"}
	for _, f := range h.Trial.Factors {
		head = append(head, f.Name)
	}
	peak, area := "peak_n", "area_mm2"
	bonded := float64(h.Trial.Specimen.Area)
	if h.Trial.Units == bondtrial.US {
		peak, area = "peak_lbf", "area_in2"
		bonded /= 25.4 * 25.4
	}
	head = append(head, "board")
	if h.batches() > 0 {
		head = append(head, "batch")
	}
	if h.Trial.Pairs != "" {
		head = append(head, "pair")
	}
	head = append(head, "glue_order", "break_order", "session", peak, area, "wood_failure_pct", "failure", "rig_limited", "set_aside", "note")
	c := csv.NewWriter(w)
	if err := c.Write(head); err != nil {
		return err
	}
	for _, i := range h.BreakOrder {
		s := &h.Specimens[i]
		row := append([]string{s.Code, h.adhesive(s), s.Wood}, s.Levels...)
		row = append(row, s.Board)
		if h.batches() > 0 {
			row = append(row, orBlank(s.Batch))
		}
		if h.Trial.Pairs != "" {
			row = append(row, orBlank(s.Pair))
		}
		row = append(row, strconv.Itoa(i+1), strconv.Itoa(s.BreakTurn), h.Schedule.Times[i].Break.Format(time.DateOnly),
			"", show.Trim(bonded), "", "", "", "", "")
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func orBlank(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// moment is a time with its offset from UTC.
func moment(t time.Time) string { return t.Format("2006-01-02T15:04-07:00") }

// planFile is the plan for programs, version 1 (docs/plan.md).
type planFile struct {
	Schema     int          `json:"schema"`
	Trial      string       `json:"trial"`
	Seed       uint64       `json:"seed"`
	Blind      bool         `json:"blind"`
	PerCell    int          `json:"specimens_per_cell"`
	Adhesives  []string     `json:"adhesives"`
	Control    *string      `json:"control"`
	Factors    []string     `json:"factors"`
	Units      string       `json:"units"`
	Page       string       `json:"page"`
	Start      string       `json:"start"`
	Numbers    []planNumber `json:"numbers"`
	Deals      []planDeal   `json:"deals"`
	Specimens  []planJoint  `json:"specimens"`
	Checks     []planCheck  `json:"cure_checks"`
	Ends       string       `json:"ends"`
	EndsBounds string       `json:"ends_not_before"`
}

type planNumber struct {
	N         int     `json:"n"`
	Wood      string  `json:"wood"`
	Found     float64 `json:"found"`
	FoundSE   float64 `json:"found_se"`
	Same      float64 `json:"same"`
	WoodLimit float64 `json:"wood_limited"`
	Width     *number `json:"interval_ratio"`
}

type planDeal struct {
	Wood       string   `json:"wood"`
	Efficiency float64  `json:"efficiency"`
	Bound      float64  `json:"bound"`
	Places     int      `json:"places"`
	Used       int      `json:"used"`
	Boards     int      `json:"boards"`
	Spare      []string `json:"spare"`
}

type planJoint struct {
	Code     string            `json:"code"`
	Adhesive string            `json:"adhesive"`
	Wood     string            `json:"wood"`
	Factors  map[string]string `json:"factors"`
	Board    string            `json:"board"`
	Pieces   [2]int            `json:"pieces"`
	Pair     int               `json:"pair,omitempty"`
	Batch    int               `json:"batch,omitempty"`
	Glue     int               `json:"glue_order"`
	Break    int               `json:"break_order"`
	GlueAt   string            `json:"glue_at"`
	BreakAt  string            `json:"break_at"`
}

type planCheck struct {
	At    string   `json:"at"`
	Why   string   `json:"why"`
	Codes []string `json:"codes"`
}

// number is written as null where it does not exist.
type number float64

func (h *handout) json(w io.Writer) error {
	p := planFile{Schema: 1, Trial: h.Trial.Name, Seed: h.Trial.Seed, Blind: h.Trial.Blind, PerCell: h.PerCell,
		Ends: moment(h.Schedule.End), EndsBounds: moment(h.Schedule.Bound.End())}
	p.Adhesives, p.Factors, p.Units = h.inOrder(), []string{}, "si"
	if h.Trial.Units == bondtrial.US {
		p.Units = "us"
	}
	p.Page, p.Start = h.Trial.Labels.Page, h.Trial.Work.Start.String()
	for a, x := range h.Trial.Adhesives {
		if x.Name == h.Trial.Control && !h.Trial.Blind { // its letter would be told
			p.Control = &h.Names[a]
		}
	}
	for _, f := range h.Trial.Factors {
		p.Factors = append(p.Factors, f.Name)
	}
	for k := range h.Numbers.Points {
		point := &h.Numbers.Points[k]
		for _, x := range point.Woods {
			n := planNumber{N: point.N, Wood: x.Wood, Found: x.Found.Mean, FoundSE: x.Found.SE, Same: x.Same.Mean, WoodLimit: x.WoodLimited}
			if width := number(x.Simultaneous.Mean); width == width {
				n.Width = &width
			}
			p.Numbers = append(p.Numbers, n)
		}
	}
	for _, d := range h.Deals {
		p.Deals = append(p.Deals, planDeal{d.Wood, d.Efficiency, d.Bound, d.Places, d.Used, d.Boards, append([]string{}, d.Spare...)})
	}
	for k := range h.Specimens {
		s, t := &h.Specimens[k], h.Schedule.Times[k]
		j := planJoint{s.Code, h.adhesive(s), s.Wood, map[string]string{}, s.Board, s.Pieces, s.Pair, s.Batch, k + 1, s.BreakTurn, moment(t.Spread), moment(t.Break)}
		for i, f := range h.Trial.Factors {
			j.Factors[f.Name] = s.Levels[i]
		}
		p.Specimens = append(p.Specimens, j)
	}
	for _, c := range h.Schedule.Checks {
		x := planCheck{At: moment(c.At), Why: c.Reasons()}
		for _, i := range c.Specimens {
			x.Codes = append(x.Codes, h.Specimens[i].Code)
		}
		p.Checks = append(p.Checks, x)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(p); err != nil {
		return fmt.Errorf("the plan for programs: %w", err)
	}
	return nil
}
