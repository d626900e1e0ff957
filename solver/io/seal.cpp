#include "solver/io/seal.hpp"

#include "solver/io/sha256.hpp"

#include <algorithm>
#include <fstream>
#include <string_view>

namespace clampfade {

namespace {

constexpr std::string_view kStart = "\nclampfade seal sha256 ";
constexpr std::size_t kHexDigits = 64;
constexpr std::size_t kSealBytes = kStart.size() + kHexDigits + 1;

std::string seal_line(const std::string& hex) { return std::string(kStart) + hex + "\n"; }

} // namespace

void add_seal(std::vector<char>& content) {
  const std::string line = seal_line(sha256({content.data(), content.size()}));
  content.insert(content.end(), line.begin(), line.end());
}

bool copy_sealed(int from, const Descriptor& to) {
  Sha256 sum;
  const auto hash = [&sum](const char* data, std::size_t bytes) { sum.update(data, bytes); };
  if (!copy(from, to, hash)) {
    return false;
  }
  const std::string line = seal_line(sum.hex());
  return to.write(line.data(), line.size());
}

Seal check_seal(const std::string& path) {
  std::ifstream in(path, std::ios::binary | std::ios::ate);
  const std::streamoff size = in ? static_cast<std::streamoff>(in.tellg()) : 0;
  if (size < static_cast<std::streamoff>(kSealBytes)) {
    return Seal::None;
  }
  std::string line(kSealBytes, '\0');
  const std::streamoff content = size - static_cast<std::streamoff>(kSealBytes);
  in.seekg(content);
  in.read(line.data(), static_cast<std::streamsize>(line.size()));
  if (!in || line.compare(0, kStart.size(), kStart) != 0) {
    return Seal::None;
  }
  Sha256 sum;
  std::vector<char> block(std::size_t{1} << 20U);
  in.seekg(0);
  for (std::streamoff left = content; left > 0 && in;) {
    const auto take = std::min<std::streamoff>(left, static_cast<std::streamoff>(block.size()));
    in.read(block.data(), take);
    sum.update(block.data(), static_cast<std::size_t>(in.gcount()));
    left -= take;
  }
  return in && seal_line(sum.hex()) == line ? Seal::Intact : Seal::Broken;
}

} // namespace clampfade
