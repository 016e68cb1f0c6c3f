# How a room registers its tests. Included once by tests/CMakeLists.txt; every room's CMakeLists.txt
# below it may call these functions.
include_guard(GLOBAL)
find_package(GTest REQUIRED)
find_package(benchmark REQUIRED)
include(GoogleTest)

# tests/run.sh builds only what a preset is there for: the tests that need speed or the emulator in
# release, the fuzz targets under "fuzz".
add_custom_target(heavy_tests)
add_custom_target(fuzz_targets)
set(STRANDPROOF_HEAVY_LABELS accuracy target determinism long)

# strandproof_test(NAME SOURCES file... [LIBS target...] [DEFINES NAME=VALUE...] [LABEL text] [TIMEOUT seconds])
# One GoogleTest program; each of its cases becomes a CTest test, labelled with the room's folder name.
# Label it "long" if it needs an optimised build, "accuracy", "target" or "determinism" where it is one:
# those run in release. Cases are found when ctest starts (PRE_TEST), so that a program that fails to start fails ctest and
# not the build of an unrelated room.
function(strandproof_test name)
  cmake_parse_arguments(ARG "" "LABEL;TIMEOUT" "SOURCES;LIBS;DEFINES" ${ARGN})
  if(NOT ARG_SOURCES)
    message(FATAL_ERROR "strandproof_test(${name}): no SOURCES given")
  endif()
  if(NOT ARG_LABEL)
    get_filename_component(ARG_LABEL ${CMAKE_CURRENT_SOURCE_DIR} NAME)
  endif()
  if(NOT ARG_TIMEOUT)
    set(ARG_TIMEOUT 120)
  endif()
  add_executable(${name} ${ARG_SOURCES})
  target_link_libraries(${name} PRIVATE ${ARG_LIBS} strandproof_flags GTest::gtest_main GTest::gmock)
  target_compile_definitions(${name} PRIVATE
    ${ARG_DEFINES} STRANDPROOF_TESTS_DIR="${CMAKE_SOURCE_DIR}/tests")
  gtest_discover_tests(${name} DISCOVERY_MODE PRE_TEST DISCOVERY_TIMEOUT 60
    PROPERTIES LABELS ${ARG_LABEL} TIMEOUT ${ARG_TIMEOUT})
  if(ARG_LABEL IN_LIST STRANDPROOF_HEAVY_LABELS)
    add_dependencies(heavy_tests ${name})
  endif()
endfunction()

# strandproof_fuzz(NAME SOURCES file... [LIBS target...] [CORPUS folder] [SECONDS n])
# A libFuzzer target, built only under the preset "fuzz" (clang, every file of the tree instrumented):
# without that the fuzzer sees no edges inside LIBS, which must be built from source in this tree.
# It runs SECONDS (default 5) in CTest, label "fuzz".
function(strandproof_fuzz name)
  if(NOT STRANDPROOF_FUZZ)
    return()
  endif()
  cmake_parse_arguments(ARG "" "CORPUS;SECONDS" "SOURCES;LIBS" ${ARGN})
  if(NOT ARG_SECONDS)
    set(ARG_SECONDS 5)
  endif()
  add_executable(${name} ${ARG_SOURCES})
  target_link_libraries(${name} PRIVATE ${ARG_LIBS} strandproof_flags)
  target_compile_options(${name} PRIVATE -fsanitize=fuzzer)
  target_link_options(${name} PRIVATE -fsanitize=fuzzer)
  add_dependencies(fuzz_targets ${name})
  set(found ${CMAKE_CURRENT_BINARY_DIR}/${name}_found)
  file(MAKE_DIRECTORY ${found})
  # New inputs go to the first folder (the build's), never into the kept corpus.
  add_test(NAME fuzz.${name} COMMAND ${name} -max_total_time=${ARG_SECONDS} -print_final_stats=1
           -artifact_prefix=${found}/ ${found} ${ARG_CORPUS})
  set_tests_properties(fuzz.${name} PROPERTIES LABELS fuzz TIMEOUT 120)
endfunction()

# strandproof_script_test(NAME COMMAND program args... [LABEL text] [TIMEOUT seconds])
# A test that is a script; its exit code decides.
function(strandproof_script_test name)
  cmake_parse_arguments(ARG "" "LABEL;TIMEOUT" "COMMAND" ${ARGN})
  if(NOT ARG_TIMEOUT)
    set(ARG_TIMEOUT 120)
  endif()
  if(NOT ARG_LABEL)
    get_filename_component(ARG_LABEL ${CMAKE_CURRENT_SOURCE_DIR} NAME)
  endif()
  add_test(NAME ${name} COMMAND ${ARG_COMMAND})
  set_tests_properties(${name} PROPERTIES LABELS ${ARG_LABEL} TIMEOUT ${ARG_TIMEOUT})
  list(GET ARG_COMMAND 0 program)
  if(ARG_LABEL IN_LIST STRANDPROOF_HEAVY_LABELS AND TARGET ${program})
    get_target_property(imported ${program} IMPORTED)
    if(NOT imported)
      add_dependencies(heavy_tests ${program})
    endif()
  endif()
endfunction()

# strandproof_libs_of(FILE VARIABLE): the libraries on the file's first line that starts with "// libs:", so
# that a room adds a benchmark or a fuzz target without touching a shared file.
function(strandproof_libs_of source variable)
  file(STRINGS ${source} lines REGEX "^// libs:" LIMIT_COUNT 1)
  if(NOT lines)
    message(FATAL_ERROR "${source}: the line '// libs: target...' is missing; name the libraries to link")
  endif()
  string(REGEX REPLACE "^// libs: *" "" libs "${lines}")
  separate_arguments(libs UNIX_COMMAND "${libs}")
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${source})
  set(${variable} ${libs} PARENT_SCOPE)
endfunction()

# strandproof_benches()
# One Google Benchmark program for each *_bench.cpp of this folder.
function(strandproof_benches)
  file(GLOB benches CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/*_bench.cpp)
  foreach(source IN LISTS benches)
    get_filename_component(name ${source} NAME_WE)
    strandproof_libs_of(${source} libs)
    add_executable(${name} ${source})
    target_link_libraries(${name} PRIVATE ${libs} strandproof_flags benchmark::benchmark_main)
  endforeach()
endfunction()
