package draw

// What the tests of the drawings measure with.

// TextBox is the room of a line of text: x0, y0, x1, y1.
func TextBox(s Shape) [4]float64 {
	b := textBox(s)
	return [4]float64{b.x0, b.y0, b.x1, b.y1}
}

// Bounds is the room of any shape.
func Bounds(s Shape) [4]float64 {
	b := s.bounds()
	return [4]float64{b.x0, b.y0, b.x1, b.y1}
}
