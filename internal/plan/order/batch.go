package order

// drawBatches deals the specimens to batches and orders the batches. size is the
// batch size of each adhesive, 0 for none.
func drawBatches(units []unit, size []int, c chance) Order {
	batches, of := deal(units, size, c)
	sequence, draws, kept := arrange(of, len(size), c)
	o := Order{Sequence: make([]int, 0, len(units)), Batch: make([]int, len(units)), Draws: draws, Kept: kept}
	for k, b := range sequence {
		shuffle(c, batches[b])
		for _, s := range batches[b] {
			o.Batch[s] = k + 1
			o.Sequence = append(o.Sequence, s)
		}
	}
	return o
}

// deal returns the specimens of each batch, and each batch as a unit to be
// ordered: its cell is its size, so that batches of one size mirror each other.
func deal(units []unit, size []int, c chance) (batches [][]int, of []unit) {
	for a, most := range size {
		var mine []int
		for _, cell := range byCell(units, a, c) {
			mine = append(mine, cell...)
		}
		if most == 0 {
			most = 1
		}
		count := (len(mine) + most - 1) / most
		first := len(batches)
		batches = append(batches, make([][]int, count)...)
		for i, s := range mine {
			b := first + i%count
			batches[b] = append(batches[b], s)
		}
		for _, b := range batches[first:] {
			of = append(of, unit{a, len(b)})
		}
	}
	return batches, of
}

// byCell returns the units of adhesive a cell by cell, in random order within a
// cell and with the cells in random order.
func byCell(units []unit, a int, c chance) [][]int {
	var cells [][]int
	at := make(map[int]int)
	for i, u := range units {
		if u.adhesive != a {
			continue
		}
		k, ok := at[u.cell]
		if !ok {
			k = len(cells)
			at[u.cell] = k
			cells = append(cells, nil)
		}
		cells[k] = append(cells[k], i)
	}
	for _, cell := range cells {
		shuffle(c, cell)
	}
	shuffle(c, cells)
	return cells
}
