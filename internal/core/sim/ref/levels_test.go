package ref

import "testing"

// Each rule of docs/simulation.md on levels, strengths and links, on the smallest board that shows it. The expected signs are
// read off that text.

const rails = "rails GND=0 VCC=5\n"

func TestOpenInputs(t *testing.T) {
	check(t, rails+`
U1 ttlin A=N Y=Y
U2 cmosin A=M Y=W
go`, nil, "N=ZZ Y=11 M=ZZ W=XX")
}

func TestInputsFromOutside(t *testing.T) {
	const b = rails + `
inputs A
U1 ttlin A=A Y=Y
go A=0
go A=1
go A=x
go A=z
go A=~`
	check(t, b, nil, "A=X01XZZZ Y=X01X111")
	check(t, b, []string{"src-low A"}, "A=0000000 Y=0000000")
	check(t, b, []string{"src-high A"}, "A=1111111")
	check(t, b, []string{"src-dead A"}, "A=ZZZZZZZ Y=1111111")
}

func TestFights(t *testing.T) {
	two := func(family string) string {
		return rails + `
inputs A B
U1 74` + family + `04 1=A 2=Y
U2 74` + family + `04 1=B 2=Y
U3 ttlin A=Y Y=T
U4 cmosin A=Y Y=C
go A=0 B=0
go A=0 B=1
go B=x`
	}
	check(t, two(""), nil, "Y=X1FX T=X10X C=X10X")
	check(t, two("LS"), nil, "Y=X1FX T=X10X C=X10X")
	check(t, two("HC"), nil, "Y=X1FX T=X1XX C=X1XX")
	for family, want := range map[string]bool{"": true, "LS": false, "HC": false} {
		c := build(t, two(family), nil)
		if got := New(c).Run(nil)[0].PlainFight(place(t, c, "Y").Net); got != want {
			t.Errorf("74%s04: plain fight %v", family, got)
		}
	}
}

func TestFightWithAnInputFromOutside(t *testing.T) {
	// bipolar on a net with a bipolar part, CMOS otherwise
	check(t, rails+`
inputs A Y
U1 74LS04 1=A 2=Y
U3 ttlin A=Y Y=T
go A=1 Y=1`, nil, "Y=XF T=X0")
	check(t, rails+`
inputs A Y
U1 74HC04 1=A 2=Y
U4 cmosin A=Y Y=T
go A=1 Y=1`, nil, "Y=XF T=XX")
}

func TestOpenCollector(t *testing.T) {
	const b = rails + `
inputs A B
U1 74LS05 1=A 2=Y
U2 74LS05 1=B 2=Y
go A=0 B=0
go A=1
go B=1
go A=0 B=x`
	check(t, b, nil, "Y=XZ00X")
	check(t, b+"\nR1 resistor A=VCC B=Y value=1000", nil, "Y=X100X")
	check(t, b+"\nR1 resistor A=VCC B=Y value=1000", []string{"link-open R1"}, "Y=XZ00X")
	check(t, b+"\nR1 resistor A=VCC B=Y value=1000", []string{"link-maybe R1"}, "Y=XX00X")
	check(t, b+"\nR1 resistor A=VCC B=Y value=1000", []string{"link-short R1"}, "Y=11111")
}

func TestOpenEmitter(t *testing.T) {
	check(t, rails+`
inputs A
U1 openemitter A=A Y=Y
R1 resistor A=GND B=Y value=1000
go A=0
go A=1`, nil, "Y=X01")
}

func TestThreeStateBus(t *testing.T) {
	const b = rails + `
inputs A B /E1 /E2
U1 74LS125 1=/E1 2=A 3=Y
U2 74LS125 1=/E2 2=B 3=Y
U3 ttlin A=Y Y=T
go A=1 B=1 /E1=1 /E2=1
go /E1=0
go B=0 /E2=0
go /E1=1
go /E2=x
go B=1`
	check(t, b, nil, "Y=XZ1F0XX T=X1100X1")
	check(t, b, []string{"out-low U1.3"}, "Y=X00000X") // the other may fight it
	check(t, b, []string{"out-open U1.3"}, "Y=XZZ00XX")
	check(t, b, []string{"out-unknown U1.3"}, "Y=XXXXXXX")
}

func TestDivider(t *testing.T) {
	for _, c := range []struct{ up, down, want string }{
		{"1000", "10000", "1"}, // 0.91
		{"10000", "1000", "0"}, // 0.09
		{"10000", "6000", "X"}, // 0.375
		{"1000", "1000", "X"},  // 0.5
		{"1000", "1100", "1"},  // 0.52
		{"9000", "3000", "0"},  // 0.25
	} {
		check(t, rails+`
U1 cmosin A=Y Y=W
R1 resistor A=VCC B=Y value=`+c.up+`
R2 resistor A=GND B=Y value=`+c.down+`
go`, nil, "Y="+c.want+c.want)
	}
	// resistors in series add up, the least total resistance counts, one without a value has 10 kΩ
	check(t, rails+`
U1 cmosin A=Y Y=W
R1 resistor A=VCC B=M
R2 resistor A=M B=Y value=5000
R3 resistor A=GND B=Y value=15000
R4 resistor A=GND B=Y value=5000
go`, nil, "Y=00")
	check(t, rails+`
U1 cmosin A=Y Y=W
R1 resistor A=VCC B=Y value=1000
R2 resistor A=GND B=Y value=10000
go`, []string{"link-maybe R2"}, "Y=XX")
}

func TestWeakAgainstUnknown(t *testing.T) {
	check(t, rails+`
inputs A
U1 cmosin A=Y Y=W
R1 resistor A=VCC B=Y value=1000
R2 resistor A=A B=Y value=10000
go A=0
go A=1
go A=z`, nil, "Y=X111")
}

func TestDiode(t *testing.T) {
	const b = rails + `
inputs A B
D1 diode A=A K=Y
D2 diode A=B K=Y
R1 resistor A=GND B=Y value=10000
go A=0 B=0
go A=1
go A=0 B=1
go B=x`
	check(t, b, nil, "Y=X011X") // diodes form an OR
	check(t, rails+`
inputs A
D1 diode A=Y K=A
go A=0
go A=1`, nil, "Y=X0Z")
	check(t, b, []string{"link-short D1"}, "Y=X01FX A=X01FX") // D2 lets B's 1 fight A's 0
}

func TestTransistors(t *testing.T) {
	const b = rails + `
inputs A
Q1 npn B=A C=Y E=GND
R1 resistor A=VCC B=Y value=1000
go A=0
go A=1
go A=z
go A=x`
	check(t, b, nil, "Y=X101X")
	check(t, b, []string{"link-short Q1"}, "Y=00000")
	check(t, rails+`
inputs A
Q1 pnp B=A C=Y E=VCC
R1 resistor A=GND B=Y value=1000
go A=0
go A=1
go A=z`, nil, "Y=X100")
	// supply behind a transistor is as strong as an output
	check(t, rails+`
inputs A B
Q1 npn B=A C=Y E=GND
U1 74LS04 1=B 2=Y
go A=1 B=0
go B=1`, nil, "Y=XF0")
	// a fight on the base
	check(t, rails+`
inputs A B
Q1 npn B=N C=Y E=GND
U1 74LS04 1=A 2=N
U2 74LS04 1=B 2=N
R1 resistor A=VCC B=Y
go A=0 B=1`, nil, "N=XF Y=XX")
}

func TestContacts(t *testing.T) {
	const b = rails + `
S1 switch A=Y B=GND
S2 switch A=W B=GND rests=closed
R1 resistor A=VCC B=Y
R2 resistor A=VCC B=W
go
go +S1 +S2
go -S1`
	check(t, b, nil, "Y=1101 W=0011")
	check(t, b, []string{"link-open S2"}, "W=1111")
	check(t, b, []string{"link-maybe S2"}, "W=XXXX")
	check(t, b, []string{"link-short S1"}, "Y=0000")
}

func TestAnalogueSwitch(t *testing.T) {
	check(t, rails+`
inputs A C
U1 4066 1=A 2=Y 13=C
go A=1 C=0
go C=1
go A=0
go C=x
go A=z C=1`, nil, "Y=XZ10XZ")
}

func TestRelay(t *testing.T) {
	check(t, rails+`
inputs P
K1 relay P=P N=GND COM=VCC NO=Y
K2 relay-nc P=P N=GND COM=VCC NC=W
go P=0
go P=1
go P=z`, nil, "Y=XZ1Z W=X1Z1")
}

func TestFightOnACoilIsUnknown(t *testing.T) {
	check(t, rails+`
inputs A B
U1 74LS04 1=A 2=P 3=B 4=P
K1 relay P=P N=VCC COM=GND NO=Y
R1 resistor A=VCC B=Y
go A=1 B=1
go B=0`, nil, "P=X0F Y=X0X")
}

func TestFamiliesInAFight(t *testing.T) {
	// the CMOS output behind the diode may take part, conducting or open; behind a resistor it may not, unless that is shorted
	b := func(between string) string {
		return rails + `
inputs A B
U1 74LS04 1=A 2=Y 3=B 4=Y
U2 74HC04 1=GND 2=W
U3 ttlin A=Y Y=T
` + between + `
go A=1 B=0`
	}
	check(t, b("R1 resistor A=W B=Y"), nil, "Y=XF T=X0")
	check(t, b("R1 resistor A=W B=Y"), []string{"link-short R1"}, "Y=XF T=XX")
	check(t, b("R1 resistor A=W B=Y"), []string{"bridge W Y"}, "Y=XF T=XX")
	check(t, b("D1 diode A=Y K=W"), nil, "Y=XF T=XX")
	check(t, b("D1 diode A=Y K=W"), []string{"link-open D1"}, "Y=XF T=XX")
	check(t, b("D1 diode A=Y K=W"), []string{"joint-open D1.A"}, "Y=XF T=XX") // the families are those of the board as wired
}

func TestRailKeepsItsLevel(t *testing.T) {
	const b = rails + `
U1 ttlin A=GND Y=Y
S1 switch A=VCC B=GND
go
go +S1`
	check(t, b, nil, "VCC=111 GND=000")
	check(t, b, []string{"net-high GND"}, "GND=000 Y=000")
	check(t, b, []string{"in-high U1.A"}, "GND=000 Y=111")
	check(t, b, []string{"bridge VCC GND"}, "VCC=111 GND=000")
}

func TestSurePassesAlthoughAStrongerOneIsPossible(t *testing.T) {
	// an output that may drive 1 onto a net pulled up to 1: 1 behind whatever passes a 1
	check(t, rails+`
inputs E
U1 74LS125 1=E 2=VCC 3=Y
R1 resistor A=VCC B=Y value=1000
F1 fuse A=Y B=W
R2 resistor A=W B=M value=1000
D1 led A=M K=N
D2 diode A=Y K=P
go E=x`, nil, "Y=11 W=11 M=11 N=11 P=11")
	// one that may drive 0: nothing is sure behind a diode
	check(t, rails+`
inputs E
U1 74LS125 1=E 2=GND 3=Y
R1 resistor A=VCC B=Y value=1000
D1 diode A=Y K=N
U2 cmosin A=N Y=T
go E=x
go E=0
go E=1`, nil, "Y=XX01 N=XXZ1 T=XXX1")
}

func TestStrengths(t *testing.T) {
	// supply over output, output over weak, weak over faint
	const b = rails + `
inputs A
U1 74LS04 1=A 2=Y
R1 resistor A=VCC B=Y value=10
D1 led A=VCC K=N
R2 resistor A=GND B=M value=1000000
D2 led A=VCC K=M
go A=1
go A=0`
	check(t, b, nil, "Y=X01 N=111 M=000")
	check(t, b, []string{"net-low Y"}, "Y=000")
	check(t, b, []string{"net-low Y", "net-high Y"}, "Y=XXX")
	check(t, b, []string{"dark D1"}, "N=ZZZ")
	check(t, b, []string{"link-maybe D1"}, "N=XXX")
}

func TestBridge(t *testing.T) {
	const b = rails + `
inputs A B
U1 74LS04 1=A 2=Y
U2 74HC04 1=B 2=W
U3 ttlin A=Y Y=T
go A=1 B=1
go B=0`
	check(t, b, nil, "Y=X00 W=X01 T=X00")
	check(t, b, []string{"bridge Y W"}, "Y=X0F W=X0F T=X0X") // an HC output takes part
	check(t, b, []string{"bridge Y VCC"}, "Y=111 VCC=111")
	check(t, b, []string{"bridge Y VCC", "bridge W VCC", "net-low W"}, "Y=111 W=XXX VCC=111")
	// a bridge from an inverter's output to its driven input
	check(t, b, []string{"bridge A Y"}, "Y=XXX")
}

func TestJoints(t *testing.T) {
	const b = rails + `
inputs A
U1 74LS04 1=A 2=Y
U2 ttlin A=Y Y=T
U3 cmosin A=Y Y=C
R1 resistor A=GND B=Y value=1000
go A=0
go A=1`
	check(t, b, []string{"joint-open U1.2"}, "Y=000 U1.2=X10 T=000")
	check(t, b, []string{"joint-open U2.A"}, "Y=X10 U2.A=ZZZ T=111")
	check(t, b, []string{"joint-open U3.A"}, "U3.A=ZZZ C=XXX")
	check(t, b, []string{"joint-open R1.A"}, "Y=X10 R1.A=X10")
	check(t, b, []string{"joint-open R1.A", "out-open U1.2"}, "Y=ZZZ R1.A=ZZZ T=111")
	check(t, b, []string{"joint-open U2.A", "in-low U2.A"}, "Y=X10 U2.A=000 T=000")
	check(t, b, []string{"in-high U2.A"}, "Y=111 T=111")
	check(t, b, []string{"in-open U2.A"}, "Y=X10 T=111")
	check(t, b, []string{"in-open U3.A"}, "Y=X10 C=XXX")
}

func TestJointOfACommonPin(t *testing.T) {
	// the resistors of a network still join their nets when the common pin is open
	check(t, rails+`
inputs A
RN1 resnet-sip5 COM=VCC R1=A R2=Y
go A=0
go A=1
go A=z`, nil, "Y=1111 A=X011")
	check(t, rails+`
inputs A
RN1 resnet-sip5 COM=VCC R1=A R2=Y
go A=0
go A=1
go A=z`, []string{"joint-open RN1.COM"}, "Y=X01Z RN1.COM=X01Z VCC=1111")
}

func TestIndicators(t *testing.T) {
	const b = rails + `
inputs A
U1 7404 1=A 2=Y
R1 resistor A=VCC B=N value=330
D1 led A=N K=Y
LP1 lamp A=Y B=GND
go A=0
go A=1
go A=z`
	check(t, b, nil, "*D1=X011 *LP1=X100 N=1111")
	check(t, b, []string{"dark D1"}, "*D1=0000")
	check(t, b, []string{"link-maybe D1"}, "*D1=X0XX")
	check(t, b, []string{"joint-open D1.K"}, "*D1=0000")
	check(t, b, []string{"out-low U1.2", "bridge Y VCC"}, "*D1=0000")
	check(t, rails+`
inputs A B
U1 7404 1=A 2=Y
U2 7404 1=B 2=Y
R1 resistor A=VCC B=N value=330
D1 led A=N K=Y
go A=0 B=1`, nil, "Y=XF *D1=X1") // a bipolar fight counts as 0
}

func TestDigit(t *testing.T) {
	board := rails + `
inputs A B C D
U1 7447 7=A 1=B 2=C 6=D 3=VCC 4=H 5=VCC a=SA b=SB c=SC d=SD e=SE f=SF g=SG
R1 resistor A=VCC B=H
DS1 digit-ca CA=VCC a=SA b=SB c=SC d=SD e=SE f=SF g=SG
go D=0 C=0 B=0 A=1
go B=1
go D=1 B=0 A=0`
	check(t, board, nil, "*DS1.a=X011 *DS1.b=X111 *DS1.c=X111 *DS1.d=X011 *DS1.e=X001 *DS1.f=X001 *DS1.g=X011") // 1, 3, 8; 3 lights a b c d g
}
