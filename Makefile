# make test     all tests: what the gate runs; installs what it needs as root on Debian
# make quick    format, vet and the tests, without sweeps and race detector
# make study    the long sweeps: every fault of the rig, the dictionary made anew
# make bench    all benchmarks, with their baselines
# make release  binaries, bills of materials and Debian packages, into dist/
# make test-install, make test-foreign   install the package in a clean root;
#               run the binaries of other architectures (both need make release)
# make test-kernel   run the program on Debian's stock kernel in an emulated machine
# make pages    draws again what is generated: the schematic, the parts list,
#               the picture of a report in README

GO ?= go

.PHONY: test quick study bench pages packages release test-install test-foreign test-kernel

test:
	@bash .ci/stages

packages:
	@bash .ci/packages

release:
	@bash .ci/release

test-install:
	@bash .ci/install-test

test-foreign:
	@bash .ci/foreign

test-kernel:
	@bash .ci/kernel && $(GO) test -count=1 -tags kernel -timeout 400s ./cmd/sinkproof/kernel

quick:
	@test -z "$$(gofmt -l .)" || { gofmt -l .; exit 1; }
	$(GO) vet ./...
	$(GO) test -skip "^TestSweep" ./...

# The sweeps of studies: minutes of two cores, not part of the gate.
study:
	$(GO) test -tags study -timeout 60m -run '^TestSweep' ./bench/twin ./scenarios/... ./cmd/sinkproof

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

pages: packages
	SINKPROOF_DRAW=1 $(GO) test ./fixtures -run TestDraw
	@out=$$(mktemp -d) && \
	$(GO) run ./cmd/sinkproof demo --out $$out/demo >/dev/null 2>&1 && \
	pdftoppm -r 84 -f 1 -l 1 -singlefile -png $$out/demo/units/HL-26-0017/attempt-1/report.pdf reports/page/report && \
	rm -rf $$out
