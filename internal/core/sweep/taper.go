package sweep

// The law of a potentiometer from a few points. The printed letter is never trusted: A is logarithmic in America and Asia and linear on older European
// parts, B the other way round.

import "math"

// Kind of taper.
type Kind string

// The kinds that are told apart.
const (
	Linear  Kind = "linear"
	Log     Kind = "logarithmic (audio)"
	Reverse Kind = "reverse logarithmic"
	SShape  Kind = "S-shaped"
	Unclear Kind = "no known law"
)

// Law is a fitted taper: the share of the whole resistance at travel x is (b^x − 1)/(b − 1), with b = 1 for a straight line.
type Law struct {
	Kind    Kind
	Base    float64 // b; above 1 logarithmic, below 1 reverse
	Middle  float64 // share at half travel
	RMS     float64 // what is left over, as a share of the whole
	Letters string  // what such a part is marked
}

// At is the share of the whole resistance at travel x, 0 to 1.
func (l Law) At(x float64) float64 { return share(l.Base, x) }

func share(b, x float64) float64 {
	if math.Abs(b-1) < 1e-6 {
		return x
	}
	return (math.Pow(b, x) - 1) / (b - 1)
}

// Point is travel (0 to 1) and share of the whole (0 to 1).
type Point struct{ X, Y float64 }

// Fit finds the law of points, least squares in the share over bases from 1/10 000 to 10 000. Classes by the share at half travel, as the trade sells them:
// 10–15 % logarithmic, 50 % linear, 85–90 % reverse (common practice, no source); the borders lie between. A straight middle with flat or steep ends,
// on both sides of the line, is S-shaped. With fewer than two inner points the kind is Unclear.
func Fit(ps []Point) Law {
	inner := 0
	for _, p := range ps {
		if p.X > 0 && p.X < 1 {
			inner++
		}
	}
	err := func(lnb float64) float64 {
		s := 0.0
		for _, p := range ps {
			d := p.Y - share(math.Exp(lnb), p.X)
			s += d * d
		}
		return s
	}
	limit := math.Log(1e4)
	lo, hi, best := -limit, limit, 0.0
	for step := 0; step < 6; step++ { // a grid, refined about its best point: the error has one valley, but flat far ends
		n, bestErr := 80, math.Inf(1)
		for i := range n + 1 {
			x := lo + (hi-lo)*float64(i)/float64(n)
			if e := err(x); e < bestErr {
				best, bestErr = x, e
			}
		}
		w := (hi - lo) / float64(n)
		lo, hi = math.Max(-limit, best-w), math.Min(limit, best+w)
	}
	l := Law{Base: math.Exp(best)}
	l.Middle = share(l.Base, 0.5)
	if len(ps) > 0 {
		l.RMS = math.Sqrt(err(best) / float64(len(ps)))
	}
	l.Kind, l.Letters = classify(l, ps)
	if inner < 2 {
		l.Kind, l.Letters = Unclear, ""
	}
	return l
}

func classify(l Law, ps []Point) (Kind, string) {
	if l.RMS > 0.03 {
		if sShaped(ps) {
			return SShape, "W, G or S"
		}
		if l.RMS > 0.1 {
			return Unclear, ""
		}
	}
	switch {
	case l.Middle < 0.35:
		return Log, "A (America, Asia), B (older Europe)"
	case l.Middle > 0.65:
		return Reverse, "C (America, Asia), F or Y (older Europe)"
	}
	return Linear, "B (America, Asia), A (older Europe)"
}

// sShaped: on one side of the straight line in the lower half and on the other side in the upper half, by more than a measuring error.
func sShaped(ps []Point) bool {
	low, high, nl, nh := 0.0, 0.0, 0, 0
	for _, p := range ps {
		switch {
		case p.X > 0.05 && p.X < 0.45:
			low, nl = low+p.Y-p.X, nl+1
		case p.X > 0.55 && p.X < 0.95:
			high, nh = high+p.Y-p.X, nh+1
		}
	}
	if nl == 0 || nh == 0 {
		return false
	}
	low, high = low/float64(nl), high/float64(nh)
	return low*high < 0 && math.Abs(low) > 0.03 && math.Abs(high) > 0.03
}
