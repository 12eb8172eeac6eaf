package displist

import (
	"encoding/json"
	"io"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/geom"
)

// The JSON forms of a list. Boxes are [x0 y0 x1 y1] and matrices [a b c d e f] in list space.

type jsonList struct {
	Page          jsonPage        `json:"page"`
	Group         *jsonGroup      `json:"group,omitempty"`
	Colourants    []jsonColourant `json:"colourants"`
	Blending      bool            `json:"blending"`
	Incomplete    bool            `json:"incomplete"`
	ViewerDiffers bool            `json:"viewerDiffers"`
	ItemCount     int             `json:"itemCount"`
	Items         []jsonItem      `json:"items,omitempty"`
}

type jsonPage struct {
	Number   int        `json:"number"`
	Object   int        `json:"object"`
	ToList   [6]float64 `json:"toList"`
	Media    [4]float64 `json:"media"`
	Crop     [4]float64 `json:"crop"`
	Bleed    [4]float64 `json:"bleed"`
	Trim     [4]float64 `json:"trim"`
	Art      [4]float64 `json:"art"`
	Written  []string   `json:"written"` // boxes the page has itself; the others are defaults
	UserUnit float64    `json:"userUnit"`
	Rotate   int        `json:"rotate"`
	Contents []jsonPart `json:"contents"`
}

type jsonPart struct {
	Object int   `json:"object"`
	Start  int64 `json:"start"`
}

type jsonColourant struct {
	Name       string   `json:"name"`
	Spaces     []string `json:"spaces"`
	Object     int      `json:"object,omitempty"`
	HiddenOnly bool     `json:"hiddenOnly,omitempty"`
}

type jsonGroup struct {
	Name     string `json:"name,omitempty"`
	Isolated bool   `json:"isolated"`
	Knockout bool   `json:"knockout"`
	Implicit bool   `json:"implicit,omitempty"`
	Space    string `json:"space,omitempty"`
	End      int    `json:"end,omitempty"`
}

type jsonItem struct {
	Number        int          `json:"number"`
	Kind          string       `json:"kind"`
	Box           [4]float64   `json:"box"`
	Shape         string       `json:"shape,omitempty"`
	EvenOdd       bool         `json:"evenOdd,omitempty"`
	Pen           *jsonPen     `json:"pen,omitempty"`
	Space         string       `json:"space,omitempty"`
	Components    []float64    `json:"components,omitempty"`
	Tiling        *jsonTiling  `json:"tiling,omitempty"`
	Shading       *jsonShading `json:"shading,omitempty"`
	Image         *jsonImage   `json:"image,omitempty"`
	Group         *jsonGroup   `json:"group,omitempty"`
	Clip          []string     `json:"clip,omitempty"` // innermost first
	Alpha         float64      `json:"alpha"`
	AlphaIsShape  bool         `json:"alphaIsShape,omitempty"`
	Blend         string       `json:"blend"`
	Overprint     bool         `json:"overprint"`
	OverprintMode int          `json:"overprintMode"`
	Intent        int          `json:"intent,omitempty"`
	Transfer      bool         `json:"transfer,omitempty"`
	Mask          *jsonMask    `json:"mask,omitempty"`
	Text          *jsonText    `json:"text,omitempty"`
	Layers        []*jsonLayer `json:"layers,omitempty"` // innermost first
	Hidden        bool         `json:"hidden,omitempty"`
	Origin        jsonOrigin   `json:"origin"`
}

type jsonPen struct {
	Width      float64    `json:"width"`
	Cap        int        `json:"cap"`
	Join       int        `json:"join"`
	MiterLimit float64    `json:"miterLimit"`
	Dash       []float64  `json:"dash,omitempty"`
	Phase      float64    `json:"phase,omitempty"`
	Adjust     bool       `json:"adjust,omitempty"`
	Matrix     [4]float64 `json:"matrix"`
}

type jsonImage struct {
	Width    int        `json:"width"`
	Height   int        `json:"height"`
	Bits     int        `json:"bits"`
	Space    string     `json:"space,omitempty"`
	Stencil  bool       `json:"stencil,omitempty"`
	SoftMask bool       `json:"softMask,omitempty"`
	Mask     bool       `json:"mask,omitempty"`
	Key      []int      `json:"key,omitempty"`
	Filter   string     `json:"filter,omitempty"`
	Object   int        `json:"object,omitempty"`
	Matrix   [6]float64 `json:"matrix"`
}

type jsonMask struct {
	Number     int        `json:"number"` // masks of one number are the same; only the first has items
	Luminosity bool       `json:"luminosity"`
	Box        [4]float64 `json:"box"`
	Space      string     `json:"space,omitempty"`
	Backdrop   []float64  `json:"backdrop,omitempty"`
	Transfer   bool       `json:"transfer,omitempty"`
	Items      []jsonItem `json:"items,omitempty"`
}

type jsonText struct {
	Object   int     `json:"object"`
	Font     string  `json:"font"`
	Size     float64 `json:"size"`
	Mode     int     `json:"mode"`
	Embedded bool    `json:"embedded"`
	Glyphs   int     `json:"glyphs,omitempty"`
	String   string  `json:"string"` // code bytes as Latin-1
}

type jsonLayer struct {
	Name    string `json:"name"`
	Object  int    `json:"object,omitempty"`
	Visible bool   `json:"visible"`
	Viewer  bool   `json:"viewer"`
	Step    string `json:"step,omitempty"` // processing step: group and type
}

type jsonOrigin struct {
	Object     int      `json:"object"`
	Offset     int64    `json:"offset"`
	Forms      []string `json:"forms,omitempty"` // innermost first
	Annotation int      `json:"annotation,omitempty"`
}

// WriteJSON writes the list with its items as one JSON object.
func (l *List) WriteJSON(w io.Writer) error {
	out := l.json()
	d := jsonDumper{masks: map[*SoftMask]int{}, tilings: map[*Tiling]int{}, shadings: map[*Shading]int{}}
	out.Items = d.items(l.Items)
	return writeJSON(w, out)
}

// WritePageJSON writes the facts of the page as one JSON object, without items.
func (l *List) WritePageJSON(w io.Writer) error { return writeJSON(w, l.json()) }

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(v)
}

func (l *List) json() *jsonList {
	p := &l.Page
	out := &jsonList{
		Page: jsonPage{Number: p.Number, Object: p.Object, ToList: matrixJSON(p.ToList), Media: rectJSON(p.Media), Crop: rectJSON(p.Crop),
			Bleed: rectJSON(p.Bleed), Trim: rectJSON(p.Trim), Art: rectJSON(p.Art), Written: []string{},
			UserUnit: p.UserUnit, Rotate: p.Rotate, Contents: []jsonPart{}},
		Group: groupJSON(l.Group), Colourants: []jsonColourant{}, Blending: l.Blending, Incomplete: l.Incomplete,
		ViewerDiffers: l.ViewerDiffers, ItemCount: len(l.Items),
	}
	for _, b := range []struct {
		name string
		has  bool
	}{{"crop", p.HasCrop}, {"bleed", p.HasBleed}, {"trim", p.HasTrim}, {"art", p.HasArt}} {
		if b.has {
			out.Page.Written = append(out.Page.Written, b.name)
		}
	}
	for _, c := range p.Contents {
		out.Page.Contents = append(out.Page.Contents, jsonPart(c))
	}
	for _, n := range l.Names {
		c := jsonColourant{Name: latin1(n.Name), Object: n.Object, HiddenOnly: n.HiddenOnly}
		for _, s := range n.Spaces {
			c.Spaces = append(c.Spaces, latin1(s.String()))
		}
		out.Colourants = append(out.Colourants, c)
	}
	return out
}

type jsonDumper struct {
	masks    map[*SoftMask]int
	tilings  map[*Tiling]int
	shadings map[*Shading]int
}

func (d *jsonDumper) items(items []Item) []jsonItem {
	out := make([]jsonItem, len(items))
	for i := range items {
		out[i] = d.item(&items[i], i)
	}
	return out
}

func (d *jsonDumper) item(it *Item, i int) jsonItem {
	j := jsonItem{
		Number: i, Kind: it.Kind.String(), Box: rectJSON(it.Bounds), Group: groupJSON(it.Group),
		Alpha: it.Alpha, AlphaIsShape: it.AlphaIsShape, Blend: it.Blend.String(), Overprint: it.Overprint, OverprintMode: it.OverprintMode,
		Intent: int(it.Intent), Transfer: it.Transfer, Hidden: it.Hidden,
		Origin: jsonOrigin{Object: it.Origin.Object, Offset: it.Origin.Offset, Annotation: it.Origin.Annotation},
	}
	if it.Kind == Fill || it.Kind == Stroke {
		j.Shape, j.EvenOdd = it.Shape.text(), it.Shape.Rule == geom.EvenOdd
	}
	if p := it.Pen; p != nil {
		st := &p.Style
		j.Pen = &jsonPen{Width: st.Width, Cap: int(st.Cap), Join: int(st.Join), MiterLimit: st.MiterLimit, Dash: st.Dash,
			Phase: st.DashPhase, Adjust: st.Adjust, Matrix: [4]float64{p.M.A, p.M.B, p.M.C, p.M.D}}
	}
	j.Space, j.Components = spaceJSON(it.Paint.Space), it.Paint.Comps
	if t := it.Paint.Tiling; t != nil {
		j.Tiling = d.tiling(t)
	}
	if s := it.shading(); s != nil {
		j.Space, j.Shading = spaceJSON(s.Space), d.shading(s)
	}
	if im := it.Image; im != nil {
		j.Image = &jsonImage{Width: im.Width, Height: im.Height, Bits: im.Bits, Space: spaceJSON(im.Space), Stencil: im.Stencil,
			SoftMask: im.SoftMask != nil, Mask: im.Mask != nil, Key: im.ColourKey, Filter: im.Filter, Object: im.Ref.Num, Matrix: matrixJSON(im.M)}
	}
	for c := it.Clip; c != nil; c = c.Parent {
		j.Clip = append(j.Clip, c.Shape.text())
	}
	if sm := it.SoftMask; sm != nil {
		n, known := d.masks[sm]
		if !known {
			n = len(d.masks) + 1
			d.masks[sm] = n
		}
		j.Mask = &jsonMask{Number: n, Luminosity: sm.Luminosity, Box: rectJSON(sm.Bounds), Space: spaceJSON(sm.Space),
			Backdrop: sm.Backdrop, Transfer: sm.Transfer != nil}
		if !known {
			j.Mask.Items = d.items(sm.Items)
		}
	}
	if t := it.Text; t != nil {
		j.Text = &jsonText{Object: t.Object, Font: latin1(t.Font), Size: t.Size, Mode: t.Mode, Embedded: t.Embedded,
			Glyphs: len(it.Shape.Glyphs), String: latin1(t.String)}
	}
	for l := it.Layer; l != nil; l = l.Parent {
		j.Layers = append(j.Layers, &jsonLayer{Name: l.Name, Object: l.Object, Visible: l.Visible, Viewer: l.Viewer, Step: latin1(l.Step.String())})
	}
	for f := it.Origin.Forms; f != nil; f = f.Parent {
		j.Origin.Forms = append(j.Origin.Forms, latin1(f.Name))
	}
	return j
}

func groupJSON(g *Group) *jsonGroup {
	if g == nil {
		return nil
	}
	return &jsonGroup{Name: latin1(g.Name), Isolated: g.Isolated, Knockout: g.Knockout, Implicit: g.Implicit, Space: spaceJSON(g.Space), End: g.End}
}

func spaceJSON(s colour.Space) string {
	if s == nil {
		return ""
	}
	return latin1(s.String())
}

func rectJSON(r geom.Rect) [4]float64 { return [4]float64{r.X0, r.Y0, r.X1, r.Y1} }

func matrixJSON(m geom.Matrix) [6]float64 { return [6]float64{m.A, m.B, m.C, m.D, m.E, m.F} }

// latin1 writes bytes of any value as the characters of the same numbers, so that JSON keeps them.
func latin1(s string) string {
	ascii := true
	for i := 0; i < len(s); i++ {
		ascii = ascii && s[i] < 0x80
	}
	if ascii {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		b.WriteRune(rune(s[i]))
	}
	return b.String()
}
