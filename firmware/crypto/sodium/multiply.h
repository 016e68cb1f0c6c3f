/* The multiplication of Ed25519's base point by a secret, in steps: each of them takes the same number of
   instructions whatever the scalar is, and a caller may do anything between two of them. */
#pragma once

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Room for a field element of the reference code, whose 10 limbs of 32 bits and 5 of 64 take the same. */
typedef uint64_t strandproof_field[5];

struct strandproof_multiply {
  strandproof_field sum[4];
  strandproof_field base[4];
  strandproof_field z, inverse;
  uint8_t scalar[32];
  int32_t step;
};

/* scalar: 32 bytes, little-endian, below 2^255. */
void strandproof_multiply_begin(struct strandproof_multiply* m, const uint8_t scalar[32]);
/* 1: finished, and point holds the 32 encoded bytes; 0: call again. 287 calls in all. */
int strandproof_multiply_step(struct strandproof_multiply* m, uint8_t point[32]);

void strandproof_sha512(uint8_t digest[64], const uint8_t* first, uint32_t first_size, const uint8_t* second,
                        uint32_t second_size, const uint8_t* third, uint32_t third_size);
/* digest modulo the group's order, in its first 32 bytes. */
void strandproof_reduce(uint8_t digest[64]);
/* sum = a b + c modulo the group's order. */
void strandproof_multiply_add(uint8_t sum[32], const uint8_t a[32], const uint8_t b[32], const uint8_t c[32]);
void strandproof_wipe(void* bytes, uint32_t size);

#ifdef __cplusplus
}
#endif
