package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/press"
)

// Reckoning is what a plan takes: toner, sheets, time and money, every figure with the formula it came from.
type Reckoning struct {
	Quantity    int            `json:"quantity,omitempty"` // 0 = not given: figures of the job are then left out
	Up          int            `json:"pieces_on_a_sheet"`
	Currency    string         `json:"currency,omitempty"`
	Note        string         `json:"price_note,omitempty"` // what the definitions say of their prices
	Toner       []TonerFigures `json:"toner"`
	Sheets      []Figure       `json:"sheets"`
	Time        []Figure       `json:"time"`
	Minutes     Figure         `json:"minutes"`
	Costs       []Figure       `json:"costs"`
	Total       Figure         `json:"total"`
	PerPiece    Figure         `json:"per_piece"`
	Breaks      []Break        `json:"price_breaks,omitempty"`
	Assumptions []string       `json:"assumptions"`
}

// Figure is a number with how it was reckoned. Value is nil where something it needs is not given; NotGiven names that. A
// sum of which parts are missing has both: it is then the sum of what is known.
type Figure struct {
	What     string   `json:"what"`
	Value    *float64 `json:"value"`
	Unit     string   `json:"unit"`
	Formula  string   `json:"formula"`
	NotGiven []string `json:"not_given,omitempty"`
}

// Text writes the value with its unit, to so many digits: "not given" where there is none, "+ ?" after a sum of which parts
// are missing.
func (f Figure) Text(digits int) string {
	if f.Value == nil {
		return "not given"
	}
	s := strconv.FormatFloat(*f.Value, 'f', digits, 64)
	if f.Unit != "" {
		s += " " + f.Unit
	}
	if len(f.NotGiven) > 0 {
		s += " + ?"
	}
	return s
}

// Digits are as many as a figure of its unit is read to.
func (f Figure) Digits() int {
	switch {
	case f.Unit == unitSheets || f.Unit == unitClicks:
		return 0
	case f.Unit == unitMinutes:
		return 1
	case f.Unit == unitGrams && f.Value != nil && *f.Value < 1:
		return 4
	case f.Unit == unitGrams:
		return 1
	case f.What == whatPiece:
		return 3
	}
	return 2
}

// TonerFigures are masses of one toner in grams and what it costs.
type TonerFigures struct {
	Toner string    `json:"toner"`
	Mass  press.GSM `json:"mass_gsm"` // at full tint
	Piece Figure    `json:"piece"`
	Sheet Figure    `json:"sheet"`
	Job   Figure    `json:"job"` // waste included
	Cost  Figure    `json:"cost"`
}

// Break is the price of one quantity.
type Break struct {
	Quantity int    `json:"quantity"`
	Sheets   Figure `json:"sheets"`
	Minutes  Figure `json:"minutes"`
	Total    Figure `json:"total"`
	PerPiece Figure `json:"per_piece"`
}

// Units of figures.
const (
	unitGrams   = "g"
	unitSheets  = "sheets"
	unitClicks  = "clicks"
	unitMinutes = "min"

	whatPiece = "cost of a piece"
)

func known(what, unit string, v float64, formula string, args ...any) Figure {
	return Figure{What: what, Unit: unit, Value: &v, Formula: fmt.Sprintf(formula, args...)}
}

func missing(what, unit, formula string, notGiven ...string) Figure {
	return Figure{What: what, Unit: unit, Formula: formula, NotGiven: notGiven}
}

// assumptions stand with every reckoning.
var assumptions = []string{
	"The mass of toner grows in proportion to the tint: no toner of the press has a curve of its own.",
	"Toner is counted inside the bleed; marks and bars outside the pieces are not.",
	"The press has the first set in it when the work begins, so that only changes between the sets count.",
	"A pass is one side of one sheet; a press that turns the sheet itself makes two passes on one feed.",
	"Each side of a sheet has one page of the piece; work-and-turn puts the toners of both on either side, and a sheet of several versions those of all.",
}

// Into is how many sheets go into a pass of one side so that as many as wanted come out of it.
func Into(w press.Waste, wanted int) int {
	in := wanted
	if w.Share != nil {
		// The slack keeps 100 sheets and 3 % at 103.
		in = int(math.Ceil(float64(float64(wanted)*(100+float64(*w.Share)))/100 - 1e-9))
	}
	if w.Sheets != nil {
		in += *w.Sheets
	}
	return in
}

// run is the sheets that go into the passes of one plan.
type run struct {
	good  map[int]int // by leaf
	into  []int       // by pass of the plan
	words []string    // how
}

// sheets works back from the good sheets: what comes out of a pass is what goes into the next one on the same sheet.
func (r *Request) sheets(p *Plan, quantity int) (out run) {
	out = run{good: map[int]int{}, into: make([]int, len(p.Passes)), words: make([]string, len(p.Passes))}
	each := (quantity + r.up() - 1) / r.up()
	for i := range r.Sides {
		out.good[r.Sides[i].Leaf] = each
	}
	want := map[int]int{}
	for leaf, n := range out.good {
		want[leaf] = n
	}
	w := r.Press.Waste
	for i := len(p.Passes) - 1; i >= 0; i-- {
		leaf := r.Sides[p.Passes[i].side].Leaf
		n := want[leaf]
		words := strconv.Itoa(n)
		in := Into(w, n)
		if w.Share != nil {
			words += fmt.Sprintf(" × %s, rounded up", strconv.FormatFloat(math.Round(1e9*(1+float64(*w.Share)/100))/1e9, 'f', -1, 64))
		}
		if w.Sheets != nil {
			words += fmt.Sprintf(", + %d to set up", *w.Sheets)
		}
		out.into[i], out.words[i] = in, words
		want[leaf] = in
	}
	for leaf, n := range want {
		out.good[leaf] = n // what has to be fed first
	}
	return out
}

// reckon works out a plan's figures for the quantity asked for and for the price breaks.
func (r *Request) reckon(p *Plan) *Reckoning {
	k := r.reckonFor(p, r.Quantity)
	for _, n := range r.Breaks {
		b := r.reckonFor(p, n)
		k.Breaks = append(k.Breaks, Break{n, b.Sheets[len(b.Sheets)-1], b.Minutes, b.Total, b.PerPiece})
	}
	return k
}

func (r *Request) reckonFor(p *Plan, quantity int) *Reckoning {
	k := &Reckoning{Quantity: quantity, Up: r.up(), Currency: r.Press.Price.Currency, Note: r.notes(), Toner: []TonerFigures{}, Sheets: []Figure{},
		Time: []Figure{}, Costs: []Figure{}, Assumptions: slices.Clone(assumptions)}
	if r.Press.Waste.Sheets == nil && r.Press.Waste.Share == nil {
		k.Assumptions = append(k.Assumptions, "The press gives no figures of waste: sheets are those of good pieces only.")
	}
	run := r.sheets(p, quantity)
	fed, first := 0, 0
	for i, pass := range p.Passes {
		fed += run.into[i]
		if quantity > 0 {
			k.Sheets = append(k.Sheets, known(fmt.Sprintf("into pass %d (page %d, set %s)", i+1, pass.Page, pass.Set), unitSheets, float64(run.into[i]), "%s", run.words[i]))
		}
	}
	for _, leaf := range r.leaves() {
		first += run.good[leaf]
	}
	if quantity > 0 {
		each := (quantity + r.up() - 1) / r.up()
		k.Sheets = append([]Figure{known("good sheets", unitSheets, float64(each*len(r.leaves())), "%d pieces ÷ %d on a sheet, rounded up%s", quantity, r.up(), timesLeaves(r.leaves()))}, k.Sheets...)
		k.Sheets = append(k.Sheets, known("sheets needed", unitSheets, float64(first), "into the first pass of every sheet, waste included"))
	} else {
		k.Sheets = append(k.Sheets, missing("sheets needed", unitSheets, "pieces ÷ pieces on a sheet + waste", "quantity"))
	}
	for _, name := range r.toners(p) {
		k.Toner = append(k.Toner, r.tonerFigures(p, name, run, quantity))
	}
	r.time(k, p, run, fed, quantity)
	r.costs(k, p, fed, first, quantity)
	return k
}

func timesLeaves(leaves []int) string {
	if len(leaves) < 2 {
		return ""
	}
	return fmt.Sprintf(", × %d sheets a piece", len(leaves))
}

// notes are what the definitions say of their prices.
func (r *Request) notes() string {
	var out []string
	if n := r.Press.Price.Note; n != "" {
		out = append(out, "press: "+n)
	}
	if r.Stock != nil && r.Stock.Price != nil && r.Stock.Price.Note != "" {
		out = append(out, "stock: "+r.Stock.Price.Note)
	}
	return strings.Join(out, ". ")
}

func (r *Request) leaves() (out []int) {
	for i := range r.Sides {
		if !slices.Contains(out, r.Sides[i].Leaf) {
			out = append(out, r.Sides[i].Leaf)
		}
	}
	return out
}

// toners of a plan in the press's order.
func (r *Request) toners(p *Plan) (out []string) {
	for i := range r.Press.Toners {
		name := r.Press.Toners[i].Name
		if slices.ContainsFunc(p.Passes, func(q Pass) bool { return slices.Contains(q.Toners, name) }) {
			out = append(out, name)
		}
	}
	return out
}

// grams of a toner on one piece's side.
func (s *Side) grams(name string, mass press.GSM) (g, mean float64) {
	for _, t := range s.Toners {
		if t.Name == name {
			g += float64(s.AreaMM2 / 1e6 * t.Mean / 100 * float64(mass))
			mean += t.Mean
		}
	}
	return g, mean
}

func (r *Request) tonerFigures(p *Plan, name string, run run, quantity int) TonerFigures {
	toner, _ := r.Press.Toner(name)
	f := TonerFigures{Toner: name, Mass: toner.Mass}
	piece, job := 0.0, 0.0
	var pieceWords, jobWords []string
	for i, pass := range p.Passes {
		if !slices.Contains(pass.Toners, name) {
			continue
		}
		side := &r.Sides[pass.side]
		g, mean := side.grams(name, toner.Mass)
		piece += g
		job += float64(float64(run.into[i]) * float64(r.up()) * g)
		pieceWords = append(pieceWords, fmt.Sprintf("%s m² × %s %% × %s g/m²", short(side.AreaMM2/1e6), short(mean), short(float64(toner.Mass))))
		jobWords = append(jobWords, fmt.Sprintf("%d sheets × %d × %s g", run.into[i], r.up(), short(g)))
	}
	f.Piece = known(name+" on a piece", unitGrams, piece, "%s", strings.Join(pieceWords, " + "))
	f.Sheet = known(name+" on a sheet", unitGrams, float64(r.up())*piece, "%d pieces × %s g", r.up(), short(piece))
	const costWords = "grams of the job ÷ 1000 × price of a kilogram"
	if quantity == 0 {
		f.Job = missing(name+" in the job", unitGrams, "sheets of each pass × pieces on a sheet × grams", "quantity")
		f.Cost = missing(name, r.Press.Price.Currency, costWords, "quantity")
		return f
	}
	f.Job = known(name+" in the job", unitGrams, job, "%s", strings.Join(jobWords, " + "))
	if toner.PricePerKg == 0 {
		f.Cost = missing(name, r.Press.Price.Currency, costWords, "price of a kilogram of "+name)
		return f
	}
	f.Cost = known(name, r.Press.Price.Currency, job/1000*toner.PricePerKg, "%s g ÷ 1000 × %s", short(job), short(toner.PricePerKg))
	return f
}

func (r *Request) time(k *Reckoning, p *Plan, run run, fed, quantity int) {
	v := r.Press.Speed
	add := func(what string, given *float64, name, formula string, value func(float64) (float64, string)) {
		switch {
		case quantity == 0 && what == "printing":
			k.Time = append(k.Time, missing(what, unitMinutes, formula, "quantity"))
		case given == nil:
			k.Time = append(k.Time, missing(what, unitMinutes, formula, name))
		default:
			n, words := value(*given)
			k.Time = append(k.Time, known(what, unitMinutes, n, "%s", words))
		}
	}
	passes := float64(len(p.Passes))
	add("setting up", v.SetUpMinutes, "minutes to set up a pass", "passes × minutes", func(m float64) (float64, string) {
		return passes * m, fmt.Sprintf("%s × %s min", counted(len(p.Passes), "pass", "passes"), short(m))
	})
	if p.SetChanges > 0 {
		add("changing the set", v.SetChangeMinutes, "minutes of a set change", "set changes × minutes", func(m float64) (float64, string) {
			return float64(p.SetChanges) * m, fmt.Sprintf("%s × %s min", counted(p.SetChanges, "change", "changes"), short(m))
		})
	}
	add("printing", v.SheetsPerHour, "sheets the press feeds in an hour", "sheets fed ÷ sheets an hour × 60", func(n float64) (float64, string) {
		return float64(fed) / n * 60, fmt.Sprintf("%d sheets fed ÷ %s an hour × 60", fed, short(n))
	})
	k.Minutes = sum("time on the press", unitMinutes, k.Time)
}

func (r *Request) costs(k *Reckoning, p *Plan, fed, first, quantity int) {
	price, currency := r.Press.Price, r.Press.Price.Currency
	if currency == "" {
		k.Total = missing("cost", "", "toner + clicks + set changes + press time + stock", "prices of the press")
		k.PerPiece = missing(whatPiece, "", "cost ÷ pieces", "prices of the press")
		return
	}
	for _, t := range k.Toner {
		c := t.Cost
		c.What = "toner " + c.What
		k.Costs = append(k.Costs, c)
	}
	if quantity == 0 {
		k.Costs = append(k.Costs, missing("clicks", currency, "sheets fed × price of a click", "quantity"))
	} else {
		k.Costs = append(k.Costs, known("clicks", currency, float64(fed)*price.Click, "%d sheets fed × %s", fed, short(price.Click)))
	}
	if p.SetChanges > 0 {
		k.Costs = append(k.Costs, known("set changes", currency, float64(p.SetChanges)*price.SetChange, "%d × %s", p.SetChanges, short(price.SetChange)))
	}
	const hourWords = "time on the press ÷ 60 × price of an hour"
	switch {
	case price.Hour == nil:
		k.Costs = append(k.Costs, missing("press time", currency, hourWords, "price of an hour of the press"))
	case len(k.Minutes.NotGiven) > 0:
		k.Costs = append(k.Costs, missing("press time", currency, hourWords, k.Minutes.NotGiven...))
	default:
		k.Costs = append(k.Costs, known("press time", currency, *k.Minutes.Value/60**price.Hour, "%s min ÷ 60 × %s", short(*k.Minutes.Value), short(*price.Hour)))
	}
	const stockWords = "sheets needed × price of a sheet"
	switch {
	case r.Stock == nil || r.Stock.Price == nil:
		k.Costs = append(k.Costs, missing("stock", currency, stockWords, "price of a sheet of the stock"))
	case r.Stock.Price.Currency != currency:
		k.Costs = append(k.Costs, missing("stock", currency, stockWords, fmt.Sprintf("price of a sheet in %s (it is given in %s)", currency, r.Stock.Price.Currency)))
	case quantity == 0:
		k.Costs = append(k.Costs, missing("stock", currency, stockWords, "quantity"))
	default:
		k.Costs = append(k.Costs, known("stock", currency, float64(first)*r.Stock.Price.Sheet, "%d sheets × %s", first, short(r.Stock.Price.Sheet)))
	}
	k.Total = sum("cost", currency, k.Costs)
	if quantity == 0 {
		k.Total.Value = nil
		k.PerPiece = missing(whatPiece, currency, "cost ÷ pieces", "quantity")
		return
	}
	if k.Total.Value == nil {
		k.PerPiece = missing(whatPiece, currency, "cost ÷ pieces", k.Total.NotGiven...)
		return
	}
	each := *k.Total.Value / float64(quantity)
	k.PerPiece = Figure{What: whatPiece, Unit: currency, Value: &each, Formula: fmt.Sprintf("%s ÷ %d pieces", short(*k.Total.Value), quantity), NotGiven: k.Total.NotGiven}
}

// sum adds what is known and names what is not. Where nothing is known there is no sum.
func sum(what, unit string, parts []Figure) Figure {
	total := 0.0
	out := Figure{What: what, Unit: unit}
	var words, all []string
	for _, f := range parts {
		all = append(all, f.What)
		if f.Value != nil {
			total += *f.Value
			words = append(words, f.What)
		}
		for _, n := range f.NotGiven {
			if !slices.Contains(out.NotGiven, n) {
				out.NotGiven = append(out.NotGiven, n)
			}
		}
	}
	if words == nil && all != nil {
		out.Formula = strings.Join(all, " + ")
		return out
	}
	out.Value, out.Formula = &total, strings.Join(words, " + ")
	return out
}

// short writes a number with four significant digits at least, and no more than tell something.
func short(v float64) string {
	if v == 0 {
		return "0"
	}
	digits := 3 - int(math.Floor(math.Log10(math.Abs(v))))
	digits = min(max(digits, 0), 9)
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
