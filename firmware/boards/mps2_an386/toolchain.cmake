# Cross build for the Cortex-M4F with Debian's arm-none-eabi g++ and newlib's C headers. No C++ runtime
# library is linked: see CMakeLists.txt here.
set(CMAKE_SYSTEM_NAME Generic)
set(CMAKE_SYSTEM_PROCESSOR cortex-m4)
set(CMAKE_TRY_COMPILE_TARGET_TYPE STATIC_LIBRARY)

set(CMAKE_C_COMPILER arm-none-eabi-gcc)
set(CMAKE_CXX_COMPILER arm-none-eabi-g++)
set(CMAKE_ASM_COMPILER arm-none-eabi-gcc)

set(strandproof_cpu "-mcpu=cortex-m4 -mthumb -mfloat-abi=hard -mfpu=fpv4-sp-d16")

set(strandproof_code "-ffunction-sections -fdata-sections -fno-unwind-tables -fno-asynchronous-unwind-tables")
set(strandproof_proof "-Werror=vla")
set(CMAKE_C_FLAGS_INIT "${strandproof_cpu} ${strandproof_code} ${strandproof_proof}")
set(CMAKE_CXX_FLAGS_INIT
    "${strandproof_cpu} ${strandproof_code} ${strandproof_proof} -fno-exceptions -fno-rtti -fno-threadsafe-statics -fno-use-cxa-atexit")

# Last on every link line, after the libraries that need them. Not newlib-nano: its memcpy goes byte by byte.
set(CMAKE_CXX_STANDARD_LIBRARIES_INIT "-Wl,--start-group -lc -lgcc -Wl,--end-group")

set(CMAKE_FIND_ROOT_PATH_MODE_PROGRAM NEVER)
set(CMAKE_FIND_ROOT_PATH_MODE_LIBRARY ONLY)
set(CMAKE_FIND_ROOT_PATH_MODE_INCLUDE ONLY)
set(CMAKE_FIND_ROOT_PATH_MODE_PACKAGE ONLY)
