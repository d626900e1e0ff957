#include "solver/io/scenario_yaml.hpp"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <sstream>
#include <tuple>
#include <utility>

namespace clampfade {

namespace {

/// Notes where a document begins and lets everything else pass.
class DocumentStart final : public YAML::EventHandler {
public:
  YAML::Mark mark = YAML::Mark::null_mark();
  void OnDocumentStart(const YAML::Mark& at) override { mark = at; }
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& /*at*/, YAML::anchor_t /*anchor*/) override {}
  void OnAlias(const YAML::Mark& /*at*/, YAML::anchor_t /*anchor*/) override {}
  void OnScalar(const YAML::Mark& /*at*/, const std::string& /*tag*/, YAML::anchor_t /*anchor*/,
                const std::string& /*value*/) override {}
  void OnSequenceStart(const YAML::Mark& /*at*/, const std::string& /*tag*/, YAML::anchor_t /*anchor*/,
                       YAML::EmitterStyle::value /*style*/) override {}
  void OnSequenceEnd() override {}
  void OnMapStart(const YAML::Mark& /*at*/, const std::string& /*tag*/, YAML::anchor_t /*anchor*/,
                  YAML::EmitterStyle::value /*style*/) override {}
  void OnMapEnd() override {}
};

/// Place of a second document. The library's own way to read all documents never ends where a stray comma follows the
/// first: it makes empty documents of it until memory is gone.
std::optional<YAML::Mark> second_document(const std::string& text) {
  std::istringstream stream(text);
  YAML::Parser parser(stream);
  DocumentStart start;
  if (parser.HandleNextDocument(start) && parser.HandleNextDocument(start)) {
    return start.mark;
  }
  return std::nullopt;
}

class YamlLoader {
public:
  YamlLoader(const Source& source, const ReadOptions& options, Faults& faults)
      : source_(source), options_(options), faults_(faults), budget_(options.max_nodes) {}

  std::optional<Item> load(const std::string& text) {
    if (text.size() > options_.max_bytes) {
      faults_.add(Code::TooLarge, &source_, 0, 0, "",
                  fmt::format("the file is longer than {} bytes", options_.max_bytes), "",
                  "put long tables into a CSV file");
      return std::nullopt;
    }
    if (const auto bad = bad_character(text)) {
      faults_.add(Code::Syntax, &source_, bad->first, 0, "",
                  fmt::format("character {} of this line is a control character or not UTF-8", bad->second),
                  "UTF-8 text without control characters");
      return std::nullopt;
    }
    try {
      if (const auto second = second_document(text)) {
        const auto [line, column] = place(*second);
        faults_.add(Code::Syntax, &source_, line, column, "", "what begins here does not belong to the document before",
                    "one document in a file");
        return std::nullopt;
      }
      const YAML::Node document = YAML::Load(text);
      if (document.IsNull()) {
        faults_.add(Code::Syntax, &source_, 0, 0, "", "the file is empty", "a map of keys, at least `schema: 1`");
        return std::nullopt;
      }
      Item root = convert(document, 1);
      return too_large_ ? std::nullopt : std::optional<Item>(std::move(root));
    } catch (const YAML::Exception& e) {
      const auto [line, column] = place(e.mark);
      faults_.add(Code::Syntax, &source_, line, column, "", "this is not YAML: " + e.msg, "",
                  "look at brackets, quotes, tabs and indentation of this line and the one before");
    }
    return std::nullopt;
  }

private:
  const Source& source_;
  const ReadOptions& options_;
  Faults& faults_;
  std::size_t budget_;
  bool too_large_ = false;

  /// Marks count bytes from 0, people count characters from 1.
  [[nodiscard]] std::pair<int, int> place(const YAML::Mark& mark) const {
    if (mark.is_null() || mark.line < 0) {
      return {0, 0};
    }
    int column = 1;
    if (static_cast<std::size_t>(mark.line) < source_.lines.size()) {
      const std::string& line = source_.lines[static_cast<std::size_t>(mark.line)];
      const auto end = std::min(line.size(), static_cast<std::size_t>(std::max(mark.column, 0)));
      column +=
          static_cast<int>(std::count_if(line.begin(), line.begin() + static_cast<std::ptrdiff_t>(end),
                                         [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
    }
    return {mark.line + 1, column};
  }

  void give_up(const YAML::Node& node, std::string why) {
    if (!too_large_) {
      const auto [line, column] = place(node.Mark());
      faults_.add(Code::TooLarge, &source_, line, column, "", std::move(why), "",
                  "an alias (*name) counts as often as it is used, and must not contain itself");
    }
    too_large_ = true;
  }

  /// The text of a scalar. An escape such as "\e" can hold what the file itself must not; it would reach the terminal.
  std::string printable(std::string text, int line, int column) {
    if (!bad_character(text) && text.find('\r') == std::string::npos) {
      return text;
    }
    faults_.add(Code::Syntax, &source_, line, column, "", "an escape in this text stands for a control character",
                "text without control characters but line breaks and tabs");
    for (char& c : text) {
      const auto byte = static_cast<unsigned char>(c);
      c = byte < 0x20U || byte > 0x7EU ? '?' : c;
    }
    return text;
  }

  Item convert(const YAML::Node& node, std::size_t depth) {
    Item item;
    item.source = &source_;
    std::tie(item.line, item.column) = place(node.Mark());
    if (too_large_) {
      return item;
    }
    if (depth > options_.max_depth) {
      give_up(node, fmt::format("the nesting is deeper than {} levels", options_.max_depth));
      return item;
    }
    if (budget_ == 0) {
      give_up(node, fmt::format("the file has more than {} values", options_.max_nodes));
      return item;
    }
    --budget_;
    const std::string& tag = node.Tag();
    if (!tag.empty() && tag != "?" && tag != "!") {
      faults_.add(Code::Syntax, item, "", fmt::format("the tag {} is not used here", tag), "plain values");
    }
    switch (node.Type()) {
    case YAML::NodeType::Undefined:
    case YAML::NodeType::Null:
      break;
    case YAML::NodeType::Scalar:
      item.kind = Item::Kind::Scalar;
      item.text = printable(node.Scalar(), item.line, item.column);
      item.quoted = tag == "!";
      break;
    case YAML::NodeType::Sequence:
      item.kind = Item::Kind::List;
      for (const YAML::Node& child : node) {
        item.items.push_back(convert(child, depth + 1));
      }
      break;
    case YAML::NodeType::Map:
      item.kind = Item::Kind::Map;
      for (const auto& pair : node) {
        const auto [line, column] = place(pair.first.Mark());
        if (!pair.first.IsScalar()) {
          faults_.add(Code::WrongType, &source_, line, column, "", "a key that is no word", "a word");
          continue;
        }
        const std::string key = printable(pair.first.Scalar(), line, column);
        if (key == "<<" && pair.first.Tag() != "!") {
          faults_.add(Code::Syntax, &source_, line, column, "", "merge keys (<<) are not read", "each key written out",
                      "a whole value can be reused with &name and *name");
          continue;
        }
        if (const auto twin =
                std::find_if(item.names.begin(), item.names.end(), [&](const Item::Name& n) { return n.text == key; });
            twin != item.names.end()) {
          faults_.add(Code::DuplicateKey, &source_, line, column, "",
                      fmt::format("'{}' is given twice, first in line {}", key, twin->line), "each key once");
          continue;
        }
        item.names.push_back({key, line, column});
        item.items.push_back(convert(pair.second, depth + 1));
        Item& value = item.items.back();
        if (value.kind == Item::Kind::Null) { // YAML gives nothing no place of its own
          value.line = line;
          value.column = column;
        }
      }
      break;
    }
    return item;
  }
};

} // namespace

std::optional<Item> load_yaml(const Source& source, const std::string& text, const ReadOptions& options,
                              Faults& faults) {
  return YamlLoader(source, options, faults).load(text);
}

} // namespace clampfade
