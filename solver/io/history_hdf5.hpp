// Checked HDF5 calls that clean up after themselves. For the files of results only: history*.cpp, plan_file.cpp and
// study_file.cpp.
#pragma once

#include <hdf5.h>
#include <hdf5_hl.h>

#include <cstdint>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace clampfade::h5 {

/// A call failed; `what` says which and HDF5's innermost reason.
struct Error : std::runtime_error {
  using std::runtime_error::runtime_error;
};

[[noreturn]] void fail(const std::string& what);
template <class T>
T check(T result, const std::string& what) {
  if (result < 0) {
    fail(what);
  }
  return result;
}
/// Comes before all other calls. HDF5 prints its errors to stderr unless told otherwise, anew in each thread; and at
/// exit it closes once more a file whose disk refused, and crashes.
void quiet();

/// Owns a handle.
class Id {
public:
  Id() = default;
  Id(hid_t id, herr_t (*close)(hid_t), const std::string& what) : id_(check(id, what)), close_(close) {}
  Id(Id&& other) noexcept : id_(std::exchange(other.id_, -1)), close_(other.close_) {}
  Id& operator=(Id&& other) noexcept {
    std::swap(id_, other.id_);
    std::swap(close_, other.close_);
    return *this;
  }
  ~Id() {
    if (id_ >= 0) {
      close_(id_);
    }
  }
  operator hid_t() const { return id_; } // NOLINT(google-explicit-constructor): it stands in for the handle

private:
  hid_t id_ = -1;
  herr_t (*close_)(hid_t) = nullptr;
};

/// Texts in datasets are of variable length, netCDF-4's own kind: netCDF-C 4.9.0 crashes on lists of fixed-length ones.
Id text_type();
/// The longest start of `text` that fits `bytes` with its null and cuts no character; a cut text ends in an ellipsis.
std::string fitting(std::string_view text, std::size_t bytes);

/// Attributes; texts are of fixed length, null-terminated UTF-8. Writing replaces.
void write_attribute(hid_t object, const char* name, std::string_view text);
void write_attribute(hid_t object, const char* name, double value);
void write_attribute(hid_t object, const char* name, std::span<const std::int64_t> values);
std::optional<std::string> text_attribute(hid_t object, const char* name);
std::optional<double> real_attribute(hid_t object, const char* name);
std::optional<std::vector<std::int64_t>> integer_attribute(hid_t object, const char* name);

/// A dataset in chunks, compressed and with a checksum unless it holds texts (the checksum would be of references, and
/// netCDF-4 wants none there); all groups on its way are made. Where `grows`, the first axis can be extended. All of
/// `dims` after the first must be positive.
Id create_dataset(hid_t file, const std::string& path, hid_t type, const std::vector<hsize_t>& dims, bool grows,
                  std::string_view unit, std::string_view long_name);
Id open_dataset(hid_t file, const std::string& path);
bool exists(hid_t file, const std::string& path);
std::vector<hsize_t> dims(hid_t dataset);
std::size_t type_size(hid_t dataset);

/// Rows along the first axis of a dataset, `type` being that of the values in memory.
void read_rows(hid_t dataset, hid_t type, hsize_t row, hsize_t count, void* out);
void write_rows(hid_t dataset, hid_t type, hsize_t row, hsize_t count, const void* data);
void resize_rows(hid_t dataset, hsize_t rows);

/// A whole one-dimensional dataset of texts.
Id create_texts(hid_t file, const std::string& path, const std::vector<std::string>& texts, std::string_view unit,
                std::string_view long_name);
/// The rows `row` to `row + count` of a dataset of texts, all entries of a row one after the other.
std::vector<std::string> read_texts(hid_t dataset, hsize_t row, hsize_t count);
void write_texts(hid_t dataset, hsize_t row, const std::vector<std::string>& texts);

/// Makes the dataset an axis for others, named by the last part of its path.
void make_scale(hid_t dataset, const std::string& path);
/// The axis, a path, belongs to this dimension of the dataset.
void attach(hid_t file, hid_t dataset, std::string_view axis, unsigned position);
/// `/single`, the axis of length one for single figures.
void create_single(hid_t file);

/// An empty file in memory, for small ones.
Id create_in_memory();
/// The bytes of a file in memory.
std::vector<char> image(hid_t file);
/// An empty file on the disk in the place of what is there, without locks; only a few chunks of each dataset are held
/// in memory. The name is needed no longer than the call.
Id create_on_disk(const std::string& path);
/// Likewise a file that is there, to be changed. What stands behind its last byte is passed over, and cut off.
Id open_on_disk(const std::string& path);
/// Brings the bytes on the disk up to date; gives the descriptor to read them from, which stays the file's own.
int flushed(hid_t file);

/// The root attributes that say what a file is and who wrote it: filetype, format_version, program_version, git_sha,
/// created_utc.
void write_identity(hid_t file, std::string_view filetype, int major, int minor);
/// Texts as one attribute, one a line; and back.
void write_lines(hid_t object, const char* name, const std::vector<std::string>& texts);
std::vector<std::string> split_lines(const std::string& text);

/// Paths of all datasets below a file or group, relative to it, in the order of the index given.
std::vector<std::string> dataset_paths(hid_t top, H5_index_t order);
/// SHA-256 over path, shape and raw bytes of every dataset but those below /checkpoint, which depend on the wall clock.
std::string digest(hid_t file);

} // namespace clampfade::h5
