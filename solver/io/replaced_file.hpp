// A file that is only ever replaced whole: whoever opens its path finds the old state or the new, never a piece.
#pragma once

#include <functional>
#include <string>
#include <utility>

namespace clampfade {

/// Throws FileError if a file of results must not or cannot be written to the path: FileExists if it is there and is
/// not to be overwritten, FileWrite for what is no ordinary file.
void require_free(const std::string& path, bool overwrite);

/// An open file descriptor.
class Descriptor {
public:
  Descriptor() = default;
  Descriptor(const std::string& path, int flags);
  Descriptor(Descriptor&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}
  Descriptor& operator=(Descriptor&& other) noexcept {
    std::swap(fd_, other.fd_);
    return *this;
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() { (void)close(); }
  [[nodiscard]] bool ok() const { return fd_ >= 0; }
  [[nodiscard]] int get() const { return fd_; }
  [[nodiscard]] bool write(const char* data, std::size_t bytes) const;
  [[nodiscard]] bool sync() const;
  bool close();

private:
  int fd_ = -1;
};

/// Copies all bytes of an open file, a block at a time, and shows each block to `look`. Leaves the reason in errno and
/// gives false where the disk refuses.
bool copy(int from, const Descriptor& to, const std::function<void(const char* data, std::size_t bytes)>& look = {});

/// A new state is written beside the file, under its name with `.part` added, and then takes its name in one step.
/// While this lives it holds a lock on that other file, so that a second run cannot write to the same place.
class ReplacedFile {
public:
  /// A path that is a symbolic link is followed. Throws FileError(FileWrite).
  explicit ReplacedFile(const std::string& path);
  /// As require_free, and then it stays free: looked at again once no other run can put a file there.
  ReplacedFile(const std::string& path, bool overwrite);
  ReplacedFile(const ReplacedFile&) = delete;
  ReplacedFile& operator=(const ReplacedFile&) = delete;
  ~ReplacedFile() { give_up(); }

  /// `write` writes the new state to the other file, or leaves the reason in errno and gives false. Throws
  /// FileError(FileWrite); what was on the disk then stays. `kept` says in the message what that is.
  void replace(const std::function<bool(const Descriptor& other)>& write, const std::string& kept);

  /// A file to work on, on the same disk, that never has to be cleared away: `open` gets the other file, still empty,
  /// and its name, and opens it. Then the name is taken from it, and it is gone when it is closed, or when the process
  /// dies. Throws FileError(FileWrite), and what `open` throws.
  template <class Open>
  auto nameless(const Open& open) {
    auto opened = open(part_, part_name_);
    give_up();
    claim();
    return opened;
  }

private:
  std::string shown_; ///< the path in messages, which is the user's
  std::string target_;
  std::string part_name_ = target_ + ".part";
  Descriptor part_;

  /// Makes the other file and locks it. `held`: while this still holds the lock of the one before, which has become the
  /// file itself.
  void claim(bool held = false);
  void give_up();
};

} // namespace clampfade
