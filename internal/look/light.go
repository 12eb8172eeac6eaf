package look

import (
	"fmt"
	"math"
)

// Light is a lamp, the light of the room and how the sheet is held under the viewer, who looks from straight above
// and far away. The picture is not foreshortened by the tilt.
//
// The zero value is dark; start from MeasuredLight or LampLight.
type Light struct {
	Elevation float64 // of the lamp, degrees above the horizon: 90 is straight above, 45 where an instrument has it
	Azimuth   float64 // of the lamp, degrees clockwise from the sheet's top edge: 0 stands behind the top, 90 at the right
	Radius    float64 // degrees: half the angle that the lamp fills, seen from the sheet; 0 is a point
	Distance  float64 // mm from the middle of the sheet to the lamp; 0 is so far that its light is parallel
	Strength  float64 // 1: a perfect diffuser is white under the lamp at 45 degrees
	Ambient   float64 // light from all sides, in the unit of Strength

	// Degrees by which the sheet faces towards its top edge and towards its right edge.
	TiltTop, TiltRight float64

	// Even keeps the light that falls on the sheet, whatever the angle, as a radiance factor does: only what shines
	// changes. Otherwise a sheet turned away from the lamp is darker.
	Even bool

	Glint Glint
}

// MeasuredLight is an instrument's: 45/0, a point, no other light, no glint. Under it a picture has exactly the
// colours of Model.Lab, as far as a screen can show them.
func MeasuredLight() Light { return Light{Elevation: 45, Strength: 1} }

// LampLight is a desk lamp in a bright room, behind the top left corner, near enough for metals to shade off over the
// sheet: distance in mm, about twice the sheet's longer side.
func LampLight(distance float64) Light {
	return Light{Elevation: 66, Azimuth: -40, Radius: 3, Distance: distance, Strength: 0.92, Ambient: 0.08, Even: true, Glint: DefaultGlint()}
}

// Tilted is the light with the sheet turned further, to face the lamp (degrees > 0) or away from it.
func (l Light) Tilted(degrees float64) Light {
	sin, cos := math.Sincos(l.Azimuth * math.Pi / 180)
	l.TiltTop += float64(degrees * cos)
	l.TiltRight += float64(degrees * sin)
	return l
}

// Check reports values that no lamp and no hand has.
func (l *Light) Check() error {
	for _, c := range []struct {
		name       string
		v, lo, hi  float64
		unit, hint string
	}{
		{"elevation", l.Elevation, 0, 90, " degrees", "above the horizon"},
		{"azimuth", l.Azimuth, -360, 360, " degrees", "clockwise from the top edge"},
		{"radius", l.Radius, 0, 45, " degrees", "half the angle the lamp fills"},
		{"distance", l.Distance, 0, 1e6, " mm", "0 is far away"},
		{"strength", l.Strength, 0, 16, "", "1 is a perfect diffuser shown white"},
		{"ambient light", l.Ambient, 0, 16, "", "0 is a dark room"},
		{"tilt to the top", l.TiltTop, -80, 80, " degrees", "0 lies flat"},
		{"tilt to the right", l.TiltRight, -80, 80, " degrees", "0 lies flat"},
		{"flake size", l.Glint.Flake, 0, 1000, " µm", "0 is without glint"},
		{"flake spread", l.Glint.Spread, 0, 45, " degrees", "how far one flake scatters"},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return fmt.Errorf("the light's %s is %g%s; it can be %g to %g (%s)", c.name, c.v, c.unit, c.lo, c.hi, c.hint)
		}
	}
	return nil
}

type vector [3]float64

func dot(a, b vector) float64 {
	return float64(a[0]*b[0]) + float64(a[1]*b[1]) + float64(a[2]*b[2])
}

func (a vector) unit() vector {
	n := math.Sqrt(dot(a, a))
	return vector{a[0] / n, a[1] / n, a[2] / n}
}

// steady rounds off what differs in the last bits between machines.
func (a vector) steady() vector {
	const grain = 1 << 40
	for i := range a {
		a[i] = math.Round(a[i]*grain) / grain
	}
	return a
}

// lamp is a Light in the frame of the sheet: x to the right, y to the top, z out of its face.
type lamp struct {
	Light
	to, eye  vector // towards the lamp from the middle of the sheet, and towards the viewer
	widening float64
	glint    glint
	far      geometry // where Distance is 0
}

func newLamp(l Light) (*lamp, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	rad := math.Pi / 180
	se, ce := math.Sincos(l.Elevation * rad)
	sa, ca := math.Sincos(l.Azimuth * rad)
	st, ct := math.Sincos(l.TiltTop * rad)
	sr, cr := math.Sincos(l.TiltRight * rad)
	// The sheet's axes: turned about x until it faces up by TiltTop, then about y.
	x := vector{cr, 0, -sr}
	y := vector{-float64(sr * st), ct, -float64(cr * st)}
	z := vector{float64(sr * ct), st, float64(cr * ct)}
	in := func(v vector) vector { return vector{dot(v, x), dot(v, y), dot(v, z)}.steady() }
	m := &lamp{Light: l, to: in(vector{float64(ce * sa), float64(ce * ca), se}), eye: in(vector{0, 0, 1})}
	m.widening = vector{math.Tan(l.Radius*rad) / 2}.steady()[0]
	m.glint = newGlint(l)
	m.far = m.geometry(m.to, 1)
	return m, nil
}

// geometry is how lamp and viewer stand to one place of the sheet.
type geometry struct {
	nl, nv, nh, vh float64 // cosines between normal, lamp, viewer and half-way
	hx, hy         float64 // slope of the half-way vector
	fall           float64 // light on the sheet; 1 under the measuring lamp
}

var cos45 = math.Sqrt(0.5)

// geometry towards the lamp, whose light is so much weaker or stronger for its distance.
func (m *lamp) geometry(to vector, distance float64) geometry {
	h := vector{to[0] + m.eye[0], to[1] + m.eye[1], to[2] + m.eye[2]}.unit()
	g := geometry{nl: to[2], nv: m.eye[2], nh: h[2], vh: dot(h, m.eye)}
	if g.nl <= 0 || g.nv <= 0 {
		return g
	}
	g.hx, g.hy = h[0]/h[2], h[1]/h[2]
	g.fall = m.Strength
	if !m.Even {
		g.fall *= g.nl / cos45 * distance
	}
	return g
}

// at is the geometry at a place in mm from the middle of the sheet, x to the right, y to the top.
func (m *lamp) at(x, y float64) geometry {
	if m.Distance == 0 {
		return m.far
	}
	d := vector{float64(m.to[0]*m.Distance) - x, float64(m.to[1]*m.Distance) - y, m.to[2] * m.Distance}
	square := dot(d, d)
	n := math.Sqrt(square)
	return m.geometry(vector{d[0] / n, d[1] / n, d[2] / n}, m.Distance*m.Distance/square)
}
