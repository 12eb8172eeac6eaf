package colour

import "math"

// machine is the operand stack of one run of a calculator function (Table 42 and PostScript
// Language Reference, 8.2). After a fault nothing more is done.
type machine struct {
	stack  [calculatorStack]operand
	n      int
	failed bool
}

func (m *machine) push(v float64, k kind) {
	if m.n == calculatorStack {
		m.failed = true
		return
	}
	m.stack[m.n] = operand{v, k}
	m.n++
}

func (m *machine) pushBool(b bool) {
	v := 0.0
	if b {
		v = 1
	}
	m.push(v, kindBool)
}

// pushNumber pushes a result that is whole when both operands were and it fits 32 bits.
func (m *machine) pushNumber(v float64, whole bool) {
	if whole && v >= math.MinInt32 && v <= math.MaxInt32 {
		m.push(v, kindInt)
		return
	}
	m.push(finite(v), kindReal)
}

func (m *machine) need(n int) bool {
	if m.n < n {
		m.failed = true
	}
	return !m.failed
}

// number pops a number; a boolean is a fault.
func (m *machine) number() (v float64, whole bool) {
	if !m.need(1) {
		return 0, false
	}
	m.n--
	o := m.stack[m.n]
	if o.k == kindBool {
		m.failed = true
	}
	return o.v, o.k == kindInt
}

// whole pops an integer; reals without a fraction pass, as tint transforms in use rely on it.
func (m *machine) whole() int {
	v, _ := m.number()
	if v != math.Trunc(v) || v < math.MinInt32 || v > math.MaxInt32 {
		m.failed = true
		return 0
	}
	return int(v)
}

func (m *machine) two() (a, b float64, whole bool) {
	b, wb := m.number()
	a, wa := m.number()
	return a, b, wa && wb
}

func (m *machine) run(steps []step) {
	for i := 0; i < len(steps) && !m.failed; i++ {
		s := &steps[i]
		switch s.op {
		case opPush:
			m.push(s.v, s.kind)
		case opJump:
			i = s.to - 1
		case opJumpFalse:
			if !m.need(1) {
				return
			}
			m.n--
			if m.stack[m.n].v == 0 {
				i = s.to - 1
			}
		case opDup, opExch, opPop, opCopy, opIndex, opRoll:
			m.shuffle(s.op)
		case opEq, opNe, opGe, opGt, opLe, opLt:
			m.compare(s.op)
		case opAnd, opOr, opXor, opNot, opBitshift, opTrue, opFalse:
			m.logic(s.op)
		case opAdd, opSub, opMul, opDiv, opIdiv, opMod, opAtan, opExp:
			m.binary(s.op)
		default:
			m.unary(s.op)
		}
	}
}

func (m *machine) shuffle(op opcode) {
	switch op {
	case opDup:
		if m.need(1) {
			o := m.stack[m.n-1]
			m.push(o.v, o.k)
		}
	case opExch:
		if m.need(2) {
			m.stack[m.n-1], m.stack[m.n-2] = m.stack[m.n-2], m.stack[m.n-1]
		}
	case opPop:
		if m.need(1) {
			m.n--
		}
	case opCopy:
		k := m.whole()
		if k < 0 || m.n+k > calculatorStack || !m.need(k) {
			m.failed = true
			return
		}
		copy(m.stack[m.n:], m.stack[m.n-k:m.n])
		m.n += k
	case opIndex:
		k := m.whole()
		if k < 0 || !m.need(k+1) {
			m.failed = true
			return
		}
		o := m.stack[m.n-1-k]
		m.push(o.v, o.k)
	case opRoll:
		j := m.whole()
		k := m.whole()
		if k < 0 || !m.need(k) {
			m.failed = true
			return
		}
		if k == 0 {
			return
		}
		j = ((j % k) + k) % k
		var turned [calculatorStack]operand
		window := m.stack[m.n-k : m.n]
		for i, o := range window {
			turned[(i+j)%k] = o
		}
		copy(window, turned[:k])
	}
}

func (m *machine) compare(op opcode) {
	if !m.need(2) {
		return
	}
	b, a := m.stack[m.n-1], m.stack[m.n-2]
	m.n -= 2
	if op == opEq || op == opNe {
		same := a.v == b.v && (a.k == kindBool) == (b.k == kindBool)
		m.pushBool(same == (op == opEq))
		return
	}
	if a.k == kindBool || b.k == kindBool {
		m.failed = true
		return
	}
	switch op {
	case opGe:
		m.pushBool(a.v >= b.v)
	case opGt:
		m.pushBool(a.v > b.v)
	case opLe:
		m.pushBool(a.v <= b.v)
	case opLt:
		m.pushBool(a.v < b.v)
	}
}

func (m *machine) logic(op opcode) {
	switch op {
	case opTrue, opFalse:
		m.pushBool(op == opTrue)
		return
	case opBitshift:
		shift := m.whole()
		v := int32(m.whole())
		switch {
		case shift >= 32 || shift <= -32:
			v = 0
		case shift >= 0:
			v <<= shift
		default:
			v = int32(uint32(v) >> -shift)
		}
		m.push(float64(v), kindInt)
		return
	case opNot:
		if !m.need(1) {
			return
		}
		if m.stack[m.n-1].k == kindBool {
			m.stack[m.n-1].v = 1 - m.stack[m.n-1].v
			return
		}
		m.push(float64(^int32(m.whole())), kindInt)
		return
	}
	if !m.need(2) {
		return
	}
	bools := m.stack[m.n-1].k == kindBool && m.stack[m.n-2].k == kindBool
	var a, b int32
	if bools {
		a, b = int32(m.stack[m.n-2].v), int32(m.stack[m.n-1].v)
		m.n -= 2
	} else {
		b = int32(m.whole())
		a = int32(m.whole())
	}
	switch op {
	case opAnd:
		a &= b
	case opOr:
		a |= b
	case opXor:
		a ^= b
	}
	if bools {
		m.push(float64(a), kindBool)
		return
	}
	m.push(float64(a), kindInt)
}

func (m *machine) binary(op opcode) {
	if op == opIdiv || op == opMod {
		b := m.whole()
		a := m.whole()
		if b == 0 {
			m.failed = true
			return
		}
		if op == opIdiv {
			m.pushNumber(float64(a/b), true)
		} else {
			m.pushNumber(float64(a%b), true)
		}
		return
	}
	a, b, whole := m.two()
	switch op {
	case opAdd:
		m.pushNumber(a+b, whole)
	case opSub:
		m.pushNumber(a-b, whole)
	case opMul:
		m.pushNumber(a*b, whole)
	case opDiv:
		if b == 0 {
			m.failed = true
			return
		}
		m.pushNumber(a/b, false)
	case opAtan:
		if a == 0 && b == 0 {
			m.failed = true
			return
		}
		d := math.Atan2(a, b) * (180 / math.Pi)
		if d < 0 {
			d += 360
		}
		m.pushNumber(settle(d), false)
	case opExp:
		v := math.Pow(a, b)
		if math.IsNaN(v) {
			m.failed = true
			return
		}
		m.pushNumber(settle(finite(v)), false)
	}
}

func (m *machine) unary(op opcode) {
	a, whole := m.number()
	if m.failed {
		return
	}
	switch op {
	case opAbs:
		m.pushNumber(math.Abs(a), whole)
	case opNeg:
		m.pushNumber(-a, whole)
	case opCeiling:
		m.pushNumber(math.Ceil(a), whole)
	case opFloor:
		m.pushNumber(math.Floor(a), whole)
	case opRound: // half goes up, also below zero
		m.pushNumber(math.Floor(a+0.5), whole)
	case opTruncate:
		m.pushNumber(math.Trunc(a), whole)
	case opCvi:
		v := math.Trunc(a)
		if v < math.MinInt32 || v > math.MaxInt32 {
			m.failed = true
			return
		}
		m.push(v, kindInt)
	case opCvr:
		m.push(a, kindReal)
	case opSin:
		m.pushNumber(settle(sinDegrees(a)), false)
	case opCos:
		m.pushNumber(settle(sinDegrees(a+90)), false)
	case opSqrt:
		if a < 0 {
			m.failed = true
			return
		}
		m.pushNumber(math.Sqrt(a), false)
	case opLn, opLog:
		if a <= 0 {
			m.failed = true
			return
		}
		v := math.Log(a)
		if op == opLog {
			v = math.Log10(a)
		}
		m.pushNumber(settle(v), false)
	}
}

// sinDegrees is exact at multiples of 90.
func sinDegrees(d float64) float64 {
	d = math.Mod(d, 360)
	if d < 0 {
		d += 360
	}
	switch d {
	case 0, 180:
		return 0
	case 90:
		return 1
	case 270:
		return -1
	}
	return math.Sin(d * (math.Pi / 180))
}
