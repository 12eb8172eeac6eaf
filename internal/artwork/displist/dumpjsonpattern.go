package displist

// Tilings and shadings of one number are the same; only the first tells all.

type jsonTiling struct {
	Number   int         `json:"number"`
	Coloured bool        `json:"coloured"`
	Box      *[4]float64 `json:"box,omitempty"`   // pattern space
	Steps    *[2]float64 `json:"steps,omitempty"` // pattern space
	Matrix   *[6]float64 `json:"matrix,omitempty"`
	Blending bool        `json:"blending,omitempty"`
	Object   int         `json:"object,omitempty"`
	Items    []jsonItem  `json:"items,omitempty"` // pattern space
}

type jsonShading struct {
	Number     int         `json:"number"`
	Type       int         `json:"type"`
	Coords     []float64   `json:"coords,omitempty"`
	Domain     []float64   `json:"domain,omitempty"`
	Extend     *[2]bool    `json:"extend,omitempty"`
	Ends       [][]float64 `json:"ends,omitempty"` // colours at the start and the end of the domain
	Box        *[4]float64 `json:"box,omitempty"`
	Background []float64   `json:"background,omitempty"`
	Triangles  int         `json:"triangles,omitempty"`
	Patches    int         `json:"patches,omitempty"`
	Bounds     *[4]float64 `json:"bounds,omitempty"` // of the mesh
	Matrix     *[6]float64 `json:"matrix,omitempty"`
	Object     int         `json:"object,omitempty"`
}

func (d *jsonDumper) tiling(t *Tiling) *jsonTiling {
	n, known := d.tilings[t]
	if known {
		return &jsonTiling{Number: n, Coloured: t.Coloured}
	}
	n = len(d.tilings) + 1
	d.tilings[t] = n
	box, matrix := rectJSON(t.BBox), matrixJSON(t.M)
	return &jsonTiling{Number: n, Coloured: t.Coloured, Box: &box, Steps: &[2]float64{t.XStep, t.YStep}, Matrix: &matrix,
		Blending: t.Blending, Object: t.Ref.Num, Items: d.items(t.Items)}
}

func (d *jsonDumper) shading(s *Shading) *jsonShading {
	n, known := d.shadings[s]
	if known {
		return &jsonShading{Number: n, Type: s.Type}
	}
	n = len(d.shadings) + 1
	d.shadings[s] = n
	matrix := matrixJSON(s.M)
	j := &jsonShading{Number: n, Type: s.Type, Coords: s.Coords, Domain: s.Domain, Background: s.Background, Matrix: &matrix, Object: s.Ref.Num}
	if s.Extend[0] || s.Extend[1] {
		j.Extend = &s.Extend
	}
	if s.Function != nil && s.Mesh == nil {
		j.Ends = [][]float64{s.value(0), s.value(1)}
	}
	if s.BBox != nil {
		box := rectJSON(*s.BBox)
		j.Box = &box
	}
	if m := s.Mesh; m != nil {
		bounds := rectJSON(m.Bounds)
		j.Triangles, j.Patches, j.Bounds = len(m.Triangles)/3, len(m.Patches), &bounds
	}
	return j
}
