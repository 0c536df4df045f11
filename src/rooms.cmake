# How a room, a test and a fuzz target are declared. One static library per room: rp_<room>.

add_library(rp_options INTERFACE)
target_include_directories(rp_options INTERFACE ${CMAKE_SOURCE_DIR}/include
                           ${CMAKE_SOURCE_DIR}/src)
target_compile_options(rp_options INTERFACE
  -Wall -Wextra -Wpedantic -Werror -Wshadow -Wconversion -Wno-sign-conversion
  $<$<COMPILE_LANGUAGE:C>:-Wstrict-prototypes> $<$<COMPILE_LANGUAGE:C>:-Wmissing-prototypes>
  -Wpointer-arith -Wcast-qual -Wformat=2 -Wvla -Wundef
  -fno-common -fstack-protector-strong -ffile-prefix-map=${CMAKE_SOURCE_DIR}/=)
if(RP_SANITIZE)
  target_compile_options(rp_options INTERFACE -fsanitize=address,undefined
                         -fno-sanitize-recover=all -fno-omit-frame-pointer)
  target_link_options(rp_options INTERFACE -fsanitize=address,undefined)
endif()

if(RP_FUZZ)
  # The rooms tell the fuzzer what they reach, not only the harness.
  target_compile_options(rp_options INTERFACE -fsanitize=fuzzer-no-link)
endif()

# rp_room(NAME SOURCES a.c b.c DEPENDS rp_base ... PRIVATE_LIBS PkgConfig::X ...)
function(rp_room name)
  cmake_parse_arguments(A "" "" "SOURCES;DEPENDS;PRIVATE_LIBS" ${ARGN})
  add_library(rp_${name} STATIC ${A_SOURCES})
  target_link_libraries(rp_${name} PUBLIC rp_options ${A_DEPENDS} PRIVATE ${A_PRIVATE_LIBS})
endfunction()

# rp_unit_test(NAME SOURCES ... LIBS rp_x ... [ARGS ...]): a cmocka program, run by ctest.
function(rp_unit_test name)
  cmake_parse_arguments(A "" "" "SOURCES;LIBS;ARGS" ${ARGN})
  add_executable(test_${name} ${A_SOURCES})
  target_link_libraries(test_${name} PRIVATE ${A_LIBS} rp_options PkgConfig::CMOCKA)
  target_include_directories(test_${name} PRIVATE ${CMAKE_SOURCE_DIR}/tests/support)
  target_compile_definitions(test_${name} PRIVATE RP_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  add_test(NAME ${name} COMMAND test_${name} ${A_ARGS})
endfunction()

# rp_fuzz_target(NAME SOURCE LIBS ...): with RP_FUZZ a libFuzzer program; always a replay program
# that runs the corpus in tests/fuzz/corpus/NAME, run by ctest with any compiler.
function(rp_fuzz_target name source)
  cmake_parse_arguments(A "" "" "LIBS" ${ARGN})
  add_executable(replay_${name} ${source} ${CMAKE_SOURCE_DIR}/tests/fuzz/replay_main.c)
  target_link_libraries(replay_${name} PRIVATE ${A_LIBS} rp_options)
  add_test(NAME replay_${name}
           COMMAND replay_${name} ${CMAKE_SOURCE_DIR}/tests/fuzz/corpus/${name})
  if(RP_FUZZ)
    add_executable(fuzz_${name} ${source})
    target_compile_options(fuzz_${name} PRIVATE -fsanitize=fuzzer)
    target_link_options(fuzz_${name} PRIVATE -fsanitize=fuzzer)
    target_link_libraries(fuzz_${name} PRIVATE ${A_LIBS} rp_options)
  endif()
endfunction()
