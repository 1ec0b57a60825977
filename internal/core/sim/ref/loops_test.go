package ref

import "testing"

// Loops without storage, and loops that a fault makes.

const nandLatch = rails + `
inputs /S /R
U1 74LS00 1=/S 2=/Q 3=Q 4=/R 5=Q 6=/Q
`

func TestNANDLatch(t *testing.T) {
	const set = `go /S=0 /R=1
go /S=1
go /R=0
go /R=1
go /S=0 /R=0
go /S=1 /R=1
go /R=0
go /R=1`
	// set, hold, reset, hold, both active, both let go at once: chance decides, reset, hold
	check(t, nandLatch+set, nil, "Q=X11001X00 /Q=X00111X11")
	check(t, nandLatch+set, []string{"out-high U1.6"}, "/Q=111111111 Q=X10001000")
}

func TestLatchOfAnUnknownSetting(t *testing.T) {
	check(t, nandLatch+`go /S=0 /R=1
go /S=x
go /S=1
go /R=x
go /R=0`, nil, "Q=X111X0 /Q=X000X1")
}

func TestBridgeMakesTheLatchForget(t *testing.T) {
	// the bridge joins the latch with a net that is not part of its loop: the bigger loop starts from unknown in each round
	const b = nandLatch + `
U2 74LS125 1=VCC 2=GND 3=N
R1 resistor A=N B=M
go /S=0 /R=1
go /S=1`
	check(t, b, nil, "Q=X11 N=ZZZ")
	check(t, b, []string{"bridge Q N"}, "Q=X1X N=X1X")
	// a gate whose output fights its own input: 0 would make it drive 1, 1 would make it drive 0
	check(t, b, []string{"bridge Q /Q"}, "Q=XXX /Q=XXX")
}

func TestBridgeOverAnInverter(t *testing.T) {
	// with M high the second gate contradicts itself; with M low it drives high, and the fight is heard as low
	check(t, rails+`
inputs A
U1 74LS04 1=A 2=M 3=M 4=Y
go A=0
go A=1`, []string{"bridge M Y"}, "M=XXF Y=XXF")
	check(t, rails+`
inputs A
U1 74LS05 1=A 2=M 3=M 4=Y
R1 resistor A=VCC B=M
go A=0
go A=1`, []string{"bridge M Y"}, "M=XX0 Y=XX0")
}

func TestRingStaysUnknown(t *testing.T) {
	check(t, rails+`
inputs E
U1 74LS00 1=E 2=C 3=A
U2 74LS04 1=A 2=B 3=B 4=C
go E=0
go E=1
go E=0`, nil, "A=X1X1 C=X1X1")
}

func TestLoopThroughAResistor(t *testing.T) {
	// two inverters and a feedback resistor hold the last level that was forced in
	check(t, rails+`
inputs A
U1 74HC04 1=A 2=M 3=M 4=Y
R1 resistor A=A B=Y value=100000
go A=1
go A=z
go A=0
go A=z`, nil, "A=X1X0X Y=X1X0X")
}
