#!/bin/sh
# What runs while light is made calls no function of libm, allocates nothing and asks the system
# for nothing: the objects of the machine and of the core name none of it.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
build=${BUILD:-build}
alone() { # OBJECT PATTERN: it is there, and needs from outside only what begins so
    strangers=$(nm -u "$1" | awk '{ print $2 }' | grep -vE "^($2)")
    [ -s "$1" ] && [ -z "$strangers" ]
    verdict $? "$1 to need nothing from outside, not: $strangers"
}
# What a compiler puts in itself, and what sanitizers do.
common='_GLOBAL_OFFSET_TABLE_|memcpy|memset|memmove|bcmp|__asan_|__ubsan_|__gcov|__stack_chk|__sanitizer|__llvm'
for object in "$build"/object/runtime/vm/*.o "$build"/object/runtime/core/ramp.o \
    "$build"/object/runtime/core/easing.o "$build"/object/runtime/core/reference.o \
    "$build"/object/runtime/core/operations.o; do
    alone "$object" "$common|easing_|ramp_|operation_|reference_|scalar_|kernels_|vm_|memory_|colour_|number_|__cpu_model|__cpu_indicator_init|strcmp|strchr|strlen"
done
# What a timetable makes of routines allocates before frames are due (test_performance_any counts),
# but calls no libm and no system either.
for name in cast ceilings inputs performance plan region; do
    alone "$build/object/runtime/player/$name.o" "$common|begun_|cast_|ceilings_|inputs_|level_|light_mix_|lightness_|memory_|now_|pipeline_|plan_|playing_|region_|shape_|sky_|timetable_|vm_|zone_|easing_|memcmp"
done
# Of the machine only what makes and frees one allocates and releases: vm_render is not in that file.
[ "$(grep -l 'memory_allocate(\|memory_release(\|memory_resize(' runtime/vm/*.c)" = runtime/vm/create.c ]
verdict $? "allocations in runtime/vm/create.c only"
close_sum
