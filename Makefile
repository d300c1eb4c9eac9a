# The commands of this project. `make demo` and `make test` set up a bare Debian 12 or Ubuntu 24.04 by themselves.

PACKAGES := ./...
REVISION := $(or $(shell git rev-parse --short HEAD 2>/dev/null),unknown)

.PHONY: help demo test build bench lint fmt accuracy properties

help: ## list the commands
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "make %-10s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

demo: build ## build, then measure and judge the demo pictures in samples/, and scan and grade an invented site
	scripts/demo.sh

# The program is linked without OpenCV's window and video libraries (scripts/pkgconfig) and what only they need: it then
# starts in half the time. A plain `go build ./cmd/crimprule` works as well; tests and the linter use the plain way,
# since dropping unused sections breaks the linking of packages without OpenCV.
build: export PKG_CONFIG_PATH := $(CURDIR)/scripts/pkgconfig
build: export CGO_LDFLAGS := -O2 -g -Wl,--gc-sections
build: ## leave the program at ./crimprule
	scripts/setup.sh build
	go build -trimpath -buildvcs=false -ldflags "-X main.revision=$(REVISION)" -o crimprule ./cmd/crimprule

# The cases of the property tests are the same at each call, so that a failure is the change's and not the day's.
test: export RAPID_SEED ?= 1
test: ## set up, vet, check the format, lint, and run all tests
	scripts/setup.sh test
	go vet $(PACKAGES)
	@unformatted=$$(gofmt -l cmd internal samples vision) && test -z "$$unformatted" || \
		{ echo "not formatted (call make fmt):"; echo "$$unformatted"; exit 1; }
	bin/golangci-lint run --allow-parallel-runners $(PACKAGES)
	go test -p 2 -timeout 20m $(PACKAGES)

lint: ## only the linter
	scripts/setup.sh lint
	bin/golangci-lint run --allow-parallel-runners $(PACKAGES)

fmt: ## format all Go files
	gofmt -w cmd internal samples vision

bench: ## run the benchmarks, without the tests
	scripts/setup.sh build
	go test -p 1 -run '^$$' -bench . -benchmem $(PACKAGES)

properties: ## search with the property tests for new cases that fail [CHECKS=N]
	scripts/setup.sh build
	RAPID_CHECKS=$(or $(CHECKS),1000) go test -p 1 -count 1 $$(grep -rl pgregory.net/rapid --include='*_test.go' cmd internal vision | xargs -n1 dirname | sort -u | sed 's|^|./|')

# DIR names further folders of pictures with their truth files, DRAWN how many random pictures of each kind to draw besides.
accuracy: ## measure all test pictures with truth and write the tables in DEVELOPERS.md anew [DIR="FOLDER ..."] [DRAWN=N]
	scripts/setup.sh build
	go run ./internal/accuracy/cmd/accuracy -drawn $(or $(DRAWN),0) -write DEVELOPERS.md $(DIR)
