/* The one function that crypto.cpp takes from the Ed25519 reference code, under its prefixed name.
   Returns 0 for a good signature. */
#pragma once

#ifdef __cplusplus
extern "C"
#endif
int strandproof_crypto_sign_ed25519_verify_detached(const unsigned char *signature,
                                                    const unsigned char *message,
                                                    unsigned long long message_length,
                                                    const unsigned char *public_key);
