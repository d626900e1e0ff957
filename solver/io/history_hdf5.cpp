#include "solver/io/history_hdf5.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/sha256.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cstring>
#include <ctime>
#include <functional>
#include <numeric>

namespace clampfade::h5 {

namespace {

constexpr std::size_t kChunkBytes = 131072;
constexpr std::size_t kCachedChunks = 2; // of each dataset; less than one, and each append would pack a chunk anew
constexpr std::size_t kMetadataBytes = 4194304; // cached of a file on the disk
constexpr std::size_t kTextChunkBytes = 4096;   // of references, which are not packed
constexpr std::size_t kAttributeBytes = 60000;  // HDF5 takes 64 kB with everything around the text

std::string innermost_reason() {
  std::string text;
  H5Ewalk2(
      H5E_DEFAULT, H5E_WALK_DOWNWARD,
      [](unsigned, const H5E_error2_t* error, void* out) -> herr_t {
        if (error->desc != nullptr) {
          *static_cast<std::string*>(out) = error->desc;
        }
        return 0;
      },
      &text);
  H5Eclear2(H5E_DEFAULT);
  // Of what the disk refused, the system's own words out of HDF5's list of everything.
  constexpr std::string_view start = "error message = '";
  const std::size_t at = text.find(start);
  if (at != std::string::npos) {
    text = text.substr(at + start.size());
    text.erase(std::min(text.size(), text.find('\'')));
  }
  return text;
}

void make_groups(hid_t file, const std::string& path) {
  for (std::size_t slash = path.find('/', 1); slash != std::string::npos; slash = path.find('/', slash + 1)) {
    const std::string group = path.substr(0, slash);
    if (check(H5Lexists(file, group.c_str(), H5P_DEFAULT), "look for " + group) > 0) {
      continue;
    }
    // netCDF-4 refuses to append to files that do not track the order of creation.
    const Id plist(H5Pcreate(H5P_GROUP_CREATE), H5Pclose, "group properties");
    check(H5Pset_link_creation_order(plist, H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED), "group properties");
    const Id made(H5Gcreate2(file, group.c_str(), H5P_DEFAULT, plist, H5P_DEFAULT), H5Gclose, "create group " + group);
  }
}

void replace_attribute(hid_t object, const char* name, hid_t type, hid_t space, const void* data) {
  if (check(H5Aexists(object, name), "look for an attribute") > 0) {
    check(H5Adelete(object, name), "replace an attribute");
  }
  const Id attribute(H5Acreate2(object, name, type, space, H5P_DEFAULT, H5P_DEFAULT), H5Aclose,
                     std::string("create attribute ") + name);
  check(H5Awrite(attribute, type, data), std::string("write attribute ") + name);
}

std::optional<Id> open_attribute(hid_t object, const char* name) {
  if (check(H5Aexists(object, name), std::string("look for attribute ") + name) == 0) {
    return std::nullopt;
  }
  return Id(H5Aopen(object, name, H5P_DEFAULT), H5Aclose, std::string("open attribute ") + name);
}

std::size_t points(hid_t attribute) {
  const Id space(H5Aget_space(attribute), H5Sclose, "shape of an attribute");
  return static_cast<std::size_t>(check(H5Sget_simple_extent_npoints(space), "shape of an attribute"));
}

/// True if the attribute's values are of the class (integer, float, text), so that a read converts nothing odd.
bool is_class(hid_t attribute, H5T_class_t expected) {
  const Id type(H5Aget_type(attribute), H5Tclose, "type of an attribute");
  return H5Tget_class(type) == expected;
}

} // namespace

void fail(const std::string& what) {
  const std::string reason = innermost_reason();
  throw Error(reason.empty() ? what : what + ": " + reason);
}

void quiet() {
  H5dont_atexit();
  H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
}

Id text_type() {
  Id type(H5Tcopy(H5T_C_S1), H5Tclose, "text type");
  check(H5Tset_size(type, H5T_VARIABLE), "text type");
  check(H5Tset_cset(type, H5T_CSET_UTF8), "text type");
  return type;
}

std::string fitting(std::string_view text, std::size_t bytes) {
  constexpr std::string_view ellipsis = "\u2026";
  text = text.substr(0, text.find('\0'));
  if (text.size() < bytes) {
    return std::string(text);
  }
  std::size_t end = bytes > ellipsis.size() ? bytes - 1 - ellipsis.size() : 0;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) {
    --end; // inside a character of several bytes
  }
  return std::string(text.substr(0, end)) + std::string(ellipsis);
}

void write_attribute(hid_t object, const char* name, std::string_view text) {
  const std::string cut = fitting(text, kAttributeBytes);
  const Id type(H5Tcopy(H5T_C_S1), H5Tclose, "text type");
  check(H5Tset_size(type, cut.size() + 1), "text type");
  check(H5Tset_cset(type, H5T_CSET_UTF8), "text type");
  const Id space(H5Screate(H5S_SCALAR), H5Sclose, "attribute space");
  replace_attribute(object, name, type, space, cut.c_str());
}

void write_attribute(hid_t object, const char* name, double value) {
  const Id space(H5Screate(H5S_SCALAR), H5Sclose, "attribute space");
  replace_attribute(object, name, H5T_IEEE_F64LE, space, &value);
}

void write_attribute(hid_t object, const char* name, std::span<const std::int64_t> values) {
  const hsize_t n = values.size();
  const Id space(n == 1 ? H5Screate(H5S_SCALAR) : H5Screate_simple(1, &n, nullptr), H5Sclose, "attribute space");
  replace_attribute(object, name, H5T_STD_I64LE, space, values.data());
}

namespace {

constexpr std::size_t kMostInAttribute = 1U << 20U; ///< bytes or numbers; our own have 64 kB at most

/// A text of a file. One that is none never gets further: it would reach a terminal or a page.
std::string sound(std::string text, const std::string& what) {
  if (bad_character(text)) {
    throw Error(what + " has control characters or bytes that are not UTF-8");
  }
  return text;
}

} // namespace

std::optional<std::string> text_attribute(hid_t object, const char* name) {
  const std::optional<Id> attribute = open_attribute(object, name);
  if (!attribute || !is_class(*attribute, H5T_STRING) || points(*attribute) != 1) {
    return std::nullopt;
  }
  const Id type(H5Aget_type(*attribute), H5Tclose, "type of an attribute");
  if (H5Tis_variable_str(type) != 0) {
    return std::nullopt;
  }
  const std::size_t size = H5Tget_size(type);
  if (size > kMostInAttribute) {
    throw Error(std::string("attribute ") + name + " is too long");
  }
  std::string text(size, '\0');
  check(H5Aread(*attribute, type, text.data()), std::string("read attribute ") + name);
  return sound(text.substr(0, text.find('\0')), std::string("attribute ") + name);
}

std::optional<double> real_attribute(hid_t object, const char* name) {
  const std::optional<Id> attribute = open_attribute(object, name);
  if (!attribute || !is_class(*attribute, H5T_FLOAT) || points(*attribute) != 1) {
    return std::nullopt;
  }
  double value = 0;
  check(H5Aread(*attribute, H5T_NATIVE_DOUBLE, &value), std::string("read attribute ") + name);
  return value;
}

std::optional<std::vector<std::int64_t>> integer_attribute(hid_t object, const char* name) {
  const std::optional<Id> attribute = open_attribute(object, name);
  if (!attribute || !is_class(*attribute, H5T_INTEGER)) {
    return std::nullopt;
  }
  const std::size_t count = points(*attribute);
  if (count > kMostInAttribute) {
    throw Error(std::string("attribute ") + name + " is too long");
  }
  std::vector<std::int64_t> values(count);
  check(H5Aread(*attribute, H5T_NATIVE_INT64, values.data()), std::string("read attribute ") + name);
  return values;
}

Id create_dataset(hid_t file, const std::string& path, hid_t type, const std::vector<hsize_t>& dims, bool grows,
                  std::string_view unit, std::string_view long_name) {
  make_groups(file, path);
  std::vector<hsize_t> max = dims;
  std::vector<hsize_t> chunk = dims;
  const hsize_t row_bytes =
      std::accumulate(dims.begin() + 1, dims.end(), hsize_t{H5Tget_size(type)}, std::multiplies<>());
  const bool text = H5Tget_class(type) == H5T_STRING;
  chunk[0] = std::max<hsize_t>(1, (text ? kTextChunkBytes : kChunkBytes) / row_bytes);
  if (grows) {
    max[0] = H5S_UNLIMITED;
  } else {
    chunk[0] = std::min(chunk[0], dims[0]);
  }
  const Id space(H5Screate_simple(static_cast<int>(dims.size()), dims.data(), max.data()), H5Sclose,
                 "shape of " + path);
  const Id plist(H5Pcreate(H5P_DATASET_CREATE), H5Pclose, "dataset properties");
  check(H5Pset_chunk(plist, static_cast<int>(chunk.size()), chunk.data()), "chunks of " + path);
  if (!text) {
    check(H5Pset_shuffle(plist), "filters of " + path);
    check(H5Pset_deflate(plist, 1), "filters of " + path);
    check(H5Pset_fletcher32(plist), "filters of " + path);
  }
  check(H5Pset_obj_track_times(plist, false), "dataset properties"); // two runs of one scenario give the same bytes
  check(H5Pset_attr_creation_order(plist, H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED), "dataset properties");
  Id dataset(H5Dcreate2(file, path.c_str(), type, space, H5P_DEFAULT, plist, H5P_DEFAULT), H5Dclose, "create " + path);
  write_attribute(dataset, "units", unit);
  write_attribute(dataset, "long_name", long_name);
  return dataset;
}

Id open_dataset(hid_t file, const std::string& path) {
  return Id(H5Dopen2(file, path.c_str(), H5P_DEFAULT), H5Dclose, "open " + path);
}

bool exists(hid_t file, const std::string& path) {
  for (std::size_t slash = path.find('/', 1); slash != std::string::npos; slash = path.find('/', slash + 1)) {
    if (check(H5Lexists(file, path.substr(0, slash).c_str(), H5P_DEFAULT), "look for " + path) == 0) {
      return false;
    }
  }
  return check(H5Lexists(file, path.c_str(), H5P_DEFAULT), "look for " + path) > 0;
}

std::vector<hsize_t> dims(hid_t dataset) {
  const Id space(H5Dget_space(dataset), H5Sclose, "shape of a dataset");
  const int rank = check(H5Sget_simple_extent_ndims(space), "shape of a dataset");
  std::vector<hsize_t> d(static_cast<std::size_t>(rank));
  check(H5Sget_simple_extent_dims(space, d.data(), nullptr), "shape of a dataset");
  return d;
}

std::size_t type_size(hid_t dataset) {
  const Id type(H5Dget_type(dataset), H5Tclose, "type of a dataset");
  return H5Tget_size(type);
}

namespace {

/// Selects rows of a dataset of any rank; gives the space in the file and the one in memory.
std::pair<Id, Id> select_rows(hid_t dataset, hsize_t row, hsize_t count) {
  std::vector<hsize_t> size = dims(dataset);
  std::vector<hsize_t> start(size.size(), 0);
  start.at(0) = row;
  size.at(0) = count;
  Id space(H5Dget_space(dataset), H5Sclose, "shape of a dataset");
  check(H5Sselect_hyperslab(space, H5S_SELECT_SET, start.data(), nullptr, size.data(), nullptr), "rows of a dataset");
  Id memory(H5Screate_simple(static_cast<int>(size.size()), size.data(), nullptr), H5Sclose, "rows");
  return {std::move(space), std::move(memory)};
}

} // namespace

void read_rows(hid_t dataset, hid_t type, hsize_t row, hsize_t count, void* out) {
  const auto [space, memory] = select_rows(dataset, row, count);
  check(H5Dread(dataset, type, memory, space, H5P_DEFAULT, out), "read rows");
}

void write_rows(hid_t dataset, hid_t type, hsize_t row, hsize_t count, const void* data) {
  const auto [space, memory] = select_rows(dataset, row, count);
  check(H5Dwrite(dataset, type, memory, space, H5P_DEFAULT, data), "write rows");
}

void resize_rows(hid_t dataset, hsize_t rows) {
  std::vector<hsize_t> shape = dims(dataset);
  shape.at(0) = rows;
  check(H5Dset_extent(dataset, shape.data()), "change the length of a dataset");
}

namespace {

/// Entries in one row of a dataset.
hsize_t row_entries(hid_t dataset) {
  const std::vector<hsize_t> shape = dims(dataset);
  return std::accumulate(shape.begin() + std::min<std::ptrdiff_t>(1, std::ssize(shape)), shape.end(), hsize_t{1},
                         std::multiplies<>());
}

} // namespace

void write_texts(hid_t dataset, hsize_t row, const std::vector<std::string>& texts) {
  std::vector<const char*> starts;
  for (const std::string& text : texts) {
    starts.push_back(text.c_str());
  }
  write_rows(dataset, text_type(), row, texts.size() / row_entries(dataset), starts.data());
}

Id create_texts(hid_t file, const std::string& path, const std::vector<std::string>& texts, std::string_view unit,
                std::string_view long_name) {
  Id dataset = create_dataset(file, path, text_type(), {texts.size()}, false, unit, long_name);
  write_texts(dataset, 0, texts);
  return dataset;
}

std::vector<std::string> read_texts(hid_t dataset, hsize_t row, hsize_t count) {
  const Id stored(H5Dget_type(dataset), H5Tclose, "type of a dataset");
  if (H5Tget_class(stored) != H5T_STRING || H5Tis_variable_str(stored) <= 0 || dims(dataset).empty()) {
    throw Error("texts were expected");
  }
  const Id type = text_type();
  const hsize_t entries = count * row_entries(dataset);
  std::vector<char*> starts(entries, nullptr);
  read_rows(dataset, type, row, count, starts.data());
  std::vector<std::string> texts;
  for (const char* start : starts) {
    texts.emplace_back(start == nullptr ? "" : start);
  }
  const Id memory(H5Screate_simple(1, &entries, nullptr), H5Sclose, "rows");
  check(H5Dvlen_reclaim(type, memory, H5P_DEFAULT, starts.data()), "free texts");
  for (std::string& text : texts) {
    text = sound(std::move(text), "a text");
  }
  return texts;
}

void make_scale(hid_t dataset, const std::string& path) {
  check(H5DSset_scale(dataset, path.substr(path.rfind('/') + 1).c_str()), "make an axis of " + path);
}

void attach(hid_t file, hid_t dataset, std::string_view axis, unsigned position) {
  const Id scale = open_dataset(file, std::string(axis));
  check(H5DSattach_scale(dataset, scale, position), "attach axis " + std::string(axis));
}

void create_single(hid_t file) {
  const Id single = create_dataset(file, "/single", H5T_STD_I64LE, {1}, false, "1", "axis of single figures");
  const std::int64_t zero = 0;
  check(H5Dwrite(single, H5T_NATIVE_INT64, H5S_ALL, H5S_ALL, H5P_DEFAULT, &zero), "write /single");
  make_scale(single, "/single");
}

namespace {

/// HDF5 takes two files of one name in one process for the same file, so each gets a name of its own.
std::string memory_name() {
  static std::atomic<unsigned> count = 0;
  return "clampfade file " + std::to_string(++count) + " in memory";
}

Id memory_access() {
  Id access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "file access");
  check(H5Pset_fapl_core(access, std::size_t{1} << 22U, false), "memory driver");
  return access;
}

Id disk_access() {
  Id access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "file access");
  check(H5Pset_file_locking(access, false, true), "file access");
  // Rows are only ever appended, so no chunk is wanted again once it is full. The number of slots is HDF5's own.
  check(H5Pset_cache(access, 0, 521, kCachedChunks * kChunkBytes, 1), "file access");
  H5AC_cache_config_t metadata{};
  metadata.version = H5AC__CURR_CACHE_CONFIG_VERSION;
  check(H5Pget_mdc_config(access, &metadata), "file access");
  metadata.max_size = kMetadataBytes;
  check(H5Pset_mdc_config(access, &metadata), "file access");
  return access;
}

Id creation() {
  Id plist(H5Pcreate(H5P_FILE_CREATE), H5Pclose, "file properties");
  check(H5Pset_link_creation_order(plist, H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED), "file properties");
  check(H5Pset_attr_creation_order(plist, H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED), "file properties");
  return plist;
}

std::string utc_now() {
  const std::time_t now = std::time(nullptr);
  std::tm tm{};
  gmtime_r(&now, &tm);
  std::array<char, 32> text{};
  return {text.data(), std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &tm)};
}

} // namespace

Id create_in_memory() {
  return Id(H5Fcreate(memory_name().c_str(), H5F_ACC_TRUNC, creation(), memory_access()), H5Fclose, "create");
}

std::vector<char> image(hid_t file) {
  check(H5Fflush(file, H5F_SCOPE_LOCAL), "flush");
  std::vector<char> bytes(static_cast<std::size_t>(check(H5Fget_file_image(file, nullptr, 0), "size of the file")));
  check(H5Fget_file_image(file, bytes.data(), bytes.size()), "bytes of the file");
  return bytes;
}

Id create_on_disk(const std::string& path) {
  return Id(H5Fcreate(path.c_str(), H5F_ACC_TRUNC, creation(), disk_access()), H5Fclose, "create");
}

Id open_on_disk(const std::string& path) {
  return Id(H5Fopen(path.c_str(), H5F_ACC_RDWR, disk_access()), H5Fclose, "open");
}

int flushed(hid_t file) {
  check(H5Fflush(file, H5F_SCOPE_LOCAL), "flush");
  void* descriptor = nullptr;
  check(H5Fget_vfd_handle(file, H5P_DEFAULT, &descriptor), "descriptor of the file");
  return *static_cast<int*>(descriptor);
}

void write_identity(hid_t file, std::string_view filetype, int major, int minor) {
  const std::array<std::int64_t, 2> version = {major, minor};
  write_attribute(file, "filetype", filetype);
  write_attribute(file, "format_version", version);
  write_attribute(file, "program_version", CLAMPFADE_VERSION);
  write_attribute(file, "git_sha", CLAMPFADE_GIT_SHA);
  write_attribute(file, "created_utc", utc_now());
}

void write_lines(hid_t object, const char* name, const std::vector<std::string>& texts) {
  std::string all;
  for (std::string text : texts) {
    std::replace(text.begin(), text.end(), '\n', ' ');
    all += (all.empty() ? "" : "\n") + text;
  }
  write_attribute(object, name, all);
}

std::vector<std::string> split_lines(const std::string& text) {
  std::vector<std::string> all;
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    all.push_back(text.substr(start, end - start));
    start = end + 1;
  }
  return all;
}

std::vector<std::string> dataset_paths(hid_t top, H5_index_t order) {
  std::vector<std::string> paths;
  check(H5Ovisit2(
            top, order, H5_ITER_INC,
            [](hid_t, const char* path, const H5O_info_t* info, void* out) -> herr_t {
              if (info->type == H5O_TYPE_DATASET) {
                static_cast<std::vector<std::string>*>(out)->emplace_back(path);
              }
              return 0;
            },
            &paths, H5O_INFO_BASIC),
        "list the datasets");
  for (std::string& path : paths) {
    path = sound(std::move(path), "the name of a dataset");
  }
  return paths;
}

std::string digest(hid_t file) {
  constexpr std::size_t block_bytes = std::size_t{1} << 20U;
  constexpr hsize_t texts_at_once = 4096; // each takes much more in memory than its reference in the file
  Sha256 sum;
  const auto add_number = [&sum](hsize_t n) {
    for (unsigned shift = 0; shift < 64; shift += 8) {
      const auto byte = static_cast<std::uint8_t>(n >> shift);
      sum.update(&byte, 1);
    }
  };
  std::vector<std::string> paths = dataset_paths(file, H5_INDEX_NAME);
  std::sort(paths.begin(), paths.end());
  for (const std::string& path : paths) {
    if (path.rfind("checkpoint/", 0) == 0) {
      continue;
    }
    const Id dataset = open_dataset(file, path);
    const Id type(H5Dget_type(dataset), H5Tclose, "type of " + path); // as stored, whatever the machine
    const std::vector<hsize_t> shape = dims(dataset);
    sum.update(path.c_str(), path.size() + 1);
    for (const hsize_t n : shape) {
      add_number(n);
    }
    if (shape.empty()) {
      throw Error(path + " is a scalar, which no history holds");
    }
    const std::size_t row_bytes =
        std::accumulate(shape.begin() + 1, shape.end(), H5Tget_size(type), std::multiplies<>());
    const bool text = H5Tget_class(type) == H5T_STRING;
    const hsize_t rows_at_once = text ? std::max<hsize_t>(1, texts_at_once / std::max<hsize_t>(1, row_entries(dataset)))
                                      : std::max<hsize_t>(1, block_bytes / std::max<std::size_t>(1, row_bytes));
    std::vector<char> raw;
    for (hsize_t row = 0; row < shape[0]; row += rows_at_once) {
      const hsize_t count = std::min(rows_at_once, shape[0] - row);
      if (text) {
        for (const std::string& t : read_texts(dataset, row, count)) {
          sum.update(t.c_str(), t.size() + 1);
        }
      } else {
        raw.resize(count * row_bytes);
        read_rows(dataset, type, row, count, raw.data());
        sum.update(raw.data(), raw.size());
      }
    }
  }
  return sum.hex();
}

} // namespace clampfade::h5
