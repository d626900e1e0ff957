#include "solver/cli/options.hpp"

#include "solver/io/quantity.hpp"
#include "solver/io/replaced_file.hpp"

#include <fmt/format.h>

#include <utility>

namespace clampfade {

void refuse_option(Code code, const std::string& option, std::string found, std::string allowed, std::string hint) {
  Diagnostic d;
  d.code = code;
  d.path = option;
  d.found = std::move(found);
  d.allowed = std::move(allowed);
  d.hint = std::move(hint);
  throw InputError({d});
}

double option_value(const std::string& text, const ParamSpec& spec) {
  const QuantityResult read = read_quantity(text, spec);
  if (!read.value) {
    refuse_option(read.fault.code, std::string(spec.key), read.fault.found, read.fault.allowed, read.fault.hint);
  }
  if (!spec.allowed.holds(*read.value)) {
    refuse_option(Code::OutOfRange, std::string(spec.key), fmt::format("'{}' is outside the allowed range", text),
                  range_text(spec.allowed, spec));
  }
  return *read.value;
}

void write_text_file(const std::string& path, const std::string& text, bool overwrite) {
  ReplacedFile file(path, overwrite);
  file.replace([&](const Descriptor& other) { return other.write(text.data(), text.size()) && other.sync(); },
               "nothing was written");
}

} // namespace clampfade
