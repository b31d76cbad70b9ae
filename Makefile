# make demo       build, measure a sample clip, say where the pictures are
# make test       everything that must hold before a change goes in
# make accuracy CLIPS=folder   measured against the truth beside each clip
# make scale-test   the examples of docs/scale.md, with DuckDB and Polars from PyPI
# make dist       a self-contained program, its sources and a Debian package: target/dist
# make dist-test  both tried in a bare Debian, as root or through sudo
# make speed      timed against plain decoding, on clips that are filmed once
# make soak       the long tests: damaged clips, memory errors, fuzzing; hours
# make supply     licences and known holes of dependencies, and the same build twice

PATH := $(PATH):$(HOME)/.cargo/bin
export PATH

CLIPS ?= sample-clips-synthetic
FUZZ_SECONDS ?= 300
DEMO_CLIP = sample-clips-synthetic/cmj_120.mp4
DEMO_FLOOR = 289,301,62,26
DEMO_PICTURES = target/demo

.PHONY: help demo test accuracy dist dist-test scale-test speed soak supply
help:
	@sed -n 's/^# //p;/^$$/q' Makefile

demo:
	@sh tests/tools/prepare build
	@echo "Building; the first time takes some minutes."
	@cargo build --release --locked --quiet
	@echo "Measuring $(DEMO_CLIP):"
	@rm -rf $(DEMO_PICTURES)
	@target/release/underfoot measure --no-keep --floor $(DEMO_FLOOR) --pictures $(DEMO_PICTURES) $(DEMO_CLIP)

test:
	@sh tests/tools/prepare test
	cargo fmt --check
	cargo clippy --locked --all-targets -- -D warnings
	cargo check --locked --quiet --no-default-features --lib
	RUSTDOCFLAGS="-D warnings" cargo doc --locked --no-deps --quiet
	cargo test --locked --quiet
	cargo test --locked --quiet --test views million -- --ignored
	cargo run --locked --quiet --example accuracy -- sample-clips-synthetic

accuracy:
	@sh tests/tools/prepare build
	@cargo run --release --locked --quiet --example accuracy -- $(CLIPS)

dist:
	@sh tests/tools/prepare dist
	@tests/tools/packaging/dist

dist-test: dist
	@sh tests/tools/dist-test

scale-test:
	@sh tests/tools/prepare scale
	@cargo build --release --locked --quiet
	@sh tests/tools/scale-test target/release/underfoot

speed:
	@sh tests/tools/prepare test
	@cargo build --release --locked --quiet
	@cargo run --release --locked --quiet --example speed

soak:
	@sh tests/tools/prepare soak
	cargo test --release --locked --test mutated --test apart -- --ignored --nocapture
	sh tests/fuzz/run $(FUZZ_SECONDS)

supply:
	@sh tests/tools/prepare supply
	cargo deny --locked check licenses bans sources
	@if cargo deny --locked fetch db; then cargo deny --locked --offline check advisories; else \
		echo "supply: the list of known holes cannot be reached; they were not looked up" >&2; fi
	sh tests/tools/same_twice
