// Catalogue entries by kind and name: the library's files and what a scenario brings of its own.
#pragma once

#include "models/heat_network.hpp"
#include "models/joint_spec.hpp"
#include "models/tool.hpp"
#include "solver/io/map_reader.hpp"
#include "solver/io/resolved.hpp"
#include "solver/scenario.hpp"

#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// Notes that `item` names no node of the heat network.
void unknown_node(Context& c, const Item& item, const std::string& path, const std::vector<std::string>& names);

/// What a scenario brings wins over the library, which is read when first needed. Every entry is read once; the values
/// of those asked for go to the provenance table. `ref` is a name, or a map of the entry's keys.
class Catalogue {
public:
  explicit Catalogue(Context& context) : context_(context) {}

  /// The scenario's own block, which must outlive this.
  void own(const Item& block);
  Thread thread(const Item& ref, const std::string& path);
  PropertyClass property_class(const Item& ref, const std::string& path);
  Material material(const Item& ref, const std::string& path);
  Coating coating(const Item& ref, const std::string& path);
  HeatNetwork heat_network(const Item& ref, const std::string& path);
  Tool tool(const Item& ref, const std::string& path);

  /// Faults in entries that nothing uses are faults all the same.
  void check_own();
  void check_library();

  /// The library's names for people, in Markdown.
  std::string page();

  [[nodiscard]] const std::vector<UsedEntry>& used() const { return used_; }
  [[nodiscard]] const std::vector<Provenance>& provenance() const { return provenance_; }

private:
  using Block = SharedFiles::Entries;
  template <class T>
  using Pool = std::map<std::string, T>;

  [[nodiscard]] const Item* find(std::string_view kind, const std::string& name);
  [[nodiscard]] std::vector<std::string> names(std::string_view kind);
  void check_kinds(const Item& block);
  /// The library's files.
  const std::vector<Block>& library();
  void read_library(std::vector<Block>& into);
  void report_twins(const Block& first, const Block& second);
  /// Reads an entry with its source and provenance.
  template <class T>
  T entry(const Item& item, const std::string& kind, const std::string& path, bool inline_entry, UsedEntry& used);
  /// The entry that `ref` names or is.
  template <class T>
  T resolve(Pool<T>& pool, const Item& ref, const std::string& kind, const std::string& path);
  void note_values(const Item& item, const std::string& entry_name, const std::string& key, const UsedEntry& used);
  template <class T>
  void check_unused(const Item& block, const char* kind, const Pool<T>& pool);
  void check_entries(const Item& block);

  Context& context_;
  const Item* own_ = nullptr;
  std::vector<UsedEntry> used_;
  std::vector<Provenance> provenance_;
  Pool<Thread> threads_;
  Pool<PropertyClass> classes_;
  Pool<Material> materials_;
  Pool<Coating> coatings_;
  Pool<HeatNetwork> networks_;
  Pool<Tool> tools_;
};

} // namespace clampfade
