package table

import "testing"

func TestNumber(t *testing.T) {
	const point, comma, semicolon = pointMark, commaMark, ';'
	const mixed = "the file mixes decimal points, as in 8.1, and decimal commas, as in 8,1: write one kind throughout"
	for _, c := range []struct {
		text    string
		sep     byte
		mark    mark
		want    float64
		message string
	}{
		{"8.1", ',', anyMark, 8.1, ""},
		{"8", ',', anyMark, 8, ""},
		{"+8.1", ',', anyMark, 8.1, ""},
		{"-8.1", ',', anyMark, -8.1, ""},
		{".5", ',', anyMark, 0.5, ""},
		{"8.", ',', anyMark, 8, ""},
		{"008.10", ',', anyMark, 8.1, ""},
		{"8.1e3", ',', anyMark, 8100, ""},
		{"8.1E-3", ',', anyMark, 0.0081, ""},
		{"8e+0", ',', anyMark, 8, ""},
		{"1e-400", ',', anyMark, 0, ""},
		{"8,1", semicolon, anyMark, 8.1, ""},
		{"8,1e3", semicolon, anyMark, 8100, ""},
		{"8,1", '\t', anyMark, 8.1, ""},
		{"8,1", semicolon, comma, 8.1, ""},
		{"8", semicolon, comma, 8, ""},
		{"8,1", ',', anyMark, 0, wrongComma},
		{"8,1", semicolon, point, 0, mixed},
		{"8.1", semicolon, comma, 0, mixed},
		{"1.234,5", semicolon, anyMark, 0, wrongThousands},
		{"1,234.5", semicolon, anyMark, 0, wrongThousands},
		{"1,234.5", ',', anyMark, 0, wrongThousands},
		{"1,234,567", ',', anyMark, 0, wrongThousands},
		{"1.234.567", semicolon, anyMark, 0, wrongThousands},
		{"1 234", ',', anyMark, 0, wrongThousands},
		{"1\u00a0234", ',', anyMark, 0, wrongThousands},
		{"1\u202f234,5", semicolon, anyMark, 0, wrongThousands},
		{"1'234", ',', anyMark, 0, wrongThousands},
		{"1’234", ',', anyMark, 0, wrongThousands},
		{"8.1 MPa", ',', anyMark, 0, wrongUnit},
		{"8.1MPa", ',', anyMark, 0, wrongUnit},
		{"8.1%", ',', anyMark, 0, wrongUnit},
		{"8.1e", ',', anyMark, 0, wrongUnit},
		{"8.1e3.5", ',', anyMark, 0, wrongUnit},
		{"8-1", ',', anyMark, 0, wrongTwo},
		{"8.1 – 9", ',', anyMark, 0, wrongTwo},
		{"8 to 9.5", ',', anyMark, 0, wrongTwo},
		{"8-", ',', anyMark, 0, wrongUnit},
		{"1,234", ',', anyMark, 0, "a comma that may divide thousands or decimals: write 1234 or 1.234"},
		{"-12,345", ',', anyMark, 0, "a comma that may divide thousands or decimals: write -12345 or -12.345"},
		{"0,234", ',', anyMark, 0, wrongComma},
		{"1234,567", ',', anyMark, 0, wrongComma},
		{"1,234", semicolon, anyMark, 1.234, ""},
		{"8.Jan", ',', anyMark, 0, wrongUnit},
		{"0x1p4", ',', anyMark, 0, wrongPlain},
		{"0b11", ',', anyMark, 0, wrongPlain},
		{"1_000", ',', anyMark, 0, wrongPlain},
		{"1e400", ',', anyMark, 0, wrongRange},
		{"-1e400", ',', anyMark, 0, wrongRange},
		{"strong", ',', anyMark, 0, wrongNumber},
		{"−8.1", ',', anyMark, 0, wrongNumber}, // a minus sign that is not ASCII
		{"８", ',', anyMark, 0, wrongNumber},    // a full-width digit
		{"+", ',', anyMark, 0, wrongNumber},
		{",", semicolon, anyMark, 0, wrongNumber},
		{"e5", ',', anyMark, 0, wrongNumber},
	} {
		d := decimals{sep: c.sep, mark: c.mark, aPoint: "8.1", aComma: "8,1"}
		v, message := d.number(c.text)
		if v != c.want || message != c.message {
			t.Errorf("%q separated by %q: got %v, %q; want %v, %q", c.text, c.sep, v, message, c.want, c.message)
		}
	}
}

func TestNumberCountsDecimalMarks(t *testing.T) {
	d := decimals{sep: ';'}
	for _, s := range []string{"8.1", "8,1", "8,2", "8", "8.1.1", "x.y"} {
		d.number(s)
	}
	if d.points != 1 || d.commas != 2 {
		t.Errorf("counted %d points and %d commas, want 1 and 2", d.points, d.commas)
	}
}
