// The chain of what people add: remarks, dispositions, sign-offs, the minimum age, deletions. Each entry
// holds the digest of the one before, so that none can be changed, taken out or put in without changing every
// digest after it. The last digest is the head; what was printed or kept of it elsewhere holds the chain.
#pragma once

#include <string>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::archive {

class Store;

// "previous" of the first entry.
std::string chain_begin();

// SHA-256 over every field but the digests, each as "name:length:value\n".
std::string content_digest(const Entry& entry);

// SHA-256 over both as hexadecimal text, a line feed between.
std::string chained(const std::string& previous, const std::string& content);

// In a transaction of writing: gives it number and digests, and enters it.
Entry append(Store& store, Entry entry);

Entry entry_of(const SignOff& sign_off);
SignOff sign_off_of(const Entry& entry);

}  // namespace strandproof::host::archive
