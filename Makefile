# Gloam. `make help` lists what can be made.
MAKEFLAGS += --no-builtin-rules
COMMA := ,
.DELETE_ON_ERROR:
.SECONDARY:
.SUFFIXES:

BUILD ?= build
ifneq ($(filter default undefined,$(origin CC)),)
CC := gcc
endif
# For another processor, as CC is.
AR ?= ar
OBJCOPY ?= objcopy
OPTIMISE ?= -O2
SANITISE ?=
PREFIX ?= /usr/local
# Where the home of the service lies, and its unit; systemd and udev look under /usr/local too.
SYSCONFDIR ?= $(if $(filter /usr /usr/local,$(PREFIX)),/etc,$(PREFIX)/etc)
UNITDIR ?= $(PREFIX)/lib/systemd/system
UDEVDIR ?= $(PREFIX)/lib/udev/rules.d
VERSION := $(shell sed -n 's/^.define GLOAM_VERSION "\(.*\)"/\1/p' runtime/library/gloam.h)

WARN := -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wno-sign-conversion -Wstrict-prototypes -Wmissing-prototypes
WERROR ?= -Werror
# No fused multiply-add and no errno of libm: the same bits everywhere. Hidden unless in gloam.h.
# (gcc 12 fuses additions and multiplications of straight code in spite of -ffp-contract=off where the
# processor has them, hence -fno-tree-slp-vectorize.)
CFLAGS := -std=c11 -g $(OPTIMISE) $(WARN) $(WERROR) -fPIC -ffp-contract=off -fno-tree-slp-vectorize -fno-math-errno -fvisibility=hidden -D_GNU_SOURCE $(if $(SANITISE),,-DNDEBUG) -D_FILE_OFFSET_BITS=64 -D_TIME_BITS=64 -I. -I$(BUILD)/generated $(SANITISE) $(EXTRA_CFLAGS)
# Sums of doubles on ARM without a unit for them: runtime/core/soft_sum.c.
ifneq ($(filter arm%,$(shell $(CC) -dumpmachine 2>/dev/null)),)
SOFT := $(shell $(CC) $(EXTRA_CFLAGS) -dM -E - </dev/null | grep -w __SOFTFP__)
SOFT_SUM = $(if $(SOFT),$(foreach sum,dadd dsub,-Wl$(COMMA)--wrap=__aeabi_$(sum) -Wl$(COMMA)-u$(COMMA)__wrap___aeabi_$(sum)))
endif
LINK = $(CC) $(OPTIMISE) $(SANITISE) $(EXTRA_CFLAGS) $(SOFT_SUM) $(LDFLAGS)
# One short line a step; V=1 shows the commands.
ifneq ($(V),1)
Q = @echo '  $(1) $@';
else
Q =
endif
# The template that lemon comes with, by its full name: a stray lempar.c must not be taken.
LEMPAR := /usr/share/lemon/lempar.c

LIBRARY_SOURCES := $(wildcard runtime/core/*.c lang/*.c runtime/vm/*.c runtime/light/*.c runtime/time/*.c backends/*.c runtime/library/*.c runtime/player/*.c)
COMMAND_SOURCES := $(wildcard runtime/command/*.c)
# The programs that the player starts, or a command: made where their libraries are.
LINK_SOURCES := $(wildcard runtime/service/link/*.c)
PAGE_SOURCES := $(wildcard runtime/service/page/*.c)
MQTT_SOURCES := $(wildcard runtime/service/mqtt/*.c)
CALL_SOURCES := $(wildcard runtime/service/call/*.c)
library = $(if $(shell pkg-config --exists $(1) 2>/dev/null && echo yes),$(shell pkg-config --libs $(1)))
PAGE_LIBRARIES := $(call library,libmicrohttpd nettle jansson)
MQTT_LIBRARIES := $(call library,libmosquitto nettle jansson)
CALL_LIBRARIES := $(call library,libcurl jansson)
TEST_SOURCES := $(wildcard tests/*/test_*.c)
TEST_SUPPORT := $(wildcard tests/support/*.c)
object = $(patsubst %.c,$(BUILD)/object/%.o,$(1))
LIBRARY_OBJECTS := $(call object,$(LIBRARY_SOURCES)) $(BUILD)/object/generated/lexer.o $(BUILD)/object/generated/grammar.o $(BUILD)/object/generated/font.o $(BUILD)/object/runtime/vm/kernels_avx2.o
COMMAND_OBJECTS := $(call object,$(COMMAND_SOURCES))
TEST_PROGRAMS := $(patsubst tests/%.c,$(BUILD)/tests/%,$(TEST_SOURCES))
TEST_SCRIPTS := $(wildcard tests/*/test_*.sh)
SLOW_SCRIPTS := $(wildcard tests/*/slow_*.sh)
BENCHES := $(patsubst tests/%.c,$(BUILD)/tests/%,$(wildcard tests/bench/bench_*.c))

BUILD_PACKAGES := gcc libc6-dev make pkg-config re2c lemon libpng-dev zlib1g-dev libjansson-dev libfreetype-dev fonts-dejavu-core libmicrohttpd-dev nettle-dev libmosquitto-dev libcurl4-gnutls-dev
TEST_PACKAGES := $(BUILD_PACKAGES) g++ libcmocka-dev libmpfr-dev libgmp-dev mandoc tmux perl tzdata locales python3-icalendar curl
# Other processors: compilers for them, and a player of their programs.
CROSS_PACKAGES := qemu-user-static gcc-i686-linux-gnu libc6-dev-i386-cross gcc-arm-linux-gnueabihf libc6-dev-armhf-cross gcc-arm-linux-gnueabi libc6-dev-armel-cross qemu-arm:qemu-user gcc-aarch64-linux-gnu libc6-dev-arm64-cross gcc-riscv64-linux-gnu libc6-dev-riscv64-cross
DEB_PACKAGES := $(BUILD_PACKAGES) build-essential debhelper
SLOW_PACKAGES := $(TEST_PACKAGES) clang libclang-rt-14-dev llvm valgrind gcovr node:nodejs npm:npm vim sigrok-cli tshark ip:iproute2 faketime libfuse3-dev linux.uml:user-mode-linux insmod:kmod ca-certificates debhelper lintian systemd systemd-nspawn:systemd-container /usr/sbin/mosquitto:mosquitto mosquitto_pub:mosquitto-clients chromium $(CROSS_PACKAGES)
HELPERS := $(if $(PAGE_LIBRARIES),$(BUILD)/gloam-page) $(if $(MQTT_LIBRARIES),$(BUILD)/gloam-mqtt) $(if $(CALL_LIBRARIES),$(BUILD)/gloam-call)
export BUILD CC

.PHONY: all helpers
all: $(BUILD)/gloam $(BUILD)/libgloam.a $(BUILD)/libgloam.so helpers
helpers: $(HELPERS)

# ---- generated sources: built, never committed ----
GENERATED := $(BUILD)/generated/grammar.c $(BUILD)/generated/grammar.h $(BUILD)/generated/lexer.c $(BUILD)/generated/font.c
$(BUILD)/generated/grammar.c $(BUILD)/generated/grammar.h &: lang/grammar.y
	@mkdir -p $(BUILD)/generated
	$(call Q,GEN)cd lang && lemon -l -q -T$(LEMPAR) -d$(abspath $(BUILD)/generated) grammar.y && touch $(abspath $(BUILD)/generated)/grammar.c $(abspath $(BUILD)/generated)/grammar.h
$(BUILD)/generated/lexer.c: lang/lexer.re
	@mkdir -p $(BUILD)/generated
	$(call Q,GEN)re2c -W -Werror -i --no-generation-date --no-version -o $@ $<
# The letters of pictures, from font files (LICENSE names them); the tool runs on this machine.
HOST_CC ?= gcc
FONTS := /usr/share/fonts/truetype/dejavu
$(BUILD)/generated/font.c: backends/font/render.c backends/font.h
	@mkdir -p $(@D)
	$(call Q,GEN)$(HOST_CC) -std=c11 -O1 $(WARN) $(WERROR) -I. $$(pkg-config --cflags freetype2) -o $(@D)/render $< $$(pkg-config --libs freetype2)
	@$(@D)/render $(FONTS)/DejaVuSans.ttf 14 $(FONTS)/DejaVuSans-Bold.ttf 20 > $@

# ---- objects ----
$(BUILD)/object/generated/%.o: $(BUILD)/generated/%.c $(GENERATED)
	@mkdir -p $(@D)
	$(call Q,CC)$(CC) $(CFLAGS) -MMD -MP -c -o $@ $<
$(BUILD)/object/%.o: %.c | $(GENERATED)
	@mkdir -p $(@D)
	$(call Q,CC)$(CC) $(CFLAGS) $(FLAGS_$(*F)) -MMD -MP -c -o $@ $<
# The inner loops a second time for AVX2, chosen at start; without FMA, so the bits are the same.
# No trapping: gcc may compute both sides of a selection, so all loops become vector code.
FLAGS_kernels ?= $(if $(SANITISE),,-O3) -fno-trapping-math
ifneq ($(filter x86_64%,$(shell $(CC) -dumpmachine 2>/dev/null)),)
AVX2 := -mavx2
endif
$(BUILD)/object/runtime/vm/kernels_avx2.o: runtime/vm/kernels.c | $(GENERATED)
	@mkdir -p $(@D)
	$(call Q,CC)$(CC) $(CFLAGS) $(FLAGS_kernels) $(AVX2) -DKERNELS_AVX2 -MMD -MP -c -o $@ $<

# ---- what is made ----
# One object whose hidden symbols are local, so that the static library shows gloam_ names only.
$(BUILD)/libgloam.a: $(LIBRARY_OBJECTS)
	$(call Q,LD)$(CC) -r -nostdlib $(SOFT_SUM) -o $(BUILD)/object/libgloam.o $(LIBRARY_OBJECTS)
	@$(OBJCOPY) --localize-hidden $(BUILD)/object/libgloam.o
	@rm -f $@ && $(AR) rcs $@ $(BUILD)/object/libgloam.o
$(BUILD)/libgloam.so: $(LIBRARY_OBJECTS)
	$(call Q,LD)$(LINK) -shared -Wl,-soname,libgloam.so.0 $(if $(SANITISE),,-Wl,--no-undefined) -o $@ $(LIBRARY_OBJECTS) -ljansson -lpng -lz -lm
$(BUILD)/object/everything.a: $(LIBRARY_OBJECTS)
	@rm -f $@ && $(AR) rcs $@ $^
$(BUILD)/gloam: $(COMMAND_OBJECTS) $(BUILD)/object/everything.a
	$(call Q,LD)$(LINK) -o $@ $(COMMAND_OBJECTS) $(BUILD)/object/everything.a -ljansson -lpng -lz -lm

# ---- what the player starts, and what calls other lamps ----
# The page's files, as they are and compressed; the tool runs on this machine.
ASSETS := $(wildcard runtime/service/page/assets/*)
$(BUILD)/generated/assets.c: runtime/service/page/make_assets.sh $(ASSETS)
	@mkdir -p $(@D)
	$(call Q,GEN)sh $< $(ASSETS) > $@
$(BUILD)/object/service.a: $(call object,$(LINK_SOURCES) $(filter-out %/main.c,$(if $(PAGE_LIBRARIES),$(PAGE_SOURCES)) $(if $(MQTT_LIBRARIES),$(MQTT_SOURCES)))) $(BUILD)/object/generated/assets.o
	@rm -f $@ && $(AR) rcs $@ $^
$(BUILD)/gloam-page: $(call object,runtime/service/page/main.c) $(BUILD)/object/service.a $(BUILD)/object/everything.a
	$(call Q,LD)$(LINK) -o $@ $^ $(PAGE_LIBRARIES) -lpng -lz -lm
$(BUILD)/gloam-mqtt: $(call object,runtime/service/mqtt/main.c) $(BUILD)/object/service.a $(BUILD)/object/everything.a
	$(call Q,LD)$(LINK) -o $@ $^ $(MQTT_LIBRARIES) -lpng -lz -lm
$(BUILD)/gloam-call: $(call object,$(CALL_SOURCES)) $(BUILD)/object/everything.a
	$(call Q,LD)$(LINK) -o $@ $^ $(CALL_LIBRARIES) -lm

# ---- tests ----
$(BUILD)/tests/service/%: $(BUILD)/object/tests/service/%.o $(call object,$(TEST_SUPPORT)) $(BUILD)/object/service.a $(BUILD)/object/everything.a
	@mkdir -p $(@D)
	$(call Q,LD)$(LINK) -o $@ $< $(call object,$(TEST_SUPPORT)) $(BUILD)/object/service.a $(BUILD)/object/everything.a -lcmocka $(PAGE_LIBRARIES) $(MQTT_LIBRARIES) -lpng -lz -lm
# Of commands, all but main.
$(BUILD)/object/command.a: $(filter-out %/main.o,$(COMMAND_OBJECTS))
	@rm -f $@ && $(AR) rcs $@ $^
$(BUILD)/tests/command/%: $(BUILD)/object/tests/command/%.o $(call object,$(TEST_SUPPORT)) $(BUILD)/object/command.a $(BUILD)/object/everything.a
	@mkdir -p $(@D)
	$(call Q,LD)$(LINK) -o $@ $< $(call object,$(TEST_SUPPORT)) $(BUILD)/object/command.a $(BUILD)/object/everything.a -lcmocka -ljansson -lpng -lz -lm
$(BUILD)/tests/%: $(BUILD)/object/tests/%.o $(call object,$(TEST_SUPPORT)) $(BUILD)/object/everything.a
	@mkdir -p $(@D)
	$(call Q,LD)$(LINK) -o $@ $< $(call object,$(TEST_SUPPORT)) $(BUILD)/object/everything.a -lcmocka -lmpfr -lgmp -ljansson -lpng -lz -lm
$(BUILD)/object/tests/%.o: CFLAGS += -Wno-missing-prototypes

.PHONY: test test-slow run-tests bench
test: ## installs what the tests need, builds, runs the everyday tests (under 10 minutes)
	@tests/tools/packages.sh "testing" $(TEST_PACKAGES)
	@$(MAKE) --no-print-directory -j2 run-tests
# A locale with a decimal comma, which must not reach what is written.
$(BUILD)/locale/de_DE.UTF-8:
	@mkdir -p $(@D)
	$(call Q,GEN)localedef -i de_DE -f UTF-8 $@
run-tests: all $(TEST_PROGRAMS) $(BUILD)/locale/de_DE.UTF-8
	@LOCPATH=$(abspath $(BUILD))/locale tests/tools/run.sh $(TEST_PROGRAMS) $(TEST_SCRIPTS)
test-slow: ## other compilers and processors, sanitizers, valgrind, coverage, fuzzing, the evaluator
	@tests/tools/packages.sh "slow testing" $(SLOW_PACKAGES)
	@$(MAKE) --no-print-directory -s -j2 all
	@tests/tools/run.sh $(SLOW_SCRIPTS)
bench: ## ratios against peers in the same run
	@tests/tools/packages.sh "measuring" $(TEST_PACKAGES)
	@$(MAKE) --no-print-directory $(BENCHES)
	@for bench in $(BENCHES); do echo "== $$bench"; $$bench || exit 1; done

.PHONY: spec
spec: ## writes the pages of spec/ and the lists of lang/editor/ that are made from the sources
	@mkdir -p $(BUILD)
	sh spec/make_grammar.sh > $(BUILD)/page && mv $(BUILD)/page spec/grammar.md
	$(CC) -std=c11 -I. -o $(BUILD)/make_page spec/make_builtins.c && $(BUILD)/make_page spec/builtins.md > $(BUILD)/page && mv $(BUILD)/page spec/builtins.md
	$(CC) -std=c11 -I. -o $(BUILD)/make_page spec/make_operations.c && $(BUILD)/make_page spec/bytecode.md > $(BUILD)/page && mv $(BUILD)/page spec/bytecode.md
	for file in lang/editor/gloam.tmLanguage.json lang/editor/vim/syntax/gloam.vim; do sh lang/editor/make_lists.sh $$file > $(BUILD)/page && mv $(BUILD)/page $$file || exit 1; done

.PHONY: demo
demo: ## installs what building needs, builds, plays the baker's dawn, leaves build/demo/
	@tests/tools/packages.sh "building" $(BUILD_PACKAGES)
	@$(MAKE) --no-print-directory -j2 $(BUILD)/gloam helpers
	@mkdir -p $(BUILD)/demo
	@$(BUILD)/gloam dump --routine daybreak --speed 60x --fps 2 -o $(BUILD)/demo/dawn.csv examples/dawn.gloam
	@$(BUILD)/gloam picture --routine daybreak -o $(BUILD)/demo/dawn.png examples/dawn.gloam
	@$(BUILD)/gloam preview --routine daybreak --speed 150x --length 30min examples/dawn.gloam
	@echo "The same dawn: $(BUILD)/demo/dawn.csv (frames), $(BUILD)/demo/dawn.png (one picture)"

.PHONY: install clean help
install: all install-service ## DESTDIR= PREFIX=
	install -d $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/include $(DESTDIR)$(PREFIX)/lib/pkgconfig
	install -m 755 $(BUILD)/gloam $(DESTDIR)$(PREFIX)/bin/gloam
	install -d $(DESTDIR)$(PREFIX)/libexec/gloam
	for helper in $(HELPERS); do install -m 755 $$helper $(DESTDIR)$(PREFIX)/libexec/gloam/ || exit 1; done
	install -m 644 runtime/library/gloam.h $(DESTDIR)$(PREFIX)/include/gloam.h
	install -m 644 $(BUILD)/libgloam.a $(DESTDIR)$(PREFIX)/lib/libgloam.a
	install -m 644 $(BUILD)/libgloam.so $(DESTDIR)$(PREFIX)/lib/libgloam.so.0
	ln -sf libgloam.so.0 $(DESTDIR)$(PREFIX)/lib/libgloam.so
	install -d $(DESTDIR)$(PREFIX)/share/man/man1 $(DESTDIR)$(PREFIX)/share/man/man5 $(DESTDIR)$(PREFIX)/share/bash-completion/completions $(DESTDIR)$(PREFIX)/share/gloam/examples $(DESTDIR)$(PREFIX)/share/gloam/editor
	install -m 644 spec/guide/man/*.1 $(DESTDIR)$(PREFIX)/share/man/man1/
	install -m 644 spec/guide/man/*.5 $(DESTDIR)$(PREFIX)/share/man/man5/
	install -m 644 runtime/service/gloam.bash $(DESTDIR)$(PREFIX)/share/bash-completion/completions/gloam
	install -m 644 examples/*.gloam $(DESTDIR)$(PREFIX)/share/gloam/examples/
	cp -R lang/editor/vim lang/editor/*.json $(DESTDIR)$(PREFIX)/share/gloam/editor/
	sed 's|@PREFIX@|$(PREFIX)|; s|@VERSION@|$(VERSION)|' runtime/library/gloam.pc.in > $(DESTDIR)$(PREFIX)/lib/pkgconfig/gloam.pc
# The first home is put in its place by systemd-tmpfiles, once.
.PHONY: install-service
install-service:
	install -d $(DESTDIR)$(UNITDIR) $(DESTDIR)$(UDEVDIR) $(DESTDIR)$(PREFIX)/lib/sysusers.d $(DESTDIR)$(PREFIX)/lib/tmpfiles.d $(DESTDIR)$(PREFIX)/share/gloam $(DESTDIR)$(SYSCONFDIR)/avahi/services
	sed 's|@PREFIX@|$(PREFIX)|; s|@SYSCONFDIR@|$(SYSCONFDIR)|' runtime/service/gloam.service.in > $(DESTDIR)$(UNITDIR)/gloam.service
	sed 's|@PREFIX@|$(PREFIX)|' runtime/service/gloam.tmpfiles.in > $(DESTDIR)$(PREFIX)/lib/tmpfiles.d/gloam.conf
	install -m 644 runtime/service/gloam.socket $(DESTDIR)$(UNITDIR)/gloam.socket
	chmod 644 $(DESTDIR)$(UNITDIR)/gloam.service $(DESTDIR)$(PREFIX)/lib/tmpfiles.d/gloam.conf
	install -m 644 runtime/service/gloam.avahi-service $(DESTDIR)$(SYSCONFDIR)/avahi/services/gloam.service
	install -m 644 runtime/service/60-gloam.rules $(DESTDIR)$(UDEVDIR)/60-gloam.rules
	install -m 644 runtime/service/gloam.sysusers $(DESTDIR)$(PREFIX)/lib/sysusers.d/gloam.conf
	install -m 644 runtime/service/home.gloam $(DESTDIR)$(PREFIX)/share/gloam/home.gloam
# debhelper wants its folder at the top, so the packages are made from a copy.
.PHONY: deb
deb: ## Debian packages in build/deb/
	@tests/tools/packages.sh "packaging" $(DEB_PACKAGES)
	@rm -rf $(BUILD)/deb && mkdir -p $(BUILD)/deb/gloam-$(VERSION)
	@cp -R Makefile LICENSE README.md lang runtime backends examples spec $(BUILD)/deb/gloam-$(VERSION)/
	@mv $(BUILD)/deb/gloam-$(VERSION)/runtime/service/debian $(BUILD)/deb/gloam-$(VERSION)/debian
	@cp LICENSE $(BUILD)/deb/gloam-$(VERSION)/debian/copyright
	cd $(BUILD)/deb/gloam-$(VERSION) && env -u MAKEFLAGS -u MFLAGS -u BUILD -u CC dpkg-buildpackage -us -uc -b
	@ls $(BUILD)/deb/*.deb
clean: ## removes build/
	rm -rf $(BUILD)
help: ## this list
	@sed -n 's/^\([a-z-]*\):[^#]*## /\1\t/p' $(firstword $(MAKEFILE_LIST)) | expand -t 14

-include $(shell find $(BUILD)/object -name '*.d' 2>/dev/null)
