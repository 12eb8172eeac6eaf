package colour

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"laydown/internal/limits"
)

// A type 4 function (7.10.5) is compiled once into a flat list of steps; if and ifelse become jumps
// forward, so that a run takes at most as many steps as the list is long.

type opcode uint8

const (
	opPush opcode = iota
	opJump        // to step.to
	opJumpFalse
	opAbs
	opAdd
	opAnd
	opAtan
	opBitshift
	opCeiling
	opCopy
	opCos
	opCvi
	opCvr
	opDiv
	opDup
	opEq
	opExch
	opExp
	opFalse
	opFloor
	opGe
	opGt
	opIdiv
	opIndex
	opLe
	opLn
	opLog
	opLt
	opMod
	opMul
	opNe
	opNeg
	opNot
	opOr
	opPop
	opRoll
	opRound
	opSin
	opSqrt
	opSub
	opTrue
	opTruncate
	opXor
)

var calculatorOps = map[string]opcode{
	"abs": opAbs, "add": opAdd, "and": opAnd, "atan": opAtan, "bitshift": opBitshift, "ceiling": opCeiling,
	"copy": opCopy, "cos": opCos, "cvi": opCvi, "cvr": opCvr, "div": opDiv, "dup": opDup, "eq": opEq,
	"exch": opExch, "exp": opExp, "false": opFalse, "floor": opFloor, "ge": opGe, "gt": opGt, "idiv": opIdiv,
	"index": opIndex, "le": opLe, "ln": opLn, "log": opLog, "lt": opLt, "mod": opMod, "mul": opMul, "ne": opNe,
	"neg": opNeg, "not": opNot, "or": opOr, "pop": opPop, "roll": opRoll, "round": opRound, "sin": opSin,
	"sqrt": opSqrt, "sub": opSub, "true": opTrue, "truncate": opTruncate, "xor": opXor,
}

type step struct {
	op   opcode
	kind kind
	to   int
	v    float64
}

// kind of a value on the stack; integers stay within 32 bits as in PostScript.
type kind uint8

const (
	kindReal kind = iota
	kindInt
	kindBool
)

type operand struct {
	v float64
	k kind
}

// calculatorStack is the depth of Annex C.
const calculatorStack = 100

type calculator struct {
	domain, rng limits2
	steps       []step
	code        []instruction // the same on registers; nil = it cannot be
}

var errCalculator = errors.New("calculator function")

// compileCalculator reads the program between the outer braces.
func compileCalculator(src []byte) ([]step, error) {
	c := &calculatorCompiler{src: src}
	if c.token() != "{" {
		return nil, fmt.Errorf("%w does not begin with a brace", errCalculator)
	}
	if err := c.block(0); err != nil {
		return nil, err
	}
	return c.steps, nil
}

type calculatorCompiler struct {
	src   []byte
	at    int
	steps []step
}

// token is the next brace or word, "" at the end.
func (c *calculatorCompiler) token() string {
	for c.at < len(c.src) {
		switch b := c.src[c.at]; {
		case b == '%':
			for c.at < len(c.src) && c.src[c.at] != '\n' && c.src[c.at] != '\r' {
				c.at++
			}
		case isCalculatorSpace(b):
			c.at++
		case b == '{' || b == '}':
			c.at++
			return string(b)
		default:
			start := c.at
			for c.at < len(c.src) && !isCalculatorSpace(c.src[c.at]) && c.src[c.at] != '{' && c.src[c.at] != '}' && c.src[c.at] != '%' {
				c.at++
			}
			return string(c.src[start:c.at])
		}
	}
	return ""
}

func isCalculatorSpace(b byte) bool {
	return b == ' ' || b == '\n' || b == '\r' || b == '\t' || b == '\f' || b == 0
}

// block compiles up to the closing brace. A procedure in it must be followed by if, or by a second
// one and ifelse.
func (c *calculatorCompiler) block(depth int) error {
	if depth > limits.MaxNesting {
		return fmt.Errorf("%w nests deeper than %d: %w", errCalculator, limits.MaxNesting, errOverLimit)
	}
	for {
		if len(c.steps) > limits.MaxCalculatorOps {
			return fmt.Errorf("%w has more than %d operators: %w", errCalculator, limits.MaxCalculatorOps, errOverLimit)
		}
		switch t := c.token(); t {
		case "":
			return fmt.Errorf("%w ends inside a block", errCalculator)
		case "}":
			return nil
		case "{":
			if err := c.conditional(depth); err != nil {
				return err
			}
		default:
			if op, ok := calculatorOps[t]; ok {
				c.steps = append(c.steps, step{op: op})
				continue
			}
			v, k, ok := calculatorNumber(t)
			if !ok {
				return fmt.Errorf("%w has the unknown operator %.20q", errCalculator, t)
			}
			c.steps = append(c.steps, step{op: opPush, v: v, kind: k})
		}
	}
}

func (c *calculatorCompiler) conditional(depth int) error {
	test := len(c.steps)
	c.steps = append(c.steps, step{op: opJumpFalse})
	if err := c.block(depth + 1); err != nil {
		return err
	}
	switch t := c.token(); t {
	case "if":
		c.steps[test].to = len(c.steps)
		return nil
	case "{":
		over := len(c.steps)
		c.steps = append(c.steps, step{op: opJump})
		c.steps[test].to = len(c.steps)
		if err := c.block(depth + 1); err != nil {
			return err
		}
		if t := c.token(); t != "ifelse" {
			return fmt.Errorf("%w has %.20q where ifelse belongs", errCalculator, t)
		}
		c.steps[over].to = len(c.steps)
		return nil
	default:
		return fmt.Errorf("%w has %.20q where if belongs", errCalculator, t)
	}
}

func calculatorNumber(t string) (v float64, k kind, ok bool) {
	if i, err := strconv.ParseInt(t, 10, 32); err == nil {
		return float64(i), kindInt, true
	}
	for i := 0; i < len(t); i++ {
		switch b := t[i]; {
		case b >= '0' && b <= '9', b == '.', b == '+', b == '-', b == 'e', b == 'E':
		default:
			return 0, 0, false
		}
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, 0, false
	}
	return v, kindReal, true
}

func (f *calculator) Inputs() int  { return len(f.domain) / 2 }
func (f *calculator) Outputs() int { return len(f.rng) / 2 }

func (f *calculator) equal(o Function) bool {
	g, ok := o.(*calculator)
	return ok && slices.Equal(f.domain, g.domain) && slices.Equal(f.rng, g.rng) && slices.Equal(f.steps, g.steps)
}

// Eval runs the program. A run that goes wrong (stack underflow, wrong kinds) leaves the results
// made so far; outputs that are missing take the low end of Range.
func (f *calculator) Eval(out, in []float64) {
	if f.code != nil {
		var r [calcRegisters]float64
		for i := range f.Inputs() {
			r[i] = f.domain.clip(i, in[i])
		}
		if runRegisters(f.code, &r) {
			for j := range f.Outputs() {
				out[j] = f.rng.clip(j, r[j])
			}
			return
		}
	}
	f.evalOnStack(out, in)
}

// evalOnStack is Eval by the stack machine.
func (f *calculator) evalOnStack(out, in []float64) {
	var m machine
	for i := range f.Inputs() {
		m.push(f.domain.clip(i, in[i]), kindReal)
	}
	m.run(f.steps)
	n := f.Outputs()
	for j := range n {
		at := m.n - n + j
		if at < 0 || m.stack[at].k == kindBool {
			out[j] = f.rng[2*j]
			continue
		}
		out[j] = f.rng.clip(j, m.stack[at].v)
	}
}

// check runs the program once at the low end of its domain and tells whether it leaves the right
// number of results, for a finding when the function is read.
func (f *calculator) check() bool {
	var m machine
	for i := range f.Inputs() {
		m.push(f.domain[2*i], kindReal)
	}
	m.run(f.steps)
	return !m.failed && m.n == f.Outputs()
}
