package oracle

// The memory array of a storage module. While nothing definite has been written (blank), every word is unknown and
// need not be looked at.

import (
	"fmt"
	"strings"
)

func (m *Model) memoryDeclarations(b *strings.Builder) {
	if m.memory == nil {
		b.WriteString("always @(posedge init) rd = 1'bx;\n")
		return
	}
	mem := m.memory
	n := len(mem.address)
	fmt.Fprintf(b, "reg [%d:0] mem [0:%d]; reg blank, ver, loaded; initial begin ver = 0; loaded = 0; end\n", mem.bits-1, mem.words-1)
	fmt.Fprintf(b, "reg [%d:0] u, c, k; reg [%d:0] d, w, old; reg [1:0] we; reg go;\n", n-1, mem.bits-1)
	// Reading: per bit the common value of all words that the address may mean.
	fmt.Fprintf(b, `reg [%d:0] ru, rc, rk; reg rgo; integer j;
always @(ra or ver or posedge init) begin
  if (blank) rd = {%d{1'bx}};
  else begin
    for (j = 0; j < %d; j = j + 1) begin
      ru[j] = ra[j] === 1'bx || ra[j] === 1'bz;
      rc[j] = ra[j] === 1'b1;
    end
    rd = mem[rc]; rk = 0; rgo = 1;
    while (rgo) begin
      for (j = 0; j < %d; j = j + 1) if (rd[j] !== ((mem[rc | rk] >> j) & 1'b1)) rd[j] = 1'bx;
      rk = (rk - ru) & ru;
      rgo = rk != 0 && rd !== {%d{1'bx}};
    end
  end
end
`, n-1, mem.bits, n, mem.bits, mem.bits)
}

// memoryInit forgets the contents, except those loaded from a file.
func (m *Model) memoryInit(b *strings.Builder) {
	if m.memory == nil {
		return
	}
	b.WriteString("  blank = !loaded; ver = ~ver;\n")
}

// memoryTick writes: for certain, or perhaps, to one word or to all that the address may mean.
func (m *Model) memoryTick(b *strings.Builder) {
	if m.memory == nil || m.memory.write == nil {
		return
	}
	mem := m.memory
	var addr, data []string
	for i := len(mem.address) - 1; i >= 0; i-- {
		addr = append(addr, fmt.Sprintf("h[%d]", mem.address[i]))
	}
	for i := len(mem.data) - 1; i >= 0; i-- {
		data = append(data, fmt.Sprintf("h[%d]", mem.data[i]))
	}
	fmt.Fprintf(b, "    we = %s; c = {%s}; d = {%s};\n", mem.write.call("h", "s", "rd"), strings.Join(addr, ", "), strings.Join(data, ", "))
	fmt.Fprintf(b, `    for (i = 0; i < %d; i = i + 1) begin
      u[i] = c[i] === 1'bx || c[i] === 1'bz;
      if (u[i]) c[i] = 1'b0;
    end
    if (blank && we == 2'b10 && u == 0) begin
      for (i = 0; i < %d; i = i + 1) mem[i] = {%d{1'bx}};
      blank = 0;
    end
    if (we[1] && !blank) begin
      k = 0; go = 1;
      while (go) begin
        old = mem[c | k]; w = d;
        if (!(we == 2'b10 && u == 0)) for (i = 0; i < %d; i = i + 1) if (old[i] !== d[i]) w[i] = 1'bx;
        if (old !== w) begin ch = 1; if (lim) for (i = 0; i < %d; i = i + 1) if (old[i] !== w[i]) w[i] = 1'bx; end
        mem[c | k] = w;
        k = (k - u) & u;
        go = k != 0;
      end
      ver = ~ver;
    end
`, len(mem.address), mem.words, mem.bits, mem.bits, mem.bits)
}
