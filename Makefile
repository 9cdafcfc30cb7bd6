# Gloam. `make help` lists what can be made.
MAKEFLAGS += --no-builtin-rules
.DELETE_ON_ERROR:
.SUFFIXES:

BUILD ?= build
CC ?= gcc
ifeq ($(origin CC),default)
CC := gcc
endif
OPTIMISE ?= -O2
SANITISE ?=
WARN := -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes -Wno-sign-conversion
WERROR ?= -Werror
# No fused multiply-add, no libm errno: the same bits everywhere.
CFLAGS := -std=c11 -g $(OPTIMISE) $(WARN) $(WERROR) -fPIC -ffp-contract=off -fno-math-errno -fvisibility=hidden -D_GNU_SOURCE -I. -I$(BUILD)/generated $(SANITISE) $(EXTRA_CFLAGS)
LEMPAR := /usr/share/lemon/lempar.c

LIBRARY_SOURCES := $(wildcard runtime/core/*.c lang/*.c runtime/vm/*.c runtime/light/*.c runtime/time/*.c backends/*.c runtime/library/*.c)
COMMAND_SOURCES := $(wildcard runtime/command/*.c)
GENERATED := $(BUILD)/generated/lexer.c $(BUILD)/generated/grammar.c
object = $(patsubst %.c,$(BUILD)/object/%.o,$(1))
LIBRARY_OBJECTS := $(call object,$(LIBRARY_SOURCES)) $(BUILD)/object/generated/lexer.o $(BUILD)/object/generated/grammar.o $(BUILD)/object/runtime/vm/kernels_avx2.o
COMMAND_OBJECTS := $(call object,$(COMMAND_SOURCES))

.PHONY: all
all: $(BUILD)/gloam

$(BUILD)/generated/grammar.c $(BUILD)/generated/grammar.h &: lang/grammar.y
	@mkdir -p $(BUILD)/generated
	cd lang && lemon -l -q -T$(LEMPAR) -d$(abspath $(BUILD)/generated) grammar.y && touch $(abspath $(BUILD)/generated)/grammar.c $(abspath $(BUILD)/generated)/grammar.h
$(BUILD)/generated/lexer.c: lang/lexer.re
	@mkdir -p $(BUILD)/generated
	re2c -W -Werror -i --no-generation-date --no-version -o $@ $<

$(BUILD)/object/generated/%.o: $(BUILD)/generated/%.c $(BUILD)/generated/grammar.h
	@mkdir -p $(@D)
	$(CC) $(CFLAGS) -MMD -c -o $@ $<
$(BUILD)/object/%.o: %.c | $(BUILD)/generated/grammar.h
	@mkdir -p $(@D)
	$(CC) $(CFLAGS) $(FLAGS_$(*F)) -MMD -c -o $@ $<
# The inner loops a second time for AVX2, chosen at start; without FMA, so the bits are the same.
$(BUILD)/object/runtime/vm/kernels_avx2.o: runtime/vm/kernels.c | $(BUILD)/generated/grammar.h
	@mkdir -p $(@D)
	$(CC) $(CFLAGS) $(FLAGS_kernels) -DKERNELS_AVX2 $(if $(filter x86_64%,$(shell $(CC) -dumpmachine)),-mavx2) -MMD -c -o $@ $<
FLAGS_kernels := -O3

$(BUILD)/libgloam.a: $(LIBRARY_OBJECTS)
	rm -f $@ && ar rcs $@ $^
$(BUILD)/gloam: $(COMMAND_OBJECTS) $(BUILD)/libgloam.a
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $(COMMAND_OBJECTS) $(BUILD)/libgloam.a -lpng -lz

.PHONY: clean
clean:
	rm -rf $(BUILD)

-include $(wildcard $(BUILD)/object/*/*.d $(BUILD)/object/*/*/*.d)
