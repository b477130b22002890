# make test     everything the gate runs
# make quick    format, vet and the tests without the race detector
# make bench    all benchmarks, with their baselines
# make pages    draws again what is generated: the schematic of the shipped rig

GO ?= go

.PHONY: test quick bench pages packages

test:
	@bash .ci/stages

packages:
	@bash .ci/packages

quick:
	@test -z "$$(gofmt -l .)" || { gofmt -l .; exit 1; }
	$(GO) vet ./...
	$(GO) test ./...

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

pages:
	$(GO) test ./fixtures -run Schematic -update
