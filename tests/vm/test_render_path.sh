#!/bin/sh
# What runs while light is made calls no function of libm, allocates nothing and asks the system
# for nothing: the objects of the machine and of the core name none of it.
set -u
cd "$(dirname "$0")/../.."
build=${BUILD:-build}
passed=0 failed=0
for object in "$build"/object/runtime/vm/*.o "$build"/object/runtime/core/ramp.o \
    "$build"/object/runtime/core/easing.o "$build"/object/runtime/core/reference.o \
    "$build"/object/runtime/core/operations.o; do
    strangers=$(nm -u "$object" | awk '{ print $2 }' | grep -vE \
        '^(easing_|ramp_|operation_|reference_|scalar_|kernels_|vm_|memory_|colour_|number_|_GLOBAL_OFFSET_TABLE_|__cpu_model|__cpu_indicator_init|strcmp|strchr|strlen|memcpy|memset|memmove|bcmp|__asan_|__ubsan_|__gcov|__stack_chk|__sanitizer|__llvm)')
    if [ -z "$strangers" ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected $object to need nothing from outside, not:" $strangers
    fi
done
# What a timetable makes of routines allocates before frames are due (test_performance_any counts),
# but calls no libm and no system either.
for name in cast ceilings inputs performance plan region; do
    object=$build/object/runtime/player/$name.o
    strangers=$(nm -u "$object" | awk '{ print $2 }' | grep -vE \
        '^(begun_|cast_|ceilings_|inputs_|level_|light_mix_|lightness_|memory_|now_|pipeline_|plan_|playing_|region_|shape_|sky_|timetable_|vm_|zone_|easing_|_GLOBAL_OFFSET_TABLE_|memcmp|memcpy|memset|memmove|bcmp|__asan_|__ubsan_|__gcov|__stack_chk|__sanitizer|__llvm)')
    if [ -f "$object" ] && [ -z "$strangers" ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected $object to need nothing from outside, not:" $strangers
    fi
done
# memory_allocate and memory_release are called in vm_create and vm_free only.
if [ "$(grep -l 'memory_allocate(\|memory_release(\|memory_resize(' runtime/vm/*.c)" = runtime/vm/create.c ]; then
    passed=$((passed + 1))
else
    failed=$((failed + 1))
    echo "expected allocations in vm_create and vm_free only"
fi
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
