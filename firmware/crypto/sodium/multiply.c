/* Signing in steps, over the reference code's field and point arithmetic. Its own scalar multiplication is
   one call of some million instructions and brings tables of 30 KB; this one needs no table. */
#include "multiply.h"

#include <string.h>

#include "crypto_hash_sha512.h"
#include "private/ed25519_ref10.h"
#include "utils.h"

enum {
  scalar_bits = 255,
  bits_a_step = 8, /* of the inversion's exponent */
  inversion_steps = 32
};

_Static_assert(sizeof(fe25519) == sizeof(strandproof_field), "multiply.h has room for a field");
_Static_assert(sizeof(ge25519_p3) == sizeof(strandproof_field[4]), "a point is four fields");
_Static_assert(sizeof(ge25519_cached) == sizeof(strandproof_field[4]), "a cached point is four fields");

/* The base point B of RFC 8032, section 5.1: x as given there; y is 4/5. */
static const uint8_t base_x[32] = {0x1a, 0xd5, 0x25, 0x8f, 0x60, 0x2d, 0x56, 0xc9, 0xb2, 0xa7, 0x25,
                                   0x95, 0x60, 0xc7, 0x2c, 0x69, 0x5c, 0xdc, 0xd6, 0xfd, 0x31, 0xe2,
                                   0xa4, 0xc0, 0xfe, 0x53, 0x6e, 0xcd, 0xd3, 0x36, 0x69, 0x21};
static const uint8_t base_y[32] = {0x58, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66,
                                   0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66,
                                   0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66, 0x66};

void strandproof_multiply_begin(struct strandproof_multiply* m, const uint8_t scalar[32]) {
  ge25519_p3 sum;
  ge25519_p3 base;
  ge25519_cached cached;
  fe25519_0(sum.X);
  fe25519_1(sum.Y);
  fe25519_1(sum.Z);
  fe25519_0(sum.T);
  fe25519_frombytes(base.X, base_x);
  fe25519_frombytes(base.Y, base_y);
  fe25519_1(base.Z);
  fe25519_mul(base.T, base.X, base.Y);
  ge25519_p3_to_cached(&cached, &base);
  memcpy(m->sum, &sum, sizeof m->sum);
  memcpy(m->base, &cached, sizeof m->base);
  memcpy(m->scalar, scalar, sizeof m->scalar);
  m->step = 0;
}

#ifdef HAVE_TI_MODE
/* All of it in the first step, with the reference code's tables; the others give the time that it takes on a
   jack. */
int strandproof_multiply_step(struct strandproof_multiply* m, uint8_t point[32]) {
  if (m->step++ == 0) {
    ge25519_p3 sum;
    ge25519_scalarmult_base(&sum, m->scalar);
    ge25519_p3_tobytes(m->scalar, &sum);
  }
  if (m->step < scalar_bits + inversion_steps) {
    return 0;
  }
  memcpy(point, m->scalar, sizeof m->scalar);
  return 1;
}
#else
/* sum = 2 sum, and B more where the bit is set; both are worked out in any case. The addition law of this
   curve is complete, so it doubles as well. */
static void one_bit(struct strandproof_multiply* m, int bit) {
  ge25519_p3 sum;
  ge25519_p3 more;
  ge25519_cached cached;
  ge25519_p1p1 wide;
  memcpy(&sum, m->sum, sizeof sum);
  ge25519_p3_to_cached(&cached, &sum);
  ge25519_add(&wide, &sum, &cached);
  ge25519_p1p1_to_p3(&sum, &wide);
  memcpy(&cached, m->base, sizeof cached);
  ge25519_add(&wide, &sum, &cached);
  ge25519_p1p1_to_p3(&more, &wide);
  const unsigned set = (m->scalar[bit / 8] >> (bit % 8)) & 1U;
  fe25519_cmov(sum.X, more.X, set);
  fe25519_cmov(sum.Y, more.Y, set);
  fe25519_cmov(sum.Z, more.Z, set);
  fe25519_cmov(sum.T, more.T, set);
  memcpy(m->sum, &sum, sizeof m->sum);
}

/* inverse = Z to the power of p - 2 = 2^255 - 21, a constant: bits 254 to 0 are ones but for 4 and 2. */
static void some_inversion(struct strandproof_multiply* m, int top) {
  fe25519 z;
  fe25519 inverse;
  memcpy(z, m->z, sizeof z);
  memcpy(inverse, m->inverse, sizeof inverse);
  for (int bit = top; bit > top - bits_a_step && bit >= 0; --bit) {
    fe25519_sq(inverse, inverse);
    if (bit != 4 && bit != 2) {
      fe25519_mul(inverse, inverse, z);
    }
  }
  memcpy(m->inverse, inverse, sizeof inverse);
}

static void encode(const struct strandproof_multiply* m, uint8_t point[32]) {
  ge25519_p3 sum;
  fe25519 inverse;
  fe25519 x;
  fe25519 y;
  memcpy(&sum, m->sum, sizeof sum);
  memcpy(inverse, m->inverse, sizeof inverse);
  fe25519_mul(x, sum.X, inverse);
  fe25519_mul(y, sum.Y, inverse);
  fe25519_tobytes(point, y);
  point[31] = (uint8_t)(point[31] ^ (unsigned)fe25519_isnegative(x) << 7);
}

int strandproof_multiply_step(struct strandproof_multiply* m, uint8_t point[32]) {
  const int32_t step = m->step++;
  if (step < scalar_bits) {
    one_bit(m, scalar_bits - 1 - step);
    return 0;
  }
  if (step == scalar_bits) {
    fe25519 one;
    fe25519_1(one);
    memcpy(m->z, m->sum[2], sizeof m->z);
    memcpy(m->inverse, one, sizeof one);
  }
  const int32_t turn = step - scalar_bits;
  some_inversion(m, scalar_bits - 1 - turn * bits_a_step);
  if (turn + 1 < inversion_steps) {
    return 0;
  }
  encode(m, point);
  return 1;
}
#endif

void strandproof_sha512(uint8_t digest[64], const uint8_t* first, uint32_t first_size, const uint8_t* second,
                        uint32_t second_size, const uint8_t* third, uint32_t third_size) {
  crypto_hash_sha512_state state;
  crypto_hash_sha512_init(&state);
  crypto_hash_sha512_update(&state, first, first_size);
  crypto_hash_sha512_update(&state, second, second_size);
  crypto_hash_sha512_update(&state, third, third_size);
  crypto_hash_sha512_final(&state, digest);
  sodium_memzero(&state, sizeof state);
}

void strandproof_reduce(uint8_t digest[64]) {
  sc25519_reduce(digest);
}

void strandproof_multiply_add(uint8_t sum[32], const uint8_t a[32], const uint8_t b[32],
                              const uint8_t c[32]) {
  sc25519_muladd(sum, a, b, c);
}

void strandproof_wipe(void* bytes, uint32_t size) {
  sodium_memzero(bytes, size);
}
