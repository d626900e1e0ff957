#include "solver/io/history_arrays.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/history_open.hpp"

#include <fmt/format.h>

#include <functional>
#include <numeric>
#include <stdexcept>

namespace clampfade {

namespace {

std::size_t entries(const std::vector<std::size_t>& lengths) {
  return std::accumulate(lengths.begin(), lengths.end(), std::size_t{1}, std::multiplies<>());
}

template <class T>
void require_size(const std::string& path, const std::vector<std::size_t>& lengths, const std::vector<T>& values) {
  if (lengths.empty() || values.size() != entries(lengths)) {
    throw std::logic_error(fmt::format("{}: {} values for a shape of {}", path, values.size(), entries(lengths)));
  }
}

} // namespace

WholeFile::WholeFile(const std::string& path, bool overwrite) : path_(path), target_(path, overwrite) { h5::quiet(); }

void WholeFile::write(std::string_view what, const std::function<std::vector<char>()>& build) {
  std::vector<char> bytes;
  try {
    bytes = build();
  } catch (const h5::Error& e) {
    throw FileError(Code::FileWrite, fmt::format("{}: cannot build the {} in memory: {}", path_, what, e.what()));
  }
  target_.replace([&](const Descriptor& other) { return other.write(bytes.data(), bytes.size()); },
                  "what was there before is kept");
}

h5::Id ArrayWriter::dataset(const std::string& path, const Lengths& lengths, hid_t type, const std::string& unit,
                            const std::string& long_name, const Axes& axes) const {
  h5::Id id = h5::create_dataset(file_, path, type, {lengths.begin(), lengths.end()}, false, unit, long_name);
  for (unsigned i = 0; i < axes.size(); ++i) {
    h5::attach(file_, id, axes[i], i);
  }
  return id;
}

h5::Id ArrayWriter::reals(const std::string& path, const Lengths& lengths, const std::vector<double>& values,
                          const std::string& unit, const std::string& long_name, const Axes& axes) const {
  require_size(path, lengths, values);
  h5::Id id = dataset(path, lengths, H5T_IEEE_F64LE, unit, long_name, axes);
  h5::write_rows(id, H5T_NATIVE_DOUBLE, 0, lengths[0], values.data());
  return id;
}

h5::Id ArrayWriter::integers(const std::string& path, const Lengths& lengths, const std::vector<std::int64_t>& values,
                             const std::string& long_name, const Axes& axes) const {
  require_size(path, lengths, values);
  h5::Id id = dataset(path, lengths, H5T_STD_I64LE, "1", long_name, axes);
  h5::write_rows(id, H5T_NATIVE_INT64, 0, lengths[0], values.data());
  return id;
}

h5::Id ArrayWriter::codes(const std::string& path, const Lengths& lengths, const std::vector<std::int64_t>& values,
                          const std::string& long_name, const Axes& axes) const {
  require_size(path, lengths, values);
  h5::Id id = dataset(path, lengths, H5T_STD_I8LE, "1", long_name, axes);
  h5::write_rows(id, H5T_NATIVE_INT64, 0, lengths[0], values.data());
  return id;
}

h5::Id ArrayWriter::texts(const std::string& path, const Lengths& lengths, const std::vector<std::string>& values,
                          const std::string& long_name, const Axes& axes) const {
  require_size(path, lengths, values);
  h5::Id id = dataset(path, lengths, h5::text_type(), "1", long_name, axes);
  h5::write_texts(id, 0, values);
  return id;
}

void ArrayWriter::axis(const std::string& path) const { h5::make_scale(h5::open_dataset(file_, path), path); }

void ArrayWriter::count(const std::string& path, std::size_t length, const std::string& long_name) const {
  std::vector<std::int64_t> numbers(length);
  std::iota(numbers.begin(), numbers.end(), 0);
  integers(path, {length}, numbers, long_name);
  axis(path);
}

void ArrayReader::damaged(const std::string& reason) const { throw_damaged(path_, reason); }

std::string ArrayReader::text(const char* attribute) const {
  const auto value = h5::text_attribute(file_, attribute);
  return value ? *value : (damaged(fmt::format("no attribute {}", attribute)), "");
}

double ArrayReader::real(const char* attribute) const {
  const auto value = h5::real_attribute(file_, attribute);
  return value ? *value : (damaged(fmt::format("no attribute {}", attribute)), 0);
}

std::int64_t ArrayReader::integer(const char* attribute) const {
  const auto value = h5::integer_attribute(file_, attribute);
  return value && value->size() == 1 ? value->front() : (damaged(fmt::format("no attribute {}", attribute)), 0);
}

std::size_t ArrayReader::length(const std::string& axis, std::size_t most) const {
  const std::vector<hsize_t> d = h5::dims(h5::open_dataset(file_, axis));
  if (d.size() != 1 || d[0] == 0 || d[0] > most) {
    damaged(axis + " has no length that such a file has");
  }
  return d[0];
}

h5::Id ArrayReader::open(const std::string& path, const Lengths& lengths, H5T_class_t expected) const {
  h5::Id id = h5::open_dataset(file_, path);
  const h5::Id type(H5Dget_type(id), H5Tclose, "type of " + path);
  if (h5::dims(id) != std::vector<hsize_t>(lengths.begin(), lengths.end()) || H5Tget_class(type) != expected) {
    damaged(path + " is of another shape or type");
  }
  return id;
}

std::vector<double> ArrayReader::reals(const std::string& path, const Lengths& lengths) const {
  const h5::Id id = open(path, lengths, H5T_FLOAT); // before anything is made as long as the file claims
  std::vector<double> values(entries(lengths));
  h5::read_rows(id, H5T_NATIVE_DOUBLE, 0, lengths[0], values.data());
  return values;
}

std::vector<std::int64_t> ArrayReader::integers(const std::string& path, const Lengths& lengths) const {
  const h5::Id id = open(path, lengths, H5T_INTEGER);
  std::vector<std::int64_t> values(entries(lengths));
  h5::read_rows(id, H5T_NATIVE_INT64, 0, lengths[0], values.data());
  return values;
}

std::vector<std::string> ArrayReader::texts(const std::string& path, const Lengths& lengths) const {
  return h5::read_texts(open(path, lengths, H5T_STRING), 0, lengths[0]);
}

} // namespace clampfade
