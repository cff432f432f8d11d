# Go 1.26 or newer is the one prerequisite.
#
#   make check    install the Debian packages that tests need, then check everything
#   make golden   rewrite the golden artefacts and the schemas; read the difference before you keep it
#   make build    build/bandwright
#   make soak     what takes minutes
#   make bench    speed, code and memory of the emitted C, beside other libraries and the limits

# Golden files are defined for this level of amd64: higher ones fuse products
# and sums, and the last digits differ.
export GOAMD64 = v1

# Tests build the program without its folder's path, as whoever ships it does: with the same flag everywhere,
# every package, the standard library's too, is compiled once instead of twice.
vet lint test: export GOFLAGS := $(strip $(shell go env GOFLAGS) -trimpath)

.PHONY: check tools format vet lint test golden build soak bench

check: tools format vet lint test

tools:
	@.ci/tools

format:
	@bad=$$(gofmt -l cmd compiler biquad targets golden); \
	if [ -n "$$bad" ]; then echo "gofmt would change:"; echo "$$bad"; exit 1; fi

vet: export GOGC = 400
vet:
	go vet ./...

# Every check that staticcheck has; code that nothing reaches is found by a test,
# golden/dead_test.go, as some of it has a reason. Garbage is collected as seldom as below.
lint: export GOGC = 400
lint:
	go tool staticcheck -checks all ./...

# What go test would vet, vet has looked at. Garbage is collected as seldom as in the program
# itself (cmd/bandwright/main.go). What takes longest comes first, so that no processor waits for it at the end.
test: export GOGC = 400
test:
	go test -vet=off -timeout 15m ./golden/... ./targets/cheader ./targets/selfcheck ./compiler ./cmd/... ./targets/page ./compiler/board ./compiler/batch ./compiler/compare ./...

golden:
	go test ./golden -run 'TestGolden$$|TestSchemaFileIsCurrent' -update
	go test ./cmd/bandwright -run TestSchemasAreCurrent -update

build:
	go build -trimpath -o build/bandwright ./cmd/bandwright

# The tests that take minutes: test limits of the large boards against boards with every
# single fault; 100 million samples through the fixed-point filters; the table of edits of held boards.
soak:
	go test -timeout 60m -tags soak ./golden -v -run TestNothingWrapsForLong
	go test -timeout 60m -tags soak ./compiler/production
	go test -timeout 60m -tags soak ./compiler/diagnosis -v -run TestThreeHundred
	go test -timeout 60m -tags soak ./compiler -v -run 'TestManyHeldEdits|TestHeldEditsInARow'

# Reads best on a machine that does nothing else. CMSIS_DSP=FOLDER compares with that library too.
bench: build
	targets/cheader/bench/tools
	targets/cheader/bench/run
