#include "core/store/sha256.h"

#include "core/store/disk.h"
#include "support/catch.h"

#include <string>

using namespace railside;

namespace {

std::string hash(const std::string& text) { return sha256_hex(std::as_bytes(std::span(text))); }

} // namespace

TEST_CASE("sha256: the standard's own examples", "[core][store]") {
    // FIPS 180-4's example documents (NIST, "SHA256.pdf" and "SHA2_Additional.pdf" of the
    // cryptographic examples).
    CHECK(hash("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(hash("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(hash("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    CHECK(hash("\xbd") == "68325720aabd7c82f30f554b313d0570c95accbb7dc4b5aae11204c08ffe732b");
    CHECK(hash(std::string(1'000'000, 'a')) ==
          "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    CHECK(hash(std::string(1'000'000, '\0')) ==
          "d29751f2649b32ff572b5e0a9f541ea660a50f94ff0beedfb0b692b924cc8025");
}

TEST_CASE("sha256: the lengths around the padding's edges", "[core][store]") {
    // The same document: 55, 56, 57 and 64 zero bytes, where the length moves into a block of its
    // own.
    CHECK(hash(std::string(55, '\0')) ==
          "02779466cdec163811d078815c633f21901413081449002f24aa3e80f0b88ef7");
    CHECK(hash(std::string(56, '\0')) ==
          "d4817aa5497628e7c77e6b606107042bbba3130888c5f47a375e6179be789fbb");
    CHECK(hash(std::string(57, '\0')) ==
          "65a16cb7861335d5ace3c60718b5052e44660726da4cd13bb745381b235a1785");
    CHECK(hash(std::string(64, '\0')) ==
          "f5a5fd42d16a20302798ef6ed309979b43003d2320d9f0e8ea9831a92759fb4b");
}
