package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
)

var processingSteps = Rule{
	ID:    "processing-step-layers",
	Group: Document,
	Measures: "layers that stand for a processing step (cutting, folding, dimensions …): the technical ones are kept off the plates; a warning where a group is unknown " +
		"or lacks the type it needs",
	Source:     "ISO 19593-1: GTS_Metadata of the layer with GTS_ProcStepsGroup and GTS_ProcStepsType",
	Severities: []finding.Severity{finding.Note, finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		items := map[displist.Step][]int{}
		printed := map[displist.Step]bool{}
		for i := range c.List.Items {
			it := &c.List.Items[i]
			if s := it.StepOf(); s != (displist.Step{}) {
				items[s] = append(items[s], i)
				printed[s] = printed[s] || !it.Hidden
			}
		}
		byName := map[string]displist.Step{}
		for s := range items {
			byName[s.Group+"\x00"+s.Type] = s
		}
		for _, name := range sortedKeys(byName) {
			s := byName[name]
			f := finding.Finding{Severity: finding.Note, Place: c.place(c.boundsOf(items[s]), items[s])}
			switch {
			case !s.Known():
				f.Severity = finding.Warning
				f.What = fmt.Sprintf("A layer stands for the processing step %q, which is not one of the standard; it is treated as an ordinary layer.", s.Group)
				f.Why = "If it holds cutting or folding lines, these are printed."
				f.Remedy = "Give the layer one of the standard's groups, or hide it."
			case s.NeedsType() && s.Type == "":
				f.Severity = finding.Warning
				f.What = fmt.Sprintf("A layer stands for a processing step of the group %s without its type; it is kept off the plates.", s.Group)
				f.Why = "Nobody can tell whether its lines are to be cut, creased or glued."
				f.Remedy = "Give the layer its type, Cutting for example."
			case s.Technical() && !printed[s]:
				f.What = fmt.Sprintf("The layer of the processing step %s describes the piece; it is kept off the plates.", s)
				f.Why = "Its lines tell the finisher what to do and must not be printed."
				f.Remedy = "Nothing to do."
			case s.Technical():
				f.Severity = finding.Warning
				f.What = fmt.Sprintf("The layer of the processing step %s is printed, since the job asks for it.", s)
				f.Why = "Its lines tell the finisher what to do and are seldom meant to be seen."
				f.Remedy = "Strike the layer from the job's list of layers to print."
			default:
				f.What = fmt.Sprintf("The layer of the processing step %s is printed like any other.", strings.ToLower(s.Group))
				f.Why = "Steps of this group are laid down by the press."
				f.Remedy = "Nothing to do."
			}
			c.Add(f)
		}
		return nil
	},
}

// onStepsOnly reports whether everything on the page that names the colourant lies on technical processing steps.
func (p *Page) onStepsOnly(name string) bool {
	items := p.hiddenNaming(name)
	for _, i := range items {
		if !p.List.Items[i].StepOf().Technical() {
			return false
		}
	}
	return len(items) > 0
}
