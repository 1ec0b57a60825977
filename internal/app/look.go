package app

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/predict"
)

// What an eye sees on an indicator, in the words of see:, for the first lane of what is shown.

func lampWord(s *predict.Shown, lamp int) string {
	lit, dark, _ := s.Lamp(lamp)
	switch {
	case lit&1 == 1:
		return "lit"
	case dark&1 == 1:
		return "dark"
	}
	return "unknown"
}

// digitWord names the lit segments: a character where they are one, blank, or lit:abged.
func digitWord(c *circuit.Circuit, s *predict.Shown, digit int) string {
	names := [8]string{"a", "b", "c", "d", "e", "f", "g", "dp"}
	segs, dp := "", ""
	for i, lamp := range c.Digits[digit].Segs {
		if lamp == circuit.None {
			continue
		}
		switch lit, dark, _ := s.Lamp(lamp); {
		case lit&1 == 1 && names[i] == "dp":
			dp = "dp"
		case lit&1 == 1:
			segs += names[i]
		case dark&1 == 0:
			return "unknown"
		}
	}
	if char, ok := characters[segs]; ok && dp == "" {
		return char
	}
	if segs+dp == "" {
		return "blank"
	}
	return "lit:" + segs + dp
}

// characters are the ten digits as the usual decoders draw them; 6, 7 and 9 exist with and without their tails.
// Source: the segment drawings of TI SDLS111 (7446A to 7449) for the shapes without tails, common practice for those with.
var characters = map[string]string{
	"abcdef": "0", "bc": "1", "abdeg": "2", "abcdg": "3", "bcfg": "4", "acdfg": "5", "cdefg": "6", "acdefg": "6",
	"abc": "7", "abcf": "7", "abcdefg": "8", "abcfg": "9", "abcdfg": "9",
}
