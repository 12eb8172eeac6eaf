package plate

import (
	"fmt"
	"strings"
)

// TextGrid draws tiny plates for tests: per colourant its name and one digit a pixel, 0 = no toner, 9 =
// full tint. A plate without toner is one line, "White -".
func TextGrid(s *Stack) string {
	return grid(s, func(v byte) string { return fmt.Sprint((int(v)*9 + 127) / 255) })
}

// HexGrid is TextGrid with the exact tint as two hexadecimal digits, a space between.
func HexGrid(s *Stack) string {
	return grid(s, func(v byte) string { return fmt.Sprintf("%02x ", v) })
}

func grid(s *Stack, digits func(byte) string) string {
	var b strings.Builder
	for i, c := range s.Set.All() {
		if blank(s.planes[i]) {
			fmt.Fprintf(&b, "%s -\n", c.Name)
			continue
		}
		fmt.Fprintln(&b, c.Name)
		for y := range s.Height {
			var row strings.Builder
			for x := range s.Width {
				row.WriteString(digits(s.At(i, x, y)))
			}
			fmt.Fprintln(&b, strings.TrimRight(row.String(), " "))
		}
	}
	return b.String()
}
