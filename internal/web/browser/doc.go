// Package browser holds the page in a real browser: its tests drive the Chromium of the system without a network. Without one
// they are skipped, unless LAYDOWN_REQUIRE_ORACLES is 1.
package browser
