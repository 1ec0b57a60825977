package ref

import "testing"

// Stored bits, rounds, one-shots and memories; and expressions.

func TestExpressionsKnownWithoutTheirLeaves(t *testing.T) {
	check(t, rails+`
inputs A B S
U1 known A=A B=B S=S Y1=Y1 Y2=Y2 Y3=Y3 Y4=Y4
go B=0
go B=1
go A=0 B=0 S=1
go A=1 B=0 S=0
go B=1 S=1
go A=0 S=1`, nil, "Y1=0000000 Y2=X010011 Y3=X010011 Y4=XXX10XX")
}

func TestFlipflop(t *testing.T) {
	const b = rails + `
inputs D C /P /R
U1 74LS74 1=/R 2=D 3=C 4=/P 5=Q 6=/Q
go D=1 C=0 /P=1 /R=1
go C=1
go D=0
go C=0
go C=1
go /P=0
go /R=0
go /P=1
go /R=1
go C=x
go D=1 C=1
go C=0
go C=x`
	// Clear wins over set while the bit is concerned; both outputs are 1 while both are active. C from 1 to unknown is no rise; from
	// unknown to 1 it may be one, but D was 0 like the bit; from 0 to unknown with D at 1 it may set the bit.
	check(t, b, nil, "Q=XX11101100000X /Q=XX00010111111X")
}

func TestEdges(t *testing.T) {
	// the value is the one just before the edge, even when it changes with the clock
	check(t, rails+`
inputs D C
U1 74LS74 2=D 3=C 5=Q
go D=1 C=0
go D=0 C=1
go D=1 C=0
go D=0 C=x
go D=1 C=1`, nil, "Q=XX111X")
}

func TestUnconnectedControlInputs(t *testing.T) {
	// open set and clear of a TTL flipflop are inactive, those of a CMOS one unknown
	check(t, rails+`
inputs D C
U1 74LS74 2=D 3=C 5=Q
U2 74HC74 2=D 3=C 5=W
go D=1 C=0
go C=1`, nil, "Q=XX1 W=XXX")
}

func TestClausesInOrder(t *testing.T) {
	const b = rails + `
inputs A B C D
U1 latch2 A=A B=B C=C D=D Q=Q
go A=1 B=1 C=0 D=0
go A=0
go B=x
go B=0
go A=x
go A=1
go A=0 B=0
go A=x C=1
go D=1
go C=0
go A=0 C=1
go A=x
go B=1`
	// clear wins over set; an unknown set of a set bit leaves it set; an unknown clear of a set bit does not
	check(t, b, nil, "Q=X0111X000001XX")
}

func TestBitsClockEachOther(t *testing.T) {
	// b is clocked in the second round and sees D as it stood at the end of the first
	check(t, rails+`
inputs C D
U1 shift2 C=C D=D Q1=Q1 Q2=Q2
go C=0 D=0
go C=1
go C=0
go D=1
go C=1
go C=0 D=0`, nil, "Q1=XX00011 Q2=XXXXX11")
}

func TestBitThatNeverRests(t *testing.T) {
	check(t, rails+`
inputs R
U1 buzz R=R Q=Q P=P
go R=0
go R=1`, nil, "Q=XXX P=XXX")
	// known at first: the counter is cleared, then may run
	check(t, rails+`
inputs R CLR
U1 74LS93 CKA=R R01=CLR R02=CLR QA=QA
U2 buzz R=QA Q=Q P=P
go R=1 CLR=1
go CLR=0
go R=0
go R=1
go R=0`, nil, "QA=X00110 Q=XXXXXX")
}

func TestDivideByTen(t *testing.T) {
	// 7493 with its clear on bits 2 and 4: counts 0 to 9, the tenth count lasts one round only
	const b = rails + `
inputs C S
U2 74LS32 1=S 2=QB 3=R1 4=S 5=QD 6=R2
U1 74LS93 CKA=C CKB=QA R01=R1 R02=R2 QA=QA QB=QB QC=QC QD=QD
go C=1 S=1
go S=0
go C=0
go C=1
go C=0
go C=1
go C=0
go C=1
go C=0
go C=1
go C=0
go C=1
go C=0
go C=1
go C=0
go C=1
go C=0
go C=1
go C=0
go C=1
go C=0`
	check(t, b, nil, "QA=X001100110011001100110 QB=X000011110000111100000 QC=X000000001111111100000 QD=X000000000000000011110")
}

func TestOneShot(t *testing.T) {
	check(t, rails+`
inputs A B
U1 74121 3=GND 4=GND 5=B 6=Q 1=/Q
go B=0 A=0
go B=1
go A=1
go B=0
go B=1
go B=0`, nil, "Q=X010010 /Q=X101101")
}

func TestRAM(t *testing.T) {
	const b = rails + `
inputs A1 A0 D1 D0 W
U1 ram2 A1=A1 A0=A0 D1=D1 D0=D0 W=W Q1=Q1 Q0=Q0
go W=0 A1=0 A0=0 D1=0 D0=1
go W=1
go W=0
go A0=1
go W=1 D1=0 D0=0
go W=0
go A0=x
go A0=0
go A1=x A0=1 D1=1
go W=1
go W=0
go A1=0
go A1=1
go A0=0`
	// written 01 to word 0 and 00 to word 1; word 1 or 0 reads 0X; then 1X may go to word 1 or 3
	check(t, b, nil, "Q1=XX00X0000XXXXXX Q0=XX11X00X1XXX0XX")
}

func TestRAMWithUnknownWrite(t *testing.T) {
	check(t, rails+`
inputs W D
U1 ram2 A1=GND A0=GND D1=D D0=VCC W=W Q1=Q1 Q0=Q0
go W=1 D=1
go W=0
go W=x
go D=0
go W=0`, nil, "Q1=X111XX Q0=X11111")
}

func TestROM(t *testing.T) {
	const b = rails + `
inputs A1 A0
U1 rom2 A1=A1 A0=A0 Q1=Q1 Q0=Q0
go A1=0 A0=0
go A0=1
go A0=x
go A1=1 A0=0
go A0=1
go A1=x`
	checkWith(t, b, map[string][]byte{"U1": {2, 3, 1}}, nil, "Q1=X1110XX Q0=X01X1XX")
	check(t, b, nil, "Q1=XXXXXXX Q0=XXXXXXX")
}

func TestStaticRAMOnABus(t *testing.T) {
	check(t, rails+`
inputs /CS /WE D A
U1 2114 /CS=/CS /WE=/WE A0=A A1=GND A2=GND A3=GND A4=GND A5=GND A6=GND A7=GND A8=GND A9=GND DQ1=D
go /CS=1 /WE=1 A=0 D=1
go /CS=0 /WE=0
go /CS=1 /WE=1
go D=z
go /CS=0
go A=1
go A=0`, nil, "D=X111Z1X1")
}
