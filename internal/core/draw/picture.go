// Package draw makes the program's own drawings: the package around a pin, the circuit around the suspects, the board from above,
// the moments of an action, a digit. A drawing is a Picture, a flat description of marks with two readers: the page (Picture.SVG,
// which carries classes and presentation attributes only, so that it passes a content policy without inline styles) and print, which
// walks the same shapes.
//
// Meaning never hangs on colour: whatever a class colours is also said in words, or by a thicker, dashed or hatched mark.
// Equal arguments give equal bytes.
//
// A page that colours the classes must fill rect.paper and circle.pin with its ground, because they cover lines, and must not fill
// text by the classes of closed shapes (write rect.pin, circle.pin rather than .pin). Without any style sheet everything is outlined
// and lettered in the current colour.
package draw

import "halfsplit/internal/core/circuit"

// Picture is a drawing in its own units (1 unit = 1 px at normal size), x to the right, y down. W = 0 means that there is nothing to draw.
type Picture struct {
	W, H        float64
	Title, Desc string
	Shapes      []Shape
}

// Point is a place in a picture.
type Point struct{ X, Y float64 }

// Shape is one mark. Kind decides which fields count:
//
//	line    Points (2 or more), an open polyline
//	area    Points (3 or more), a closed polygon
//	rect    X, Y (upper left), W, H, R (radius of the corners)
//	circle  X, Y (centre), R
//	text    X, Y (on the baseline), Text, Size, Anchor, Bold, Turn (degrees clockwise about X, Y)
//	group   Inner
//
// Dash and Thick (stroke width, 0 = 1.5) count for every outline. A Shape with a Place is a tap target and is always a group.
type Shape struct {
	Kind          string
	Points        []Point
	X, Y, W, H, R float64
	Size, Turn    float64
	Text          string
	Anchor        string // start, middle or end; "" is start
	Bold          bool
	Class         string
	Dash          bool
	Thick         float64
	Place         string // what a tap means: pin U3.7, net D3, part U3; "" for none
	Say           string // accessible name of the tap target
	Inner         []Shape
}

// Kinds of Shape.
const (
	Line   = "line"
	Area   = "area"
	Rect   = "rect"
	Circle = "circle"
	Text   = "text"
	Group  = "group"
)

// Classes of Shape: what a mark means. InkOf says how each looks without any style sheet.
const (
	Wire     = "wire"     // a connection
	WireHot  = "wire-hot" // a connection that is asked about
	Body     = "body"     // outline of a part
	BodyHot  = "body-hot" // outline of a part that is asked about
	PinMark  = "pin"      // leg of a part, or its number
	PinHot   = "pin-hot"  // the leg to probe
	Label    = "label"    // plain lettering
	Name     = "name"     // reference of a part
	Seen     = "seen"     // what was seen
	Expected = "expected" // what a good board shows
	Wrong    = "wrong"    // where the two differ
	PathMark = "path"     // the way of a wrong level
	Faint    = "faint"    // lesser lines and lettering
	Mark     = "mark"     // small filled marks: pin 1, junctions, lit segments
	Grid     = "grid"     // rulings
	Ring     = "ring"     // outline around something that stays visible
	Sign     = "sign"     // a group that is one written sign, such as "differs"
	Paper    = "paper"    // ground behind lettering that crosses lines
	Hit      = "hit"      // where a finger may land; never visible
)

// Ink is how a class looks on paper: grey levels from 0 (black) to 255 (white), or NoInk.
type Ink struct{ Stroke, Fill int }

// NoInk leaves the stroke or the fill out.
const NoInk = -1

// InkOf gives the ink of a shape: lettering is filled, lines are stroked, closed shapes are stroked and, by class, filled.
func InkOf(s Shape) Ink {
	grey := 0
	switch s.Class {
	case Hit:
		return Ink{NoInk, NoInk}
	case Faint:
		grey = 90
	case Grid:
		grey = 190
	}
	switch {
	case s.Kind == Text:
		return Ink{NoInk, grey}
	case s.Kind == Line:
		return Ink{grey, NoInk}
	case s.Class == Mark || s.Class == PathMark || s.Class == Wrong:
		return Ink{NoInk, grey}
	case s.Class == Paper:
		return Ink{NoInk, 255}
	case s.Class == Body || s.Class == BodyHot:
		return Ink{grey, 246}
	case s.Class == PinMark || s.Class == PinHot:
		return Ink{grey, 255}
	}
	return Ink{grey, NoInk}
}

// Level is what was seen on a net and what a good board shows there, in words (low, high, pulses, …); "" where it is not known.
type Level struct{ Seen, Expected string }

// text says a level; differ is set where the two are known and not the same.
func (l Level) text() (text string, differ bool) {
	switch {
	case l.Seen == "" && l.Expected == "":
		return "", false
	case l.Seen == "":
		return "good: " + l.Expected, false
	case l.Expected == "":
		return "seen: " + l.Seen, false
	case l.Seen == l.Expected:
		return l.Seen + ", as it should be", false
	}
	return "seen " + l.Seen + ", good " + l.Expected, true
}

// none is circuit.None under a shorter name.
const none = circuit.None
