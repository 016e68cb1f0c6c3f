/* The five small functions that the Ed25519 reference code takes from the rest of its library, written
   for a machine without threads, guarded pages or vector units. names.h is included first, so the names
   below are the prefixed ones. */
#include "crypto_hash_sha512.h"
#include "crypto_verify_32.h"
#include "sign_ed25519_ref10.h"
#include "utils.h"

int sodium_memcmp(const void *const b1_, const void *const b2_, size_t len) {
  const volatile unsigned char *a = b1_;
  const volatile unsigned char *b = b2_;
  unsigned char difference = 0;
  for (size_t i = 0; i < len; ++i) {
    difference = (unsigned char)(difference | (a[i] ^ b[i]));
  }
  return difference == 0 ? 0 : -1;
}

int crypto_verify_32(const unsigned char *x, const unsigned char *y) { return sodium_memcmp(x, y, 32); }

int sodium_is_zero(const unsigned char *n, const size_t nlen) {
  unsigned char any = 0;
  for (size_t i = 0; i < nlen; ++i) {
    any = (unsigned char)(any | n[i]);
  }
  return any == 0;
}

/* volatile: the compiler may not drop a store to memory that is not read again. */
void sodium_memzero(void *const pnt, const size_t len) {
  volatile unsigned char *p = pnt;
  for (size_t i = 0; i < len; ++i) {
    p[i] = 0;
  }
}

/* Pure Ed25519 only; the prehashed variant's domain prefix is never asked for. */
void _crypto_sign_ed25519_ref10_hinit(crypto_hash_sha512_state *hs, int prehashed) {
  (void)prehashed;
  crypto_hash_sha512_init(hs);
}
