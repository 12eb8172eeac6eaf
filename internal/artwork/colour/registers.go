package colour

import "math"

// Most calculator programs can be turned into a program on registers beforehand: how deep the stack is and
// what is a boolean is known at every step, so that dup, exch, roll and their kin cost nothing. Where it is
// not known (a computed roll, branches that leave different stacks), and for a run that goes wrong,
// the stack machine does the work; both give the same numbers.

const (
	stackRegisters = 32 // register d holds stack place d where ways join
	calcRegisters  = 96 // the others hold results in between
)

// instruction is op on registers a and b to dst; b below 0 is the number v.
type instruction struct {
	op        opcode
	dst, a, b int16
	to        int32 // of jumps
	v         float64
}

// term is a stack place while compiling: a register or a number.
type term struct {
	reg     int16 // below 0 = the number v
	v       float64
	boolean bool
}

type registerCompiler struct {
	steps []step
	code  []instruction
	stack []term
	next  int16
}

// compileRegisters returns nil when the stack machine has to do it.
func compileRegisters(steps []step, inputs, outputs int) []instruction {
	c := &registerCompiler{steps: steps, next: stackRegisters}
	if inputs > stackRegisters || outputs > stackRegisters {
		return nil
	}
	for i := range inputs {
		c.stack = append(c.stack, term{reg: int16(i)})
	}
	if !c.region(0, len(steps)) || len(c.stack) != outputs || !c.settleStack() {
		return nil
	}
	for _, t := range c.stack {
		if t.boolean {
			return nil
		}
	}
	return c.code
}

func (c *registerCompiler) fresh() int16 {
	c.next++
	return c.next - 1
}

// settleStack moves every stack place to its own register.
func (c *registerCompiler) settleStack() bool {
	if len(c.stack) > stackRegisters || int(c.next)+len(c.stack) >= calcRegisters {
		return false
	}
	for d, t := range c.stack { // a register about to be overwritten
		if t.reg >= 0 && t.reg < stackRegisters && int(t.reg) != d {
			r := c.fresh()
			c.code = append(c.code, instruction{op: opCvr, dst: r, a: t.reg})
			c.stack[d].reg = r
		}
	}
	for d, t := range c.stack {
		switch {
		case t.reg < 0:
			c.code = append(c.code, instruction{op: opPush, dst: int16(d), v: t.v})
		case int(t.reg) != d:
			c.code = append(c.code, instruction{op: opCvr, dst: int16(d), a: t.reg})
		}
		c.stack[d] = term{reg: int16(d), boolean: t.boolean}
	}
	c.next = stackRegisters
	return true
}

// pop takes a stack place; ok is false when there is none.
func (c *registerCompiler) pop() (t term, ok bool) {
	if len(c.stack) == 0 {
		return t, false
	}
	t = c.stack[len(c.stack)-1]
	c.stack = c.stack[:len(c.stack)-1]
	return t, true
}

// count takes a number known beforehand.
func (c *registerCompiler) count() (int, bool) {
	t, ok := c.pop()
	if !ok || t.reg >= 0 || t.boolean || t.v != math.Trunc(t.v) || math.Abs(t.v) > calculatorStack {
		return 0, false
	}
	return int(t.v), true
}

// region compiles steps lo to hi.
func (c *registerCompiler) region(lo, hi int) bool {
	for i := lo; i < hi; i++ {
		if len(c.stack) > stackRegisters || len(c.code) > len(c.steps)*8 {
			return false
		}
		if int(c.next) > calcRegisters-stackRegisters-4 && !c.settleStack() {
			return false
		}
		switch s := &c.steps[i]; s.op {
		case opJump: // to the next step, behind an empty else
		case opJumpFalse:
			end, ok := c.conditional(i)
			if !ok {
				return false
			}
			i = end - 1
		case opPush:
			c.stack = append(c.stack, term{reg: -1, v: s.v})
		case opTrue, opFalse:
			v := 0.0
			if s.op == opTrue {
				v = 1
			}
			c.stack = append(c.stack, term{reg: -1, v: v, boolean: true})
		case opDup, opExch, opPop, opCopy, opIndex, opRoll:
			if !c.shuffle(s.op) {
				return false
			}
		default:
			if !c.operate(s.op) {
				return false
			}
		}
	}
	return true
}

// conditional compiles an if or ifelse whose test is step i, and tells where it ends.
func (c *registerCompiler) conditional(i int) (end int, ok bool) {
	to := c.steps[i].to
	thenEnd, end := to, to
	if j := &c.steps[to-1]; to-1 > i && j.op == opJump && j.to > to {
		thenEnd, end = to-1, j.to
	}
	test, ok := c.pop()
	if !ok {
		return 0, false
	}
	if test.reg < 0 {
		if test.v != 0 {
			return end, c.region(i+1, thenEnd)
		}
		return end, c.region(to, end)
	}
	if test.reg < stackRegisters {
		r := c.fresh()
		c.code = append(c.code, instruction{op: opCvr, dst: r, a: test.reg})
		test.reg = r
	}
	if !c.settleStack() {
		return 0, false
	}
	before := append([]term(nil), c.stack...)
	at := len(c.code)
	c.code = append(c.code, instruction{op: opJumpFalse, a: test.reg})
	if !c.region(i+1, thenEnd) || !c.settleStack() {
		return 0, false
	}
	after := append([]term(nil), c.stack...)
	c.stack = append(c.stack[:0], before...)
	if end > to {
		over := len(c.code)
		c.code = append(c.code, instruction{op: opJump})
		c.code[at].to = int32(len(c.code))
		if !c.region(to, end) || !c.settleStack() {
			return 0, false
		}
		c.code[over].to = int32(len(c.code))
	} else {
		c.code[at].to = int32(len(c.code))
	}
	if len(after) != len(c.stack) {
		return 0, false
	}
	for d := range after {
		if after[d].boolean != c.stack[d].boolean {
			return 0, false
		}
	}
	return end, true
}

func (c *registerCompiler) shuffle(op opcode) bool {
	n := len(c.stack)
	switch op {
	case opDup:
		if n < 1 {
			return false
		}
		c.stack = append(c.stack, c.stack[n-1])
	case opExch:
		if n < 2 {
			return false
		}
		c.stack[n-1], c.stack[n-2] = c.stack[n-2], c.stack[n-1]
	case opPop:
		_, ok := c.pop()
		return ok
	case opCopy:
		k, ok := c.count()
		n = len(c.stack)
		if !ok || k < 0 || k > n {
			return false
		}
		c.stack = append(c.stack, c.stack[n-k:]...)
	case opIndex:
		k, ok := c.count()
		n = len(c.stack)
		if !ok || k < 0 || k >= n {
			return false
		}
		c.stack = append(c.stack, c.stack[n-1-k])
	case opRoll:
		j, ok := c.count()
		k, ok2 := c.count()
		n = len(c.stack)
		if !ok || !ok2 || k < 0 || k > n {
			return false
		}
		if k > 0 {
			j = (j%k + k) % k
			window := c.stack[n-k:]
			turned := append(append([]term(nil), window[k-j:]...), window[:k-j]...)
			copy(window, turned)
		}
	}
	return true
}

// Logical operators of booleans, told apart from those of numbers when compiling.
const (
	opAndBool opcode = opXor + 1 + iota
	opOrBool
	opXorBool
	opNotBool
)

// operate compiles what takes one or two operands and gives one result.
func (c *registerCompiler) operate(op opcode) bool {
	b, ok := c.pop()
	if !ok {
		return false
	}
	in := instruction{op: op, b: b.reg, v: b.v}
	var a term
	one := false
	switch op {
	case opAbs, opNeg, opCeiling, opFloor, opRound, opTruncate, opCvi, opCvr, opSin, opCos, opSqrt, opLn, opLog, opNot:
		a, one = b, true
	default:
		if a, ok = c.pop(); !ok {
			return false
		}
	}
	boolean := false
	switch op {
	case opNot:
		if a.boolean {
			in.op, boolean = opNotBool, true
		}
	case opAnd, opOr, opXor:
		if a.boolean != b.boolean {
			return false
		}
		if boolean = a.boolean; boolean {
			in.op = map[opcode]opcode{opAnd: opAndBool, opOr: opOrBool, opXor: opXorBool}[op]
		}
	case opEq, opNe:
		if boolean = true; a.boolean != b.boolean {
			v := 0.0
			if op == opNe {
				v = 1
			}
			c.stack = append(c.stack, term{reg: -1, v: v, boolean: true})
			return true
		}
	case opGe, opGt, opLe, opLt:
		boolean = true
		fallthrough
	default:
		if a.boolean || b.boolean {
			return false
		}
	}
	if a.reg < 0 {
		r := c.fresh()
		c.code = append(c.code, instruction{op: opPush, dst: r, v: a.v})
		a.reg = r
	}
	in.a, in.dst = a.reg, c.fresh()
	if one {
		in.b = 0
	}
	c.code = append(c.code, in)
	c.stack = append(c.stack, term{reg: in.dst, boolean: boolean})
	return true
}

// runRegisters runs a compiled program; false = it went wrong.
func runRegisters(code []instruction, r *[calcRegisters]float64) bool {
	for i := 0; i < len(code); i++ {
		s := &code[i]
		a, b := r[s.a], s.v
		if s.b >= 0 {
			b = r[s.b]
		}
		var v float64
		switch s.op {
		case opPush:
			v = s.v
		case opCvr:
			v = a
		case opAdd:
			v = a + b
		case opSub:
			v = a - b
		case opMul:
			v = float64(a * b)
		case opDiv:
			if b == 0 {
				return false
			}
			v = a / b
		case opJump:
			i = int(s.to) - 1
			continue
		case opJumpFalse:
			if a == 0 {
				i = int(s.to) - 1
			}
			continue
		case opEq:
			v = truth(a == b)
		case opNe:
			v = truth(a != b)
		case opGe:
			v = truth(a >= b)
		case opGt:
			v = truth(a > b)
		case opLe:
			v = truth(a <= b)
		case opLt:
			v = truth(a < b)
		case opNotBool:
			v = 1 - a
		case opAndBool:
			v = truth(a != 0 && b != 0)
		case opOrBool:
			v = truth(a != 0 || b != 0)
		case opXorBool:
			v = truth(a != b)
		case opNeg:
			v = -a
		case opAbs:
			v = math.Abs(a)
		default:
			var ok bool
			if v, ok = rareOperator(s.op, a, b); !ok {
				return false
			}
		}
		if v-v != 0 {
			v = finite(v)
		}
		r[s.dst] = v
	}
	return true
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// rareOperator leaves the rest to the stack machine's own code.
func rareOperator(op opcode, a, b float64) (float64, bool) {
	var m machine
	m.push(a, kindReal)
	switch op {
	case opIdiv, opMod, opAtan, opExp:
		m.push(b, kindReal)
		m.binary(op)
	case opAnd, opOr, opXor, opBitshift:
		m.push(b, kindReal)
		m.logic(op)
	case opNot:
		m.logic(op)
	default:
		m.unary(op)
	}
	return m.stack[0].v, !m.failed
}
