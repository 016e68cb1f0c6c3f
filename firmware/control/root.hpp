// Square root without libm: one instruction on x86-64 and on the Cortex-M4F, correctly rounded on both.
#pragma once

namespace strandproof::control {

[[nodiscard]] inline float root(float x) {
#if defined(__arm__)
  float r;
  __asm__("vsqrt.f32 %0, %1" : "=t"(r) : "t"(x));
  return r;
#else
  return __builtin_sqrtf(x);
#endif
}

}  // namespace strandproof::control
