// The table key's file: opened by its passphrase alone, changed in no byte unnoticed, and Argon2id with
// secretbox as libsodium documents them, opened here a second time beside the code under test.
#include "host-tool/keys/table_key.hpp"

#include <gtest/gtest.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <sstream>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::keys {
namespace {

using test::expect_part;
using test::FolderTest;
using test::problem_of;

constexpr Cost cheap{1, 8};  // the least that libsodium takes; the file says what was used

class TableKeyTest : public FolderTest {
 protected:
  void SetUp() override {
    FolderTest::SetUp();
    file_ = folder_ + "/office.key";
    unsetenv("STRANDPROOF_PASSPHRASE_FILE");
  }
  std::string file_;
};

Secret words(const char* text) {
  return Secret{text};
}

TEST_F(TableKeyTest, OpensByItsPassphraseAloneAndIsNeverWrittenOver) {
  const auto made = make_table_key(file_, "office A", words("five plain words here"), cheap);
  EXPECT_EQ(read_table_key(file_).name, "office A");
  EXPECT_EQ(read_table_key(file_).public_key, made.public_key);
  EXPECT_EQ(open_table_key(file_, words("five plain words here")).public_key(), made.public_key);
  const auto wrong = problem_of([&] { (void)open_table_key(file_, words("five plain words hers")); });
  EXPECT_EQ(wrong, file_ + ": the passphrase does not open it; try again, or take another key");
  expect_part(problem_of([&] { make_table_key(file_, "x", words("five plain words here"), cheap); }),
              "never written over");
  struct stat info {};
  ASSERT_EQ(::stat(file_.c_str(), &info), 0);
  EXPECT_EQ(info.st_mode & 0777U, 0600U);
}

// By libsodium's documentation alone: Argon2id 1.3 over passphrase and salt, secretbox with the nonce in
// front.
TEST_F(TableKeyTest, TheFileIsArgon2idAndSecretboxAsDocumented) {
  make_table_key(file_, "office A", words("five plain words here"), cheap);
  std::istringstream in{read_file(file_)};
  std::string first, name, pub, cost, salt, box, word;
  std::getline(in, first);
  std::getline(in, name);
  in >> word >> pub >> word >> cost >> cost >> word >> salt >> word >> box;
  EXPECT_EQ(first, "strandproof table key 1");
  EXPECT_EQ(name, "name office A");
  const std::string salt_bytes = *from_hex(salt), box_bytes = *from_hex(box);
  const std::string pass = "five plain words here";
  unsigned char key[32];
  ASSERT_EQ(crypto_pwhash(key, sizeof key, pass.data(), pass.size(),
                          reinterpret_cast<const unsigned char*>(salt_bytes.data()), 1, 8192,
                          crypto_pwhash_ALG_ARGON2ID13),
            0);
  std::string plain(box_bytes.size() - 24 - 16, '\0');
  ASSERT_EQ(crypto_secretbox_open_easy(reinterpret_cast<unsigned char*>(plain.data()),
                                       reinterpret_cast<const unsigned char*>(box_bytes.data()) + 24,
                                       box_bytes.size() - 24,
                                       reinterpret_cast<const unsigned char*>(box_bytes.data()), key),
            0);
  EXPECT_EQ(plain.substr(32), "office A");
  unsigned char pk[32], sk[64];
  crypto_sign_seed_keypair(pk, sk, reinterpret_cast<const unsigned char*>(plain.data()));
  EXPECT_EQ(to_hex({reinterpret_cast<const char*>(pk), 32}), pub);
  EXPECT_EQ(read_file(file_).find(to_hex(plain.substr(0, 32))), std::string::npos) << "the seed lies open";
}

TEST_F(TableKeyTest, AnotherPassphraseForTheSameKeyAndTheBackupKeepsTheOld) {
  const auto made = make_table_key(file_, "office A", words("first passphrase"), cheap);
  const std::string backup = folder_ + "/backup.key";
  std::filesystem::copy_file(file_, backup);
  expect_part(problem_of([&] { change_passphrase(file_, words("wrong one"), words("second one"), cheap); }),
              "does not open it");
  change_passphrase(file_, words("first passphrase"), words("second passphrase"), cheap);
  EXPECT_EQ(open_table_key(file_, words("second passphrase")).public_key(), made.public_key);
  expect_part(problem_of([&] { (void)open_table_key(file_, words("first passphrase")); }),
              "does not open it");
  EXPECT_EQ(open_table_key(backup, words("first passphrase")).public_key(), made.public_key);
}

// Each character of the file replaced: whatever part it falls into, no other key comes out.
TEST_F(TableKeyTest, NoCharacterOfTheFileCanBeChanged) {
  make_table_key(file_, "office A", words("five plain words here"), cheap);
  const std::string good = read_file(file_);
  int refusals = 0;
  for (std::size_t i = 0; i + 1 < good.size(); ++i) {
    std::string bad = good;
    bad[i] = bad[i] == '1' ? '2' : '1';
    write_file(file_, bad, 0600);
    EXPECT_NE(problem_of([&] { (void)open_table_key(file_, words("five plain words here")); }), "no problem")
        << "character " << i;
    ++refusals;
  }
  EXPECT_EQ(refusals, static_cast<int>(good.size()) - 1);
}

TEST_F(TableKeyTest, WhatIsNoSuchFileIsNamed) {
  expect_part(problem_of([&] { (void)read_table_key(file_); }), "strandproof key table-new");
  write_file(file_, std::string(64, 'a') + "\n", 0600);
  expect_part(problem_of([&] { (void)read_table_key(file_); }), "is missing");
  write_file(file_, "strandproof table key 2\n", 0600);
  expect_part(problem_of([&] { (void)read_table_key(file_); }), "a key file of version 2");
  make_table_key(folder_ + "/a.key", "a", words("five plain words here"), cheap);
  ASSERT_EQ(::chmod((folder_ + "/a.key").c_str(), 0640), 0);
  expect_part(problem_of([&] { (void)read_table_key(folder_ + "/a.key"); }), "others may read it");
  expect_part(problem_of([&] { make_table_key(file_ + "2", "", words("five plain words here"), cheap); }),
              "1 to 15 plain ASCII");
  std::string greedy = read_file(folder_ + "/a.key");
  greedy.replace(greedy.find("argon2id 1 8"), 12, "argon2id 1 99999999");
  write_file(file_, greedy, 0600);
  expect_part(problem_of([&] { (void)read_table_key(file_); }), "its cost is out of bounds");
}

TEST_F(TableKeyTest, APassphraseComesFromAFileOfItsOwnerAlone) {
  const std::string file = folder_ + "/words";
  write_file(file, "five plain words here\nnot this line\n", 0600);
  EXPECT_EQ(ask_passphrase(file, "passphrase").bytes(), "five plain words here");
  setenv("STRANDPROOF_PASSPHRASE_FILE", file.c_str(), 1);
  EXPECT_EQ(ask_passphrase("", "passphrase").bytes(), "five plain words here");
  EXPECT_EQ(ask_new_passphrase("", "passphrase").bytes(), "five plain words here");
  write_file(file, "short\n", 0600);
  EXPECT_EQ(ask_passphrase(file, "passphrase").bytes(), "short");
  expect_part(problem_of([&] { (void)ask_new_passphrase(file, "passphrase"); }), "at least 10 characters");
  write_file(file, "\n", 0600);
  expect_part(problem_of([&] { (void)ask_passphrase(file, "passphrase"); }), "holds no passphrase");
  ASSERT_EQ(::chmod(file.c_str(), 0644), 0);
  expect_part(problem_of([&] { (void)ask_passphrase(file, "passphrase"); }), "others may read it");
}

}  // namespace
}  // namespace strandproof::host::keys
