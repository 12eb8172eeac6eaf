// Package cgats holds measured data as text tables (ANSI CGATS.17, ISO 28178): patches with their tints and
// their colours.
package cgats
