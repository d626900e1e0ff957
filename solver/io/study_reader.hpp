// The scenario's sections `vary` and `scatter`: paths into its tree, the values put there, and the scenario of a case.
#pragma once

#include "solver/fit_result.hpp"
#include "solver/io/catalogue.hpp"
#include "solver/io/document.hpp"
#include "solver/io/map_reader.hpp"
#include "solver/io/scenario.hpp"
#include "solver/study_result.hpp"
#include "solver/study_spec.hpp"

#include <array>
#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace clampfade {

/// A scenario parsed once and read as often as a study has cases. Its tree, the catalogue and the tables it names are
/// kept; a case puts its values into a copy of the tree and is read from there, so it is the very scenario that a file
/// with these values written in would be. All const functions may be called from many threads at once.
class StudyReader {
public:
  /// Axes given on the command line, as `PATH=10 mm,14 mm`, `PATH=0 um..120 um:7` or, spaced in equal proportions,
  /// `PATH=1 h..100 h:9:log`.
  struct More {
    std::vector<std::string> axes;
    std::string option = "--vary"; ///< what messages call them
    bool instead = false;          ///< whether they take the place of the scenario's own `vary`, not go behind it
    /// An interval in place of an axis: a path and its two ends, as typed; the axis has these two values.
    std::optional<std::array<std::string, 3>> between;
    /// Values that a fit is to find, `PATH` or `PATH=10 MPa..100 MPa`. One whose path the scenario does not have is
    /// left out; `missing` says why.
    std::vector<std::string> free;
  };
  /// Throws InputError with all faults of the scenario, its `vary`, its `scatter` and `more`; FileError as
  /// read_scenario does.
  StudyReader(const std::string& text, const std::string& name, const ReadOptions& options, const More& more);
  StudyReader(const std::string& text, const std::string& name, const ReadOptions& options)
      : StudyReader(text, name, options, More{}) {}
  ~StudyReader();
  StudyReader(const StudyReader&) = delete;
  StudyReader& operator=(const StudyReader&) = delete;

  /// The scenario without any of its axes and scatter; resolved_text is filled.
  [[nodiscard]] const Scenario& base() const { return base_; }
  /// resolved_text of the base with `vary` and `scatter` behind it, and the tools of these in its catalogue.
  [[nodiscard]] std::string study_text() const;
  /// Those of the base, and of values of its axes outside their calibrated range.
  [[nodiscard]] const std::vector<std::string>& warnings() const { return warnings_; }
  /// Axes of `vary`, then those given besides, in order.
  [[nodiscard]] const std::vector<StudyAxis>& axes() const { return axes_; }
  [[nodiscard]] const std::vector<ScatterSpec>& scatter() const { return scatter_; }

  /// The scenario with one value of each axis, by position. `resolved`: whether resolved_text is filled, which takes as
  /// long as the rest. Throws InputError where the values do not fit the scenario or each other.
  [[nodiscard]] Scenario sweep_case(const std::vector<std::size_t>& positions, bool resolved = false) const;
  /// The scenario with the values of all of `scatter` [SI]: one, or one for each stud. Throws as sweep_case does.
  [[nodiscard]] Scenario sample_case(const std::vector<std::vector<double>>& values, bool resolved = false) const;
  /// The scenario with a value of one's own on its only axis, which must be one of numbers [SI]. Throws as sweep_case
  /// does.
  [[nodiscard]] Scenario value_case(double value) const;
  /// What the values of the first axis are; its unit is empty for names.
  [[nodiscard]] ParamSpec axis_spec() const;

  /// The values to be found, one for each of More::free; none where the scenario has no such path. They start at the
  /// scenario's own value, the mean of those that one path leads to.
  [[nodiscard]] const std::vector<std::optional<FitParameter>>& free() const { return free_; }
  /// Why some of them are not there; a diagnostic each.
  [[nodiscard]] const std::vector<Diagnostic>& missing() const { return missing_; }
  [[nodiscard]] const ParamSpec& free_spec(std::size_t k) const;
  /// The scenario with a value for each of More::free [SI]; those it does not have are passed over. Throws as
  /// sweep_case does.
  [[nodiscard]] Scenario free_case(const std::vector<double>& values, bool resolved = false) const;
  /// YAML with these values, to be pasted: the catalogue entries that they belong to, whole, with `source` and the
  /// provenance `fitted`; values outside the catalogue as remarks. `notes` has a remark for each value, or none; `open`
  /// says of each whether the readings do not fix it, which a line above it and the source then tell.
  [[nodiscard]] std::string fitted_block(const std::vector<double>& values, const std::vector<std::string>& notes,
                                         const std::vector<char>& open, const std::string& source) const;

private:
  struct Place;
  class Reader;
  [[nodiscard]] Scenario read(const Item& tree, bool resolved) const;
  void put_free(Item& tree, const std::vector<double>& values) const;

  std::string name_;
  ReadOptions options_;
  std::shared_ptr<SharedFiles> files_;
  std::vector<std::shared_ptr<const Source>> sources_; ///< that items point into
  std::unique_ptr<Item> root_;
  std::vector<std::unique_ptr<Item>> options_axes_; ///< those of `more`
  Scenario base_;
  std::vector<UsedEntry> used_; ///< catalogue entries of the base and of `scatter`
  std::vector<StudyAxis> axes_;
  std::vector<Place> axis_places_; ///< one an axis
  std::vector<ScatterSpec> scatter_;
  std::vector<Place> scatter_places_;             ///< one for each of `scatter`
  std::vector<std::unique_ptr<Item>> free_items_; ///< paths and bounds of `free_`
  std::vector<std::optional<FitParameter>> free_;
  std::vector<Place> free_places_; ///< one for each of `free_`, without targets where it has none
  std::vector<Diagnostic> missing_;
  std::string sections_; ///< `vary` and `scatter` as text
  std::vector<std::string> warnings_;
};

} // namespace clampfade
