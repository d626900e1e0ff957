// Examples of FIPS 180-4 as NIST gives them (memory), among them the two-block message and the million letters.
#include "solver/io/sha256.hpp"

#include <doctest/doctest.h>

using namespace clampfade;

TEST_CASE("sha256: the examples of the standard come out") {
  CHECK(sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  CHECK(sha256("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  CHECK(sha256(std::string(1000000, 'a')) == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST_CASE("sha256: a message in pieces gives the sum of the whole") {
  std::string message;
  for (int i = 0; i < 300; ++i) {
    message += static_cast<char>('a' + i % 23);
  }
  for (const std::size_t piece : {1U, 55U, 63U, 64U, 65U, 128U}) {
    CAPTURE(piece);
    Sha256 sum;
    for (std::size_t i = 0; i < message.size(); i += piece) {
      const std::string part = message.substr(i, piece);
      sum.update(part.data(), part.size());
    }
    CHECK(sum.hex() == sha256(message));
  }
}
