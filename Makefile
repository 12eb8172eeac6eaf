# The few commands of the project; README.md says what each is for.
GO ?= go
T ?= 30s
PKG ?= ./internal/artwork/pdf
OLD ?= HEAD~1

.PHONY: build check test oracles golden fuzz bench benchcmp bench-peers truth look-book screens

# The program needs no C, and is smaller and starts sooner without.
build:
	CGO_ENABLED=0 $(GO) build -o laydown ./cmd/laydown

# Fast checks while working: formatting, vet, every test but those that take minutes or need other programs.
check:
	@test -z "$$(gofmt -l cmd internal)" || { gofmt -l cmd internal; echo "run gofmt -w on these"; exit 1; }
	$(GO) vet ./...
	$(GO) test -short ./...

# Those that take longest begin first, so that none is left running alone at the end.
LONG = ./internal/truth ./internal/cli ./internal/app ./internal/stress ./internal/web/browser

# Everything: installs the independent interpreters when it may, says what it skipped otherwise.
test: oracles
	@test -z "$$(gofmt -l cmd internal)" || { gofmt -l cmd internal; echo "run gofmt -w on these"; exit 1; }
	$(GO) vet ./...
	$(GO) test -timeout 20m $(LONG) ./...

oracles:
	@sh scripts/oracles.sh

# Rewrite the golden files, then list what changed, for review.
golden:
	$(GO) test $$(grep -rl --include='*_test.go' 'laydown/internal/golden' internal | xargs -n1 dirname | sort -u | sed 's|^|./|') -update
	@git status --short -- '*testdata*'

fuzz:
	for f in $$($(GO) test -list '^Fuzz' $(PKG) | grep '^Fuzz'); do $(GO) test $(PKG) -run '^$$' -fuzz "^$$f$$" -fuzztime $(T) || exit 1; done

bench:
	$(GO) test -run '^$$' -bench . -count 6 ./internal/... | tee bench.txt

# Compare the benchmarks of a revision with the working tree, side by side in one run.
benchcmp:
	rm -rf .old && git worktree add -f .old $(OLD)
	cd .old && $(GO) test -run '^$$' -bench . -count 6 ./internal/... > ../old.txt; cd ..
	$(GO) test -run '^$$' -bench . -count 6 ./internal/... > new.txt
	git worktree remove --force .old
	$(GO) tool benchstat old.txt new.txt

# Time plates against independent interpreters, side by side, and put the table into docs/performance.md. The machine should be quiet.
bench-peers: build
	sh scripts/benchpeers.sh -w

# The table of plates against independent interpreters: docs/truth.md.
truth: oracles
	$(GO) test ./internal/truth -run TestTruth -count=1 -timeout 40m -write

# The picture book of all toners on all stocks: docs/look/.
look-book: build
	./laydown press book five-station --out docs/look

# Pictures of the main states of the page, light and dark, wide and narrow: docs/screens/. Needs Chromium.
screens:
	mkdir -p docs/screens
	$(GO) test ./internal/web/browser -run '^TestScreens$$' -count=1 -timeout 30m -v -screens "$(CURDIR)/docs/screens"
