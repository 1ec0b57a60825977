package yamlfile

// What a person sees on an indicator: a digit, blank, lit segments, or a lamp's state.

import "strings"

var (
	lookWords = []string{"lit", "dark", "blinking", "blank", "lit:abged", "0 to 9"}
	// lampWords are what a hurried hand writes instead.
	lampWords = map[string]string{"on": "lit", "off": "dark", "true": "lit", "false": "dark", "flashing": "blinking", "empty": "blank", "none": "blank"}
)

// segments in their one written order; dp stands behind.
const segments = "abcdefg"

// readLook reads one word of `see:` and brings lit segments into the order abcdefg, dp.
func (r *caseReader) readLook(n *node, where string) (string, bool) {
	if n.kind != scalar {
		r.errorf(n, where, "", "what is seen is %s, found %s", oneOf(lookWords), n.found())
		return "", false
	}
	switch s := n.text; {
	case s == "lit" || s == "dark" || s == "blinking" || s == "blank":
		return s, true
	case len(s) == 1 && s[0] >= '0' && s[0] <= '9':
		return s, true
	case strings.HasPrefix(s, "lit:"):
		lit, why := litSegments(s[len("lit:"):])
		if why != "" {
			r.errorf(n, where, "write the lit segments as lit:abged, with dp for the point", "%s in %s", why, quote(s))
			return "", false
		}
		return "lit:" + lit, true
	case lampWords[s] != "":
		r.errorf(n, where, "did you mean "+lampWords[s]+"?", "what is seen is %s, found %s", oneOf(lookWords), quote(s))
	default:
		r.unknown(n, where, lookWords[:4], "what is seen is %s, found %s", oneOf(lookWords), quote(s))
	}
	return "", false
}

// litSegments sorts segment letters; why says what is wrong with them. A d before a p is the point.
func litSegments(s string) (lit, why string) {
	on := map[string]bool{}
	for s != "" {
		one := s[:1]
		if strings.HasPrefix(s, "dp") {
			one = "dp"
		}
		switch {
		case one != "dp" && !strings.Contains(segments, one):
			return "", "there is no segment " + quote(string([]rune(s)[0]))
		case on[one]:
			return "", "segment " + one + " is listed twice"
		}
		on[one] = true
		s = s[len(one):]
	}
	if len(on) == 0 {
		return "", "no segments (nothing lit is written blank)"
	}
	for _, c := range segments {
		if on[string(c)] {
			lit += string(c)
		}
	}
	if on["dp"] {
		lit += "dp"
	}
	return lit, ""
}
