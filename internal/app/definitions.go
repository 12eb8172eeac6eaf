package app

import (
	"runtime/debug"

	"laydown/internal/check"
	"laydown/internal/press"
)

// Version is the module's version as built.
func Version() string {
	if bi, ok := debug.ReadBuildInfo(); ok && bi.Main.Version != "" {
		return bi.Main.Version
	}
	return "(devel)"
}

// Presses are the shipped presses.
func Presses() ([]*press.Press, error) { return all(press.PressNames(), press.FindPress) }

// Stocks are the shipped stocks.
func Stocks() ([]*press.Stock, error) { return all(press.StockNames(), press.FindStock) }

func all[T any](names []string, find func(string) (*T, error)) ([]*T, error) {
	out := make([]*T, 0, len(names))
	for _, n := range names {
		v, err := find(n)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// FindPress finds a press by name or file.
func FindPress(name string) (*press.Press, error) {
	p, err := press.FindPress(name)
	if err != nil {
		return nil, definitionError("press", name, err)
	}
	if _, err := check.Settle(p, nil, nil); err != nil {
		return nil, definitionError("press", name, err)
	}
	return p, nil
}

// FindStock finds a stock by name or file.
func FindStock(name string) (*press.Stock, error) {
	s, err := press.FindStock(name)
	if err != nil {
		return nil, definitionError("stock", name, err)
	}
	if _, err := check.Settle(nil, s, nil); err != nil {
		return nil, definitionError("stock", name, err)
	}
	return s, nil
}
