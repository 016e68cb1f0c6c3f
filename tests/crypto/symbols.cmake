# Fails if the firmware's Ed25519 archive defines a global name without our prefix: such a name could replace, or
# be replaced by, the host library's own when a simulator or a test links both.
#   cmake -D NM=... -D ARCHIVE=... -P symbols.cmake
execute_process(COMMAND ${NM} -g --defined-only ${ARCHIVE} OUTPUT_VARIABLE listing COMMAND_ERROR_IS_FATAL ANY)
string(REGEX MATCHALL "[0-9a-f]+ [A-Z] [^\n]+" symbols "${listing}")
list(LENGTH symbols count)
if(count LESS 20)
  message(FATAL_ERROR "only ${count} global names in ${ARCHIVE}: the listing was not understood")
endif()
list(FILTER symbols EXCLUDE REGEX " (strandproof_|__odr_asan\\.strandproof_)[a-z0-9_]+$")
if(symbols)
  message(FATAL_ERROR "global names without the prefix, add them to firmware/crypto/sodium/names.h: ${symbols}")
endif()
message(STATUS "${count} global names, all with the prefix")
