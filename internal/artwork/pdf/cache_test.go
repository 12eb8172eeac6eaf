package pdf

import (
	"sync"
	"testing"
)

func entryOf(v, bytes int) *cached {
	e := &cached{value: v}
	e.bytes.Store(int64(bytes))
	return e
}

// held counts what the cache still has of n keys, without asking for it in a way that keeps it.
func held(c *cache, n int) (count int) {
	for k := range n {
		_, young := c.young.Load().Load(k)
		_, old := c.old.Load().Load(k)
		if young || old {
			count++
		}
	}
	return count
}

// Is no more kept than the budget, and what is asked for again and again always?
func TestCacheKeepsItsBudget(t *testing.T) {
	const n, weight, budget = 1000, 10, 1000
	var c cache
	c.init(budget)
	for k := range n {
		if got := c.keep(k, entryOf(k, weight)); got.value != k {
			t.Fatalf("kept %v under %d", got.value, k)
		}
		if e := c.load(0); e == nil || e.value != 0 {
			t.Fatalf("what is always in use was forgotten after %d", k)
		}
		if count := held(&c, k+1); count*weight > budget+2*weight {
			t.Fatalf("%d bytes are kept after %d", count*weight, k)
		}
	}
	if c.load(n/2) != nil {
		t.Error("what nobody asked for is kept")
	}
	if count := held(&c, n); count < budget/weight/2-1 {
		t.Errorf("%d are kept", count)
	}
}

// Does the first of two values under one key stay, and does one that grows later count?
func TestCacheFirstStaysAndGrowthCounts(t *testing.T) {
	var c cache
	c.init(100)
	first := c.keep(1, entryOf(1, 0))
	if got := c.keep(1, entryOf(2, 0)); got != first {
		t.Error("the second replaced the first")
	}
	c.weigh(first, 60) // more than half: it is old now
	if c.load(1) != first {
		t.Fatal("forgotten too early")
	}
	c.weigh(c.keep(2, entryOf(2, 0)), 60)
	c.weigh(c.keep(3, entryOf(3, 0)), 60)
	if c.load(1) != nil {
		t.Error("it did not count")
	}
}

// Do many goroutines get the same value for a key while others are forgotten?
func TestCacheManyAtOnce(t *testing.T) {
	var c cache
	c.init(500)
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Go(func() {
			for i := range 5000 {
				k := (i * (g + 1)) % 97
				e := c.load(k)
				if e == nil {
					e = c.keep(k, entryOf(k, 10))
				}
				if e.value != k {
					t.Errorf("%v under %d", e.value, k)
					return
				}
			}
		})
	}
	wg.Wait()
}
