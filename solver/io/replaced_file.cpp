#include "solver/io/replaced_file.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <chrono>
#include <cstdio>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <sys/file.h>
#include <sys/stat.h>
#include <thread>
#include <unistd.h>
#include <vector>

namespace clampfade {

namespace {

[[noreturn]] void throw_write_error(const std::string& path, const std::string& what, int error) {
  throw FileError(Code::FileWrite, fmt::format("{}: {}: {}", path, what, std::strerror(error)));
}

std::string folder(const std::string& path) {
  const std::size_t slash = path.rfind('/');
  return slash == std::string::npos ? "." : slash == 0 ? "/" : path.substr(0, slash);
}

/// The file that a path means: where it is a symbolic link, what it points to, which need not be there yet. A rename
/// onto the link itself would put the file in the link's place.
std::string followed(const std::string& path) {
  namespace fs = std::filesystem;
  constexpr int most = 40; // as the system allows
  fs::path at = path;
  std::error_code ignored;
  for (int links = 0; fs::is_symlink(at, ignored); ++links) {
    const fs::path to = fs::read_symlink(at, ignored);
    if (links == most || to.empty()) {
      throw_write_error(path, "cannot follow this symbolic link", ELOOP);
    }
    at = to.is_absolute() ? to : at.parent_path() / to;
  }
  return at.string();
}

} // namespace

void require_free(const std::string& path, bool overwrite) {
  struct stat info {};
  if (::stat(path.c_str(), &info) != 0) {
    return;
  }
  if (S_ISDIR(info.st_mode)) {
    throw FileError(Code::FileWrite, fmt::format("{}: cannot write: this is a folder", path));
  }
  if (!S_ISREG(info.st_mode)) {
    // A device or a pipe would be replaced by a file, not written to.
    throw FileError(Code::FileWrite, fmt::format("{}: cannot write: this is no ordinary file", path));
  }
  if (!overwrite) {
    throw FileError(Code::FileExists,
                    fmt::format("{}: the file exists and is left as it is; give another name, or ask for it to be "
                                "overwritten",
                                path));
  }
}

Descriptor::Descriptor(const std::string& path, int flags) : fd_(::open(path.c_str(), flags | O_CLOEXEC, 0666)) {}

bool Descriptor::write(const char* data, std::size_t bytes) const {
  while (bytes > 0) {
    const ssize_t n = ::write(fd_, data, bytes);
    if (n < 0 && errno != EINTR) {
      return false;
    }
    if (n > 0) {
      data += n;
      bytes -= static_cast<std::size_t>(n);
    }
  }
  return true;
}

bool Descriptor::sync() const { return ::fsync(fd_) == 0 || errno == EINVAL; } // EINVAL: a device that cannot

bool Descriptor::close() { return fd_ < 0 || ::close(std::exchange(fd_, -1)) == 0; }

bool copy(int from, const Descriptor& to, const std::function<void(const char*, std::size_t)>& look) {
  std::vector<char> block(std::size_t{1} << 20U);
  for (off_t at = 0;;) {
    const ssize_t n = ::pread(from, block.data(), block.size(), at);
    if (n < 0 && errno != EINTR) {
      return false;
    }
    if (n == 0) {
      return true;
    }
    if (n > 0) {
      const auto bytes = static_cast<std::size_t>(n);
      if (look) {
        look(block.data(), bytes);
      }
      if (!to.write(block.data(), bytes)) {
        return false;
      }
      at += n;
    }
  }
}

ReplacedFile::ReplacedFile(const std::string& path) : shown_(path), target_(followed(path)) { claim(); }

ReplacedFile::ReplacedFile(const std::string& path, bool overwrite)
    : ReplacedFile((require_free(path, overwrite), path)) {
  require_free(path, overwrite); // another run may have ended between the first look and the lock
}

void ReplacedFile::replace(const std::function<bool(const Descriptor&)>& write, const std::string& kept) {
  const char* step = "cannot write";
  bool done = part_.ok() && write(part_) && part_.sync();
  if (done) {
    step = "cannot put the new state in place";
    done = std::rename(part_name_.c_str(), target_.c_str()) == 0;
  }
  if (!done) {
    const int error = errno;
    give_up();
    throw_write_error(shown_, fmt::format("{} ({})", step, kept), error);
  }
  {
    // Held until the next one is ours, so that no other run can come in between.
    const Descriptor before = std::move(part_);
    claim(true);
  }
  // So that the new name survives a power cut too; a folder that cannot be synced is no reason to stop a run.
  const Descriptor dir(folder(target_), O_RDONLY | O_DIRECTORY);
  if (dir.ok()) {
    (void)dir.sync();
  }
}

void ReplacedFile::claim(bool held) {
  const auto taken = [](const Descriptor& file, int lock) {
    // Where the file system knows no locks there is none.
    return ::flock(file.get(), lock | LOCK_NB) != 0 && errno == EWOULDBLOCK;
  };
  const auto refuse = [this] {
    throw FileError(Code::FileWrite, fmt::format("{}: another run is writing this file; wait until it ends, stop it, "
                                                 "or give another name",
                                                 shown_));
  };
  // Whoever ends a run takes the file away or gives it the history's name; then the lock is on what is gone.
  const int most = held ? 5000 : 10;
  for (int tries = 0; tries < most; ++tries) {
    Descriptor part(part_name_, O_WRONLY | O_CREAT);
    if (!part.ok() && errno == ENOENT) {
      throw FileError(Code::FileWrite, fmt::format("{}: cannot write: there is no folder {}", shown_, folder(target_)));
    }
    if (!part.ok()) {
      throw_write_error(shown_, "cannot write", errno);
    }
    if (taken(part, LOCK_EX)) {
      if (held) {
        std::this_thread::sleep_for(std::chrono::milliseconds(1)); // the other one is about to find out, below
        continue;
      }
      refuse();
    }
    struct stat here {};
    struct stat there {};
    if (::fstat(part.get(), &here) == 0 && ::stat(part_name_.c_str(), &there) == 0 && here.st_ino == there.st_ino &&
        here.st_dev == there.st_dev) {
      if (!held) {
        const Descriptor target(target_, O_RDONLY);
        if (target.ok() && taken(target, LOCK_SH)) {
          ::unlink(part_name_.c_str());
          refuse(); // another run has just put it there and is about to go on
        }
      }
      if (::ftruncate(part.get(), 0) != 0) {
        throw_write_error(shown_, "cannot write", errno);
      }
      part_ = std::move(part);
      return;
    }
  }
  throw_write_error(shown_, "cannot write", EBUSY);
}

void ReplacedFile::give_up() {
  if (part_.ok()) {
    ::unlink(part_name_.c_str());
    (void)part_.close();
  }
}

} // namespace clampfade
