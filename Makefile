# thundercue. `make help` lists what can be made.
#
# Everything lands in build/. Objects are kept apart by VARIANT, so that the
# plain build and the sanitizer builds never mix.

SHELL    := /bin/bash
VARIANT  ?= plain
CC       ?= gcc
ifeq ($(origin CC),default)
CC       := gcc
endif
PREFIX   ?= /usr/local
LIBDIR   ?= $(PREFIX)/lib
VERSION  := $(shell sed -n 's/^.define TC_VERSION "\(.*\)"/\1/p' include/thundercue.h)

# What the library needs, and what the program needs besides.
LIB_PKGS := kissfft-float
PKGS     := $(LIB_PKGS) sndfile ogg samplerate libebur128 jansson libutf8proc libxxhash
PKG_CONFIG ?= pkg-config
# The sound card of `play`. Without PortAudio all is built but that, and `play` says so.
SOUND    := $(shell $(PKG_CONFIG) --exists portaudio-2.0 2>/dev/null && echo portaudio-2.0)
PKGS     += $(SOUND)
WARNINGS := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes \
            -Wmissing-prototypes -Wvla -Wformat=2
# WERROR=1 (continuous integration, the developers' targets) makes warnings errors; a user's build goes on.
WERROR   ?=
WARNINGS += $(if $(WERROR),-Werror)
# No fused multiply-add: the same numbers from every compiler.
# No folder names in the program: the same bytes wherever it is built.
BASE     := -std=c17 -D_GNU_SOURCE -Iinclude -Isrc/lib -Isrc -ffp-contract=off -ffile-prefix-map=$(CURDIR)=. -pthread
BASE     += $(if $(SOUND),,-DTC_WITHOUT_SOUND_CARD)
OPTIMISE ?= -O3 -g
CFLAGS   ?=
LDFLAGS  ?=
EXTRA    ?=
ALL_CFLAGS = $(BASE) $(WARNINGS) $(OPTIMISE) $(EXTRA) $(CFLAGS) $(shell $(PKG_CONFIG) --cflags $(PKGS) 2>/dev/null)
# `make V=1` shows the commands.
Q        := $(if $(V),,@)
LIBS     = $(shell $(PKG_CONFIG) --libs $(PKGS) 2>/dev/null) -lm -pthread
# One set of objects serves the program, the archive and the shared library.
LIB_CFLAGS := -fPIC -fvisibility=hidden -fno-semantic-interposition
LIB_LIBS = $(shell $(PKG_CONFIG) --libs $(LIB_PKGS) 2>/dev/null) -lm

OUT      := build/$(VARIANT)
# lib is the library; io and app are the program around it.
LIB_SOURCES := $(sort $(wildcard src/lib/*/*.c))
# The page's data: of the program, and of the page's core.
PAGE_SOURCES := $(filter-out src/page/core.c,$(sort $(wildcard src/page/*.c)))
PROGRAM_SOURCES := $(sort $(wildcard src/io/*/*.c src/app/*.c src/app/*/*.c) $(PAGE_SOURCES))
LIB_OBJECTS := $(LIB_SOURCES:src/%.c=$(OUT)/%.o)
PROGRAM_OBJECTS := $(PROGRAM_SOURCES:src/%.c=$(OUT)/%.o) $(OUT)/page.o
TEST_SOURCES := $(sort $(wildcard tests/test_*.c tests/*/test_*.c))
TESTS    := $(addprefix $(OUT)/,$(notdir $(TEST_SOURCES:.c=)))
# The library as it is installed: only what the public header declares can be seen in it.
SHARED   := libthundercue.so.$(VERSION)
SONAME   := libthundercue.so.$(firstword $(subst ., ,$(VERSION)))
LIBRARIES := $(OUT)/libthundercue.a $(OUT)/$(SHARED)
# What tests and fuzz targets link: everything but main, with the library's insides in view.
INSIDES   = $(filter-out $(OUT)/app/main.o,$(PROGRAM_OBJECTS)) $(OUT)/lib.a
FUZZ     := $(sort $(patsubst tests/fuzz/fuzz_%.c,%,$(wildcard tests/fuzz/fuzz_*.c)))
# Tests are built to be built quickly, and may cut names short (a warning that only gcc knows).
TEST_CFLAGS := -O1 -Wno-format-truncation -Wno-unknown-warning-option
TEST_PKGS := cmocka
TEST_LIBS = $(shell $(PKG_CONFIG) --cflags --libs $(TEST_PKGS) 2>/dev/null)

.PHONY: all
all: $(if $(filter plain,$(VARIANT)),build/thundercue $(LIBRARIES),$(OUT)/thundercue) ## build program and library (needs no network)

build/thundercue: $(OUT)/thundercue
	@ln -sf $(VARIANT)/thundercue $@

$(OUT)/thundercue: $(PROGRAM_OBJECTS) $(OUT)/lib.a
	@echo "  link $@"
	$(Q)$(CC) $(EXTRA) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

# Made anew each time, with members in sorted order and no dates in it.
$(OUT)/lib.a: $(LIB_OBJECTS)
	@rm -f $@
	$(Q)$(AR) rcD $@ $^

# One object in which every name that is not public has become local, so that
# an embedder's own functions can be called what they like.
$(OUT)/libthundercue.a: $(LIB_OBJECTS)
	@echo "  link $@"
	@rm -f $@
	$(Q)$(CC) $(CFLAGS) -nostdlib -r -o $(OUT)/libthundercue.o $^
	$(Q)objcopy --localize-hidden $(OUT)/libthundercue.o
	$(Q)$(AR) rcD $@ $(OUT)/libthundercue.o

$(OUT)/$(SHARED): $(LIB_OBJECTS)
	@echo "  link $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -shared -Wl,-soname,$(SONAME) -Wl,-z,defs -o $@ $^ $(LIB_LIBS)

# Other flags make other objects.
.PHONY: force
$(OUT)/flags: force | $(OUT)
	@$(find_missing) \
	if [ -n "$$missing" ]; then \
	    echo "What thundercue is built from is not all there. Missing, by the names of pkg-config:$$names" >&2; \
	    echo "On Debian and its relatives, 'make setup' installs it, or: apt-get install$$missing" >&2; exit 1; fi
	@flags='$(CC) $(filter-out -Werror,$(ALL_CFLAGS) $(LIB_CFLAGS))'; [ "$$(cat $@ 2>/dev/null)" = "$$flags" ] || echo "$$flags" > $@

$(OUT)/%.o: src/%.c $(OUT)/flags
	@echo "  cc   $<"
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CFLAGS) $(if $(filter src/lib/%,$<),$(LIB_CFLAGS)) -MMD -MP -c -o $@ $<

# The library alone as WebAssembly, with the page's door to it: no disk, no clock, no thread, since there are none.
WASM_CC  ?= clang-14
# kissfft's own sources, as Debian's package has no WebAssembly; setup-wasm fetches them.
KISSFFT  ?= build/kissfft
WASM_LIBC ?= /usr/lib/wasm32-wasi
WASM_RUNTIME = $(firstword $(wildcard /usr/lib/llvm-14/lib/clang/*/lib/wasi/libclang_rt.builtins-wasm32.a))
WASM_HERE := $(and $(shell command -v $(WASM_CC)),$(shell command -v wasm-ld-14),$(wildcard $(WASM_LIBC)/libc.a),$(WASM_RUNTIME),$(wildcard $(KISSFFT)/kiss_fft.c))
WASM_OBJECTS := $(patsubst src/%.c,build/wasm/%.o,$(LIB_SOURCES) $(PAGE_SOURCES) src/page/core.c) build/wasm/kiss_fft.o
WASM_SIZE = -Os
WASM_COMPILE = $(WASM_CC) --target=wasm32-wasi -isystem /usr/include/wasm32-wasi -D_GNU_SOURCE -Iinclude -Isrc/lib -Isrc \
    -isystem $(KISSFFT) -ffp-contract=off -ffile-prefix-map=$(CURDIR)=. $(WASM_SIZE) -MMD -MP -c
CORE     := $(if $(WASM_HERE),build/wasm/core.base64)

.PHONY: lib-wasm
lib-wasm: $(if $(CORE),build/wasm/core.wasm) ## compile the library alone to WebAssembly (needs what setup-wasm installs)
	@$(if $(CORE),,$(tell_wasm_missing))

# Ends with what there is not to compile the page's core with.
tell_wasm_missing = $(call look_for,$(WASM_NEEDS)) [ -e $(KISSFFT)/kiss_fft.c ] || names="$$names $(KISSFFT)/kiss_fft.c"; \
    echo "The page's own library is compiled with tools that are not all here. Missing:$$names" >&2; \
    echo "'make setup-wasm' installs them. Without them 'make' writes pages for looking only." >&2; exit 1

# For size, but for what runs once for every light frame and channel.
build/wasm/lib/light/%.o build/wasm/lib/writing/%.o: WASM_SIZE = -O2
build/wasm/%.o: src/%.c
	@echo "  wasm $<"
	@mkdir -p $(@D)
	$(Q)$(WASM_COMPILE) -std=c17 -Wall -Wextra -Werror -o $@ $<

build/wasm/kiss_fft.o: $(KISSFFT)/kiss_fft.c
	@mkdir -p $(@D)
	$(Q)$(WASM_COMPILE) -w -o $@ $<

build/wasm/core.wasm: $(WASM_OBJECTS)
	@echo "  link $@"
	$(Q)wasm-ld-14 -L$(WASM_LIBC) --no-entry --export=_initialize --gc-sections --strip-all -z stack-size=1048576 -o $@ \
	    $(WASM_LIBC)/crt1-reactor.o $^ -lm -lc $(WASM_RUNTIME)

build/wasm/core.base64: build/wasm/core.wasm
	@base64 -w 1000 $< > $@

# The page without a storm: the whole tool in one file, for any system with a browser.
.PHONY: page
page: $(if $(CORE),build/thundercue.html) ## build build/thundercue.html alone, the whole tool as one page (needs what setup-wasm installs)
	@$(if $(CORE),,$(tell_wasm_missing))

# Plain `make` makes it too, where it can.
all: $(if $(filter plain,$(VARIANT)),$(if $(CORE),build/thundercue.html))

build/thundercue.html: $(sort $(wildcard src/page/*.* src/page/*/*.*)) $(CORE)
	$(Q)awk -v folder=src/page -v form=html -v core=$(CORE) -f src/page/embed.awk src/page/page.html | sed '/^@\(data\|sound\)$$/d' > $@.part
	@mv $@.part $@

# The preview page: its parts put together and turned into a table of lines.
$(OUT)/page.c: $(sort $(wildcard src/page/*.* src/page/*/*.*)) $(CORE) | $(OUT)
	@$(if $(CORE),,echo "  (no WebAssembly tools here: pages will be for looking only; 'make setup-wasm' installs them)")
	$(Q)awk -v folder=src/page -v form=c -v core=$(CORE) -f src/page/embed.awk src/page/page.html > $@.part
	@mv $@.part $@

$(OUT)/page.o: $(OUT)/page.c
	@echo "  cc   $<"
	$(Q)$(CC) $(ALL_CFLAGS) -c -o $@ $<

$(OUT):
	@mkdir -p $@

-include $(wildcard $(OUT)/*.d $(OUT)/*/*.d $(OUT)/*/*/*.d build/wasm/*/*.d build/wasm/*/*/*.d)

# ---- Trying it ----

.PHONY: demo
demo: setup setup-wasm ## run the main job on the sample storm (installs what is missing)
	@$(MAKE) --no-print-directory all page
	@mkdir -p build/demo
	build/thundercue cue samples/mill-pond.flac --out build/demo --force
	@echo "Open build/demo/mill-pond.preview.html in a browser to see it."

# The storm is kept as it is in samples/; this makes it again.
build/synth: samples/synth.c samples/thunder.c samples/truth.c samples/weather.c $(wildcard samples/*.h)
	@mkdir -p build
	$(CC) -std=c17 -ffp-contract=off $(WARNINGS) -O2 $(CFLAGS) $(LDFLAGS) -o $@ $(filter %.c,$^) \
	    $(shell $(PKG_CONFIG) --cflags --libs sndfile) -lm

# Puts a recording into the clothes that the page tests try.
build/clothes: tests/page/clothes.c
	@mkdir -p build
	$(Q)$(CC) -std=c17 $(WARNINGS) -O1 $(CFLAGS) $(LDFLAGS) -o $@ $< $(shell $(PKG_CONFIG) --cflags --libs sndfile)

.PHONY: samples
samples: build/synth ## make the sample storm again, with its labels
	build/synth samples/mill-pond.flac --labels samples/mill-pond.labels.csv --seed 6 --seconds 33 \
	    --flash 1.2:6000 --flash 9.2:2000 --flash 17.5:420 --flash 27.5:5000 \
	    --hiss 66 --rain 40 --rain-drops 48 --rain-from 20

.PHONY: picture
picture: demo setup-test ## take the README's picture of the sample storm's page anew
	node tests/page/picture.mjs build/page build/demo/mill-pond.preview.html samples/preview.png

# ---- Testing ----

.PHONY: test
test: setup-test ## run all tests (installs what is missing)
	@$(MAKE) --no-print-directory check

.PHONY: check
check: all $(TESTS) $(FUZZ:%=$(OUT)/test_fuzz_%) ## run all tests with what is there
	@TC_QUICK=$(TC_QUICK) tests/run.sh $(OUT)

COMMA    := ,
vpath test_%.c tests tests/lib tests/io tests/app
$(OUT)/test_%: test_%.c $(wildcard tests/*.h) $(INSIDES)
	@echo "  test $@"
	$(Q)$(CC) $(ALL_CFLAGS) $(TEST_CFLAGS) -Itests -Isamples $(LDFLAGS) -MMD -MP -o $@ $(filter %.c %.o %.a,$^) $(LIBS) $(TEST_LIBS) $(TEST_LINK_$*)

$(OUT)/test_synth: samples/thunder.c samples/truth.c
# These let every allocation fail in turn.
TEST_LINK_rig := -Wl,--wrap=calloc,--wrap=realloc
TEST_LINK_imagine := -Wl,--wrap=calloc
# A sort that isn't stable; a limiter that sees nothing wrong.
TEST_LINK_events_text := -Wl,--wrap=qsort
TEST_LINK_limit := -Wl,--wrap=room_refuses
# These let a decoder crash.
TEST_LINK_batch := -Wl,--wrap=sf_readf_float
TEST_LINK_night_hear := -Wl,--wrap=sf_readf_float
# A sound card, a disk and a clock of the test's own.
TEST_LINK_sound_out := $(patsubst %,-Wl$(COMMA)--wrap=%,clock_now_s clock_sleep_until sound_card_open sound_card_channels \
    sound_card_rate sound_card_start sound_card_runs sound_card_close source_read)
TEST_LINK_cue := -Wl,--wrap=calloc,--wrap=realloc

# The program as a Raspberry Pi runs it: built by Debian's cross compiler with Debian's libraries for arm64, which lie
# below build/ and not in the system, and run under qemu.
ARM_ROOT := build/sysroot/arm64/root
ARM_LIBS := $(CURDIR)/$(ARM_ROOT)/usr/lib/aarch64-linux-gnu
.PHONY: arm64-check
arm64-check: setup-arm64 all ## build for arm64 and compare what it writes under qemu (installs what is missing)
	@$(MAKE) --no-print-directory VARIANT=arm64 CC=aarch64-linux-gnu-gcc AR=aarch64-linux-gnu-ar WERROR= \
	    PKG_CONFIG="env PKG_CONFIG_LIBDIR=$(ARM_LIBS)/pkgconfig PKG_CONFIG_SYSROOT_DIR=$(CURDIR)/$(ARM_ROOT) pkg-config" \
	    LDFLAGS="-L$(ARM_LIBS) -Wl,-rpath-link=$(ARM_LIBS):$(CURDIR)/$(ARM_ROOT)/lib/aarch64-linux-gnu" all
	tests/arm64.sh build/arm64/thundercue $(ARM_ROOT) build/plain/thundercue

# ---- Judging ----

RECORDINGS ?= $(THUNDERCUE_RECORDINGS)
EVALUATIONS := $(patsubst tests/%.c,$(OUT)/%,$(sort $(wildcard tests/evaluate_*.c)))
# No test runs them: what they include must not move away from under them unseen.
check: $(EVALUATIONS)
.PHONY: evaluate
# A folder given counts alone: the sample is synthesised, and belongs to no count of real recordings.
EVALUATED = $(if $(RECORDINGS),$(foreach end,wav flac ogg mp3,$(wildcard $(RECORDINGS)/*.$(end))),$(wildcard samples/*.flac))
evaluate: $(EVALUATIONS) ## measure what the tests only bound, on RECORDINGS (a folder), else on the sample storm
	@$(if $(EVALUATED),,echo "make evaluate: no recordings (WAV, FLAC, Ogg, MP3) in $(or $(RECORDINGS),samples)" >&2; exit 1)
	@for program in $(EVALUATIONS); do $$program $(EVALUATED) || exit 1; done

.PHONY: evaluate-synth
evaluate-synth: $(OUT)/evaluate_detect build/synth ## measure hearing on synthesised storms, near and far, in all weathers
	@$(OUT)/evaluate_detect --synth build/synth

$(OUT)/evaluate_%: tests/evaluate_%.c $(wildcard tests/*.h) $(INSIDES)
	$(Q)$(CC) $(ALL_CFLAGS) -Itests $(LDFLAGS) -MMD -MP -o $@ $(filter %.c %.o %.a,$^) $(LIBS) $(TEST_LIBS)

# Each target twice: replaying its corpus (with any compiler), or under libFuzzer.
FUZZ_PARTS = tests/fuzz/fuzz.c $(INSIDES)
$(OUT)/test_fuzz_%: tests/fuzz/fuzz_%.c tests/fuzz/replay.c tests/fuzz/fuzz.h $(FUZZ_PARTS)
	$(CC) $(ALL_CFLAGS) -DCORPUS='"tests/fuzz/corpus/$*"' -DQUIET=$(if $(filter command,$*),1,0) $(LDFLAGS) \
	    -o $@ $(filter %.c %.o %.a,$^) $(LIBS)
$(OUT)/fuzz_%: tests/fuzz/fuzz_%.c tests/fuzz/fuzz.h $(FUZZ_PARTS)
	$(CC) $(ALL_CFLAGS) -fsanitize=fuzzer $(LDFLAGS) -o $@ $(filter %.c %.o %.a,$^) $(LIBS)

# The suites that draw at random, each with so many cases: shows (their files on RECORDINGS, too), edits against kills,
# changes to each file of the corpus.
CASES    ?= 3000
SOAK     := limit show light_files batch $(FUZZ:%=fuzz_%)
.PHONY: soak
soak: all $(SOAK:%=$(OUT)/test_%) ## look longer for what breaks it: CASES random cases in every suite that draws them
	@export THUNDERCUE=$(CURDIR)/$(OUT)/thundercue THUNDERCUE_CASES=$(CASES) $(if $(RECORDINGS),THUNDERCUE_RECORDINGS=$(RECORDINGS)); \
	for suite in $(SOAK); do $(OUT)/test_$$suite || exit 1; done

.PHONY: bench
bench: $(OUT)/bench ## measure speed as ratios (BENCH_LONG=1: ten hours too)
	$(OUT)/bench
$(OUT)/bench: tests/bench.c $(INSIDES)
	$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS) $(TEST_LIBS)

.PHONY: bench-live
bench-live: all ## measure how punctual a live show is (SECONDS_LIVE=600: ten minutes)
	tests/bench_live.sh $(OUT)/thundercue

.PHONY: bench-dark
bench-dark: all ## measure how soon a live show is dark after Ctrl-C, a crash, a kill, a lost sound card
	tests/bench_dark.sh $(OUT)/thundercue

NIGHT_LENGTH ?= 4:00:00
.PHONY: bench-night
bench-night: all $(OUT)/bench_night ## build an evening of RECORDINGS (a folder) and look at it with other code (NIGHT_LENGTH=4:00:00)
	tests/bench_night.sh $(OUT)/thundercue $(OUT)/bench_night $(RECORDINGS) $(NIGHT_LENGTH)
$(OUT)/bench_night: tests/bench_night.c $(wildcard tests/*.h) $(INSIDES)
	$(Q)$(CC) $(ALL_CFLAGS) $(TEST_CFLAGS) -Itests $(LDFLAGS) -o $@ $(filter %.c %.o %.a,$^) $(LIBS) $(TEST_LIBS)

SECONDS  ?= 60
.PHONY: fuzz fuzz-run
fuzz: ## look for inputs that break it, SECONDS each (needs clang); finds stay in build/fuzz
	@$(MAKE) --no-print-directory VARIANT=fuzz CC=clang WERROR=1 OPTIMISE="-O1 -g" SECONDS=$(SECONDS) \
	    EXTRA="-fsanitize=fuzzer-no-link,address -fno-omit-frame-pointer" fuzz-run
fuzz-run: $(FUZZ:%=$(OUT)/fuzz_%)
	@for name in $(FUZZ); do \
	    mkdir -p build/fuzz/found/$$name; \
	    if $(OUT)/fuzz_$$name -max_total_time=$(SECONDS) -timeout=20 -max_len=8192 -close_fd_mask=3 -print_final_stats=1 \
	        -artifact_prefix=build/fuzz/$$name- build/fuzz/found/$$name tests/fuzz/corpus/$$name >build/fuzz/$$name.log 2>&1; \
	    then verdict='       OK '; else verdict='  FAILED  '; broken=1; cat build/fuzz/$$name.log; fi; \
	    echo "[$$verdict] fuzz $$name: $$(sed -n 's/^stat::number_of_executed_units: //p' build/fuzz/$$name.log) runs in $(SECONDS) s"; \
	done; [ -z "$$broken" ]

# Calls that the fault suite makes fail, in the program's objects only.
WRAPPED := malloc calloc realloc strdup strndup open_memstream fopen fdopen tmpfile \
    fflush fsync fclose rename link sf_readf_float fread
TEST_LINK_faults := $(WRAPPED:%=-Wl,--wrap=%)

SANITIZE = -fno-omit-frame-pointer -fno-sanitize-recover=all
.PHONY: asan ubsan tsan
asan: ## the tests under the address sanitizer
	@$(MAKE) --no-print-directory VARIANT=asan WERROR=1 TC_QUICK=1 OPTIMISE="-O1 -g" EXTRA="-fsanitize=address $(SANITIZE)" check
ubsan: ## the tests under the undefined behaviour sanitizer
	@$(MAKE) --no-print-directory VARIANT=ubsan WERROR=1 TC_QUICK=1 OPTIMISE="-O1 -g" EXTRA="-fsanitize=undefined $(SANITIZE)" check
tsan: ## the tests under the thread sanitizer
	@$(MAKE) --no-print-directory VARIANT=tsan WERROR=1 TC_QUICK=1 OPTIMISE="-O1 -g" EXTRA="-fsanitize=thread $(SANITIZE)" check

.PHONY: check-clang
check-clang: ## build with clang, run the tests
	@$(MAKE) --no-print-directory VARIANT=clang CC=clang WERROR=1 check

# ---- Installing ----

# DESTDIR is where a package is put together, PREFIX where its files will lie.
.PHONY: install uninstall
MAN_DIR  := $(PREFIX)/share/man/man1
COMPLETIONS := $(PREFIX)/share/bash-completion/completions
install: all build/thundercue.1 build/thundercue.bash ## install program, library, header, man page below PREFIX
	install -d $(addprefix $(DESTDIR),$(PREFIX)/bin $(PREFIX)/include $(LIBDIR)/pkgconfig $(MAN_DIR) $(COMPLETIONS))
	install -m 755 $(OUT)/thundercue $(DESTDIR)$(PREFIX)/bin/thundercue
	install -m 644 $(LIBRARIES) $(DESTDIR)$(LIBDIR)/
	ln -sf $(SHARED) $(DESTDIR)$(LIBDIR)/$(SONAME)
	ln -sf $(SONAME) $(DESTDIR)$(LIBDIR)/libthundercue.so
	install -m 644 include/thundercue.h $(DESTDIR)$(PREFIX)/include/
	install -d $(DESTDIR)$(PREFIX)/share/thundercue
	install -m 644 samples/thundercue.service $(DESTDIR)$(PREFIX)/share/thundercue/
	install -m 644 build/thundercue.1 $(DESTDIR)$(MAN_DIR)/
	install -m 644 build/thundercue.bash $(DESTDIR)$(COMPLETIONS)/thundercue
	printf '%s\n' 'prefix=$(PREFIX)' 'Name: thundercue' 'Description: thunder recordings to flash timelines' \
	    'Version: $(VERSION)' 'Requires.private: $(LIB_PKGS)' 'Libs: -L$(LIBDIR:$(PREFIX)/%=$${prefix}/%) -lthundercue' \
	    'Libs.private: -lm' 'Cflags: -I$${prefix}/include' > $(DESTDIR)$(LIBDIR)/pkgconfig/thundercue.pc
	@$(if $(DESTDIR),,ldconfig $(LIBDIR) 2>/dev/null || true)

uninstall: ## remove what install has put below PREFIX
	rm -f $(addprefix $(DESTDIR),$(PREFIX)/bin/thundercue $(PREFIX)/include/thundercue.h \
	    $(LIBDIR)/libthundercue.a $(LIBDIR)/$(SHARED) $(LIBDIR)/$(SONAME) $(LIBDIR)/libthundercue.so \
	    $(LIBDIR)/pkgconfig/thundercue.pc $(MAN_DIR)/thundercue.1 $(COMPLETIONS)/thundercue $(PREFIX)/share/thundercue/thundercue.service)

build/thundercue.1: build/thundercue
	$(Q)build/thundercue --man > $@

build/thundercue.bash: build/thundercue
	$(Q)build/thundercue --completion > $@

# The same bytes for the same sources: sorted names, one date, nobody's name.
DIST     := thundercue-$(VERSION)
.PHONY: dist dist-check
dist: ## pack the sources into build/thundercue-VERSION.tar.gz
	@mkdir -p build
	tar --create --sort=name --mtime='2026-01-01 00:00Z' --owner=0 --group=0 --numeric-owner --mode=u+rw,go+r,go-w \
	    --transform='s,^,$(DIST)/,' $(sort $(wildcard src include tests samples Makefile *.md LICENSE .ci .gitignore)) \
	    | gzip --no-name --best > build/$(DIST).tar.gz

dist-check: dist ## build what `make dist` packs in two places: the same bytes?
	@work=$$(mktemp -d) && trap "rm -rf $$work" EXIT && for place in one another/place; do \
	    mkdir -p $$work/$$place && tar --extract --file build/$(DIST).tar.gz --directory $$work/$$place && \
	    $(MAKE) --silent --no-print-directory --directory $$work/$$place/$(DIST) VARIANT=plain all build/thundercue.1 dist || exit 1; \
	done && cd $$work && for file in plain/thundercue plain/libthundercue.a plain/$(SHARED) thundercue.1 $(DIST).tar.gz; do \
	    cmp one/$(DIST)/build/$$file another/place/$(DIST)/build/$$file || exit 1; done && \
	cmp one/$(DIST)/build/$(DIST).tar.gz $(CURDIR)/build/$(DIST).tar.gz && echo "[       OK ] two builds in two places give the same bytes"

.PHONY: readme
readme: all ## put the settings table into README.md
	@awk 'FNR == NR { table = table $$0 "\n"; next } \
	    /^<!-- end -->/ { inside = 0 } !inside { print } \
	    /^<!-- made by/ { inside = 1; printf "%s", table }' \
	    <(build/thundercue --options) README.md > build/README.md && cp build/README.md README.md

# ---- What must be installed ----

BUILD_NEEDS := command:gcc:gcc command:pkg-config:pkg-config pkg:kissfft-float:libkissfft-dev pkg:sndfile:libsndfile1-dev pkg:ogg:libogg-dev pkg:samplerate:libsamplerate0-dev pkg:libxxhash:libxxhash-dev pkg:libebur128:libebur128-dev pkg:portaudio-2.0:portaudio19-dev \
    pkg:jansson:libjansson-dev pkg:libutf8proc:libutf8proc-dev
WASM_NEEDS  := command:$(WASM_CC):clang-14 command:wasm-ld-14:lld-14 file:$(WASM_LIBC)/libc.a:wasi-libc \
    file:/usr/lib/llvm-14/lib/clang/*/lib/wasi/libclang_rt.builtins-wasm32.a:libclang-rt-14-dev-wasm32
TEST_NEEDS  := $(BUILD_NEEDS) command:g++:g++ command:localedef:libc-bin file:/usr/share/i18n/locales/de_DE:locales pkg:cmocka:libcmocka-dev command:aubioonset:aubio-tools \
    command:clang:clang file:/usr/lib/llvm-*/lib/clang/*/lib/linux/libclang_rt.fuzzer-*.a:libclang-rt-14-dev command:node:nodejs command:npm:npm command:chromium:chromium command:firefox-esr:firefox-esr command:tshark:tshark command:ip:iproute2 command:jackd:jackd2

ARM_NEEDS   := command:aarch64-linux-gnu-gcc:gcc-aarch64-linux-gnu file:/usr/aarch64-linux-gnu/lib/crt1.o:libc6-dev-arm64-cross command:qemu-aarch64:qemu-user

# Puts Debian's names of what is missing of $(1) into $missing, its own into $names.
look_for = missing=; names=; for need in $(1); do \
    kind=$${need%%:*}; rest=$${need\#*:}; name=$${rest%%:*}; package=$${rest\#*:}; \
    case $$kind in \
    command) command -v $$name >/dev/null 2>&1;; \
    pkg) $(PKG_CONFIG) --exists $$name 2>/dev/null;; \
    file) ls $$name >/dev/null 2>&1;; \
    esac || { missing="$$missing $$package"; names="$$names $$name"; }; done;
# Of what the program can't be built without.
find_missing = $(call look_for,$(filter-out command:gcc:% command:pkg-config:% pkg:portaudio-2.0:%,$(BUILD_NEEDS)))

define install_missing
@$(call look_for,$(1)) \
if [ -n "$$missing" ]; then \
    as=; [ "$$(id -u)" = 0 ] || as=sudo; \
    if ! command -v apt-get >/dev/null || { [ -n "$$as" ] && ! command -v $$as >/dev/null; }; then \
        echo "Missing:$$names" >&2; \
        echo "They can't be installed from here, for want of apt-get, or of root or sudo. With both it is: apt-get install$$missing" >&2; \
        exit 1; fi; \
    echo "Installing from Debian's packages:$$missing"; \
    export DEBIAN_FRONTEND=noninteractive; \
    $$as apt-get update -q && $$as apt-get install -q -y --no-install-recommends $$missing || exit 1; \
fi
endef

.PHONY: setup setup-wasm setup-test setup-arm64
setup: ## install what building needs, if it is missing
	$(call install_missing,$(BUILD_NEEDS))
setup-wasm: ## install what the page's core needs, if it is missing
	$(call install_missing,$(WASM_NEEDS))
	@$(MAKE) --no-print-directory $(KISSFFT)/kiss_fft.c
setup-test: setup-wasm ## install what testing needs, if it is missing
	$(call install_missing,$(TEST_NEEDS))
	@$(MAKE) --no-print-directory build/page/node_modules build/receiver/node_modules

setup-arm64: setup ## install what building for arm64 needs, if it is missing
	$(call install_missing,$(ARM_NEEDS))
	@$(MAKE) --no-print-directory --silent $(ARM_ROOT)/usr/include

# Packages from where this machine gets its own, to be taken apart: lists of their own below build/, nothing of the
# system is changed. $(1) is the folder for that, $(2) more options.
apt_fetch = apt-get -q -q -o Dir::Etc::sourcelist=$(1)/etc/none -o Dir::Etc::sourceparts=$(1)/etc \
    -o Dir::State::lists=$(1)/lists -o Dir::Cache=$(1)/cache -o APT::Sandbox::User= $(2)
FETCH    := $(CURDIR)/build/kissfft/fetch
APT_FETCH = $(call apt_fetch,$(FETCH))
ARM_FETCH := $(CURDIR)/build/sysroot/arm64/fetch
APT_ARM   = $(call apt_fetch,$(ARM_FETCH),-o APT::Architecture=arm64 -o APT::Architectures=arm64 -o Dir::State::status=$(ARM_FETCH)/status)
ARM_PACKAGES = $(foreach need,$(filter pkg:%,$(BUILD_NEEDS)),$(lastword $(subst :, ,$(need))))

$(ARM_ROOT)/usr/include:
	@mkdir -p $(ARM_FETCH)/etc $(ARM_FETCH)/lists/partial $(ARM_FETCH)/cache/archives/partial
	@: > $(ARM_FETCH)/status # nothing is installed there
	@for list in /etc/apt/sources.list /etc/apt/sources.list.d/*.list /etc/apt/sources.list.d/*.sources; do \
	    [ ! -f $$list ] || cp $$list $(ARM_FETCH)/etc/; done
	@$(APT_ARM) update && $(APT_ARM) install -y --download-only --no-install-recommends $(ARM_PACKAGES)
	@for package in $(ARM_FETCH)/cache/archives/*.deb; do dpkg -x $$package $(ARM_ROOT) || exit 1; done

# kissfft's sources.
build/kissfft/kiss_fft.c:
	@mkdir -p $(FETCH)/etc $(FETCH)/lists/partial $(FETCH)/cache/archives/partial
	@for list in /etc/apt/sources.list /etc/apt/sources.list.d/*.list; do [ ! -f $$list ] || sed -n 's/^deb /deb-src /p' $$list; done > $(FETCH)/etc/lines.list
	@for list in /etc/apt/sources.list.d/*.sources; do [ ! -f $$list ] || sed 's/^Types:.*/Types: deb-src/' $$list > $(FETCH)/etc/$${list##*/}; done
	@$(APT_FETCH) update && cd $(FETCH) && $(APT_FETCH) source --download-only kissfft
	@tar --extract --strip-components=1 --directory $(@D) --file $$(ls $(FETCH)/kissfft_*.orig.tar.*) && touch $@

# What drives the browser in the page tests; the browser itself comes from Debian.
build/page/node_modules: tests/page/package.json tests/page/package-lock.json
	@mkdir -p $(@D)
	cp $^ $(@D)
	cd $(@D) && npm ci --no-audit --no-fund --loglevel=error
	@touch $@

# The receiver that looks at what `play` sends.
build/receiver/node_modules: tests/io/receiver/package.json tests/io/receiver/package-lock.json
	@mkdir -p $(@D)
	cp $^ $(@D)
	cd $(@D) && npm ci --no-audit --no-fund --loglevel=error
	@touch $@

.PHONY: clean
clean: ## remove build/
	rm -rf build

.PHONY: help
help: ## this list
	@sed -n 's/^\([a-z][a-z0-9 -]*\):.*## /\1:/p' $(MAKEFILE_LIST) | awk -F: '{ printf "  make %-16s %s\n", $$1, $$2 }'
