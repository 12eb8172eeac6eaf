package check

import (
	"slices"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

func twoSetPage(t *testing.T, items ...displist.Item) *Page {
	t.Helper()
	pr, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	target, err := separate.NewTarget(pr, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return &Page{List: &displist.List{Items: items}, Target: target, Plates: plate.NewStack(plate.Header{Width: 1, Height: 1, DPI: 72, Set: target.Set})}
}

func painted(s colour.Space, comps ...float64) displist.Item {
	return displist.Item{Paint: displist.Paint{Space: s, Comps: comps}}
}

func TestTonerOfAnItem(t *testing.T) {
	sep := func(name string) *colour.Separation { return &colour.Separation{Name: name, Alternate: colour.CMYK} }
	mix := func(nchannel bool, names ...string) *colour.DeviceN {
		return &colour.DeviceN{Names: names, Alternate: colour.CMYK, NChannel: nchannel}
	}
	silvers := &colour.Indexed{Base: sep("Silver"), HiVal: 1, Table: []byte{0, 255}}
	for _, c := range []struct {
		what string
		item displist.Item
		want []string
	}{
		{"a toner", painted(sep("Silver"), .5), []string{"Silver"}},
		{"a tint of 0", painted(sep("Silver"), 0), nil},
		{"a mix", painted(sep("Pale Gold"), 1), []string{"Silver", "Gold"}},
		{"a name without a toner", painted(sep("Moon"), 0), []string{"Cyan", "Magenta", "Yellow", "Black"}},
		{"all", painted(sep("All"), 1), []string{"Cyan", "Magenta", "Yellow", "Black", "White", "Silver", "Gold", "Clear"}},
		{"none", painted(sep("None"), 1), nil},
		{"CMYK", painted(colour.CMYK, 0, .1, 0, 1), []string{"Magenta", "Black"}},
		{"white of RGB", painted(colour.RGB, 1, 1, 1), nil},
		{"RGB", painted(colour.RGB, 1, 1, .5), []string{"Cyan", "Magenta", "Yellow", "Black"}},
		{"a mixture", painted(mix(false, "Cyan", "Gold", "Clear"), 0, .5, 1), []string{"Gold", "Clear"}},
		{"a mixture with a name without a toner", painted(mix(false, "Gold", "Moon"), 1, 0), []string{"Cyan", "Magenta", "Yellow", "Black"}},
		{"the same by component", painted(mix(true, "Gold", "Moon"), 1, 0), []string{"Cyan", "Magenta", "Yellow", "Black", "Gold"}},
		{"an entry of a table", painted(silvers, 1), []string{"Silver"}},
		{"an entry of a table with tint 0", painted(silvers, 0), nil},
		{"an image", displist.Item{Kind: displist.Image, Image: &displist.Picture{Image: &image.Image{Space: silvers}}}, []string{"Silver"}},
		{"a stencil", displist.Item{Kind: displist.Image, Image: &displist.Picture{Image: &image.Image{Stencil: true}}, Paint: painted(sep("Gold"), 1).Paint}, []string{"Gold"}},
		{"a shading", displist.Item{Kind: displist.Shade, Shading: &displist.Shading{Space: sep("Gold")}}, []string{"Gold"}},
		{"a coloured tiling", displist.Item{Paint: displist.Paint{Space: &colour.Pattern{},
			Tiling: &displist.Tiling{Coloured: true, Items: []displist.Item{painted(sep("Gold"), 1), painted(sep("White"), 1)}}}}, []string{"White", "Gold"}},
		{"an uncoloured tiling", displist.Item{Paint: displist.Paint{Space: &colour.Pattern{Under: sep("Gold")}, Comps: []float64{1},
			Tiling: &displist.Tiling{}}}, []string{"Gold"}},
		{"a hidden item", displist.Item{Hidden: true, Paint: painted(sep("Gold"), 1).Paint}, nil},
		{"a group", displist.Item{Kind: displist.BeginGroup, Group: &displist.Group{}}, nil},
	} {
		t.Run(c.what, func(t *testing.T) {
			p := twoSetPage(t, c.item)
			if got := p.plateNames(p.itemToner(0)); !slices.Equal(got, c.want) {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}

func TestNameInsideATilingIsFoundOnTheItemThatUsesIt(t *testing.T) {
	moon := &colour.Separation{Name: "Moon", Alternate: colour.CMYK}
	cell := &displist.Tiling{Coloured: true, Items: []displist.Item{painted(moon, 1), painted(moon, .5)}}
	p := twoSetPage(t, painted(colour.CMYK, 1, 0, 0, 0), displist.Item{Paint: displist.Paint{Tiling: cell}})
	if got := p.itemsNaming("Moon"); !slices.Equal(got, []int{1}) {
		t.Errorf("items %v, want 1", got)
	}
}

func TestManyColoursOfACellKeepTheirSpaces(t *testing.T) {
	gold, white := &colour.Separation{Name: "Gold"}, &colour.Separation{Name: "White"}
	cell := &displist.Tiling{Coloured: true}
	for i := range 10_000 {
		cell.Items = append(cell.Items, painted(gold, float64(i)/10_000))
	}
	cell.Items = append(cell.Items, painted(white, 0))
	p := twoSetPage(t)
	if all := p.cellInks(cell); len(all) != maxCellInks+2 || all[maxCellInks+1].space != colour.Space(white) {
		t.Errorf("%d inks", len(all))
	}
}
