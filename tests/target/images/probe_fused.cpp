// The probe compiled with fused multiply-add allowed (see CMakeLists.txt): a sabotage.
#include "tests/target/probe.cpp"
