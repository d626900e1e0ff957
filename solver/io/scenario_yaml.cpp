#include "solver/io/scenario_yaml.hpp"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <map>
#include <sstream>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

/// Thrown through the library to end its work; what is wrong has been noted.
struct GiveUp {};

/// Where a document begins is told, and no more of it is read.
class DocumentStart final : public YAML::EventHandler {
public:
  YAML::Mark mark = YAML::Mark::null_mark();
  void OnDocumentStart(const YAML::Mark& at) override {
    mark = at;
    throw GiveUp();
  }
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

/// Makes items of the library's events, so that depth and number are limited while the text is read. The library's own
/// tree takes half a kilobyte a value, an endless one of a stray comma, before anybody could count.
class ItemBuilder final : public YAML::EventHandler {
public:
  ItemBuilder(const Source& source, const ReadOptions& options, Faults& faults)
      : source_(source), options_(options), faults_(faults), budget_(options.max_nodes) {}

  /// What the document held; null where it held nothing.
  Item root;

  void OnDocumentStart(const YAML::Mark& /*at*/) override {}
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& at, YAML::anchor_t anchor) override { end(begin(Item::Kind::Null, at, "", anchor)); }
  void OnScalar(const YAML::Mark& at, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    Open scalar = begin(Item::Kind::Scalar, at, tag, anchor);
    last_ = tag == "!" ? std::optional(at) : std::nullopt;
    scalar.item.text = printable(value, scalar.item.line, scalar.item.column);
    scalar.item.quoted = tag == "!";
    end(std::move(scalar));
  }
  void OnAlias(const YAML::Mark& at, YAML::anchor_t anchor) override {
    const auto known = anchors_.find(anchor);
    if (known == anchors_.end()) {
      give_up(at, "an alias within what it stands for");
    }
    spend(at, known->second.size, known->second.height);
    Open copy = known->second;
    copy.anchor = 0;
    end(std::move(copy));
  }
  void OnSequenceStart(const YAML::Mark& at, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value /*style*/) override {
    open_.push_back(begin(Item::Kind::List, at, tag, anchor));
  }
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& at, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value /*style*/) override {
    open_.push_back(begin(Item::Kind::Map, at, tag, anchor));
  }
  void OnMapEnd() override { close(); }

  /// Where the last text in quotes begins, if its quote is never closed. The library takes the end of the file for the
  /// quote, so that a file cut short would be believed.
  [[nodiscard]] std::optional<YAML::Mark> open_quote() const {
    if (!last_ || last_->line < 0 || static_cast<std::size_t>(last_->line) >= source_.lines()) {
      return std::nullopt;
    }
    const std::string& text = source_.text;
    std::size_t at =
        source_.starts[static_cast<std::size_t>(last_->line)] + static_cast<std::size_t>(std::max(last_->column, 0));
    while (at < text.size() && (text[at] == '&' || text[at] == '!')) { // an anchor or tag before it
      at = text.find_first_not_of(" \n\t", text.find_first_of(" \n\t", at));
    }
    if (at >= text.size() || (text[at] != '"' && text[at] != '\'')) {
      return std::nullopt;
    }
    const char quote = text[at];
    for (++at; at < text.size(); ++at) {
      if (quote == '"' && text[at] == '\\') {
        ++at;
      } else if (text[at] == quote) {
        if (quote == '"' || at + 1 == text.size() || text[at + 1] != quote) {
          return std::nullopt;
        }
        ++at; // a doubled one stands for itself
      }
    }
    return last_;
  }

  /// Marks count bytes from 0, people count characters from 1.
  [[nodiscard]] std::pair<int, int> place(const YAML::Mark& mark) {
    if (mark.is_null() || mark.line < 0) {
      return {0, 0};
    }
    if (static_cast<std::size_t>(mark.line) >= source_.lines()) {
      return {mark.line + 1, 1};
    }
    const std::string_view line = source_.line(static_cast<std::size_t>(mark.line));
    const auto end = std::min(line.size(), static_cast<std::size_t>(std::max(mark.column, 0)));
    // Places come in order, so that a long line is walked once and not once for each of its values.
    if (mark.line != counted_line_ || end < counted_bytes_) {
      counted_line_ = mark.line;
      counted_bytes_ = 0;
      counted_ = 0;
    }
    counted_ += static_cast<int>(std::count_if(
        line.begin() + static_cast<std::ptrdiff_t>(counted_bytes_), line.begin() + static_cast<std::ptrdiff_t>(end),
        [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
    counted_bytes_ = end;
    return {mark.line + 1, counted_ + 1};
  }

private:
  /// A value that is being read, or has been and may be meant by an alias.
  struct Open {
    Item item;
    YAML::anchor_t anchor = 0;
    std::size_t size = 1;                                  ///< values in it, itself among them
    std::size_t height = 1;                                ///< levels
    std::optional<Item> key;                               ///< of a map, whose value is due
    std::map<std::string, int, std::less<>> lines_of_keys; ///< of a map
  };

  const Source& source_;
  const ReadOptions& options_;
  Faults& faults_;
  std::size_t budget_;
  std::vector<Open> open_;
  std::map<YAML::anchor_t, Open> anchors_;
  std::optional<YAML::Mark> last_; ///< of the last scalar, if it was quoted
  int counted_line_ = -1;          ///< and how far into it
  std::size_t counted_bytes_ = 0;
  int counted_ = 0; ///< characters up to there

  [[noreturn]] void give_up(const YAML::Mark& at, std::string why) {
    const auto [line, column] = place(at);
    faults_.add(Code::TooLarge, &source_, line, column, "", std::move(why), "",
                "an alias (*name) counts as often as it is used, and must not contain itself");
    throw GiveUp();
  }

  void spend(const YAML::Mark& at, std::size_t size, std::size_t height) {
    if (open_.size() + height > options_.max_depth) {
      give_up(at, fmt::format("the nesting is deeper than {} levels", options_.max_depth));
    }
    if (size > budget_) {
      give_up(at, fmt::format("the file has more than {} values", options_.max_nodes));
    }
    budget_ -= size;
  }

  Open begin(Item::Kind kind, const YAML::Mark& at, const std::string& tag, YAML::anchor_t anchor) {
    // What has an anchor is kept a second time, and counts for that.
    spend(at, anchor == 0 ? 1 : 2, 1);
    Open value;
    value.item.kind = kind;
    value.item.source = &source_;
    std::tie(value.item.line, value.item.column) = place(at);
    value.anchor = anchor;
    if (!tag.empty() && tag != "?" && tag != "!") {
      faults_.add(Code::Syntax, value.item, "", fmt::format("the tag {} is not used here", tag), "plain values");
    }
    return value;
  }

  void close() {
    Open value = std::move(open_.back());
    open_.pop_back();
    if (value.anchor != 0) {
      if (value.size - 1 > budget_) {
        give_up(YAML::Mark::null_mark(), fmt::format("the file has more than {} values", options_.max_nodes));
      }
      budget_ -= value.size - 1;
    }
    end(std::move(value));
  }

  /// A value is whole: it goes where it belongs.
  void end(Open value) {
    if (value.anchor != 0) {
      anchors_.insert_or_assign(value.anchor, value);
    }
    if (open_.empty()) {
      root = std::move(value.item);
      return;
    }
    Open& parent = open_.back();
    parent.size += value.size;
    parent.height = std::max(parent.height, value.height + 1);
    if (parent.item.list()) {
      parent.item.items.push_back(std::move(value.item));
    } else if (!parent.key) {
      parent.key = std::move(value.item);
    } else {
      const Item key = *std::move(parent.key);
      parent.key.reset();
      put(parent, key, std::move(value.item));
    }
  }

  void put(Open& map, const Item& key, Item value) {
    if (!key.scalar()) {
      faults_.add(Code::WrongType, &source_, key.line, key.column, "", "a key that is no word", "a word");
      return;
    }
    if (key.text == "<<" && !key.quoted) {
      faults_.add(Code::Syntax, &source_, key.line, key.column, "", "merge keys (<<) are not read",
                  "each key written out", "a whole value can be reused with &name and *name");
      return;
    }
    if (const auto [twin, first] = map.lines_of_keys.emplace(key.text, key.line); !first) {
      faults_.add(Code::DuplicateKey, &source_, key.line, key.column, "",
                  fmt::format("'{}' is given twice, first in line {}", key.text, twin->second), "each key once");
      return;
    }
    if (value.kind == Item::Kind::Null) { // YAML gives nothing no place of its own
      value.line = key.line;
      value.column = key.column;
    }
    map.item.names.push_back({key.text, key.line, key.column});
    map.item.items.push_back(std::move(value));
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
};

/// The first line with more brackets, braces and commas than the file may have values. On such a line the library keeps
/// a quarter of a kilobyte for each of them before it tells of the first.
std::optional<int> crowded_line(const Source& source, std::size_t most) {
  for (std::size_t i = 0; i < source.lines(); ++i) {
    const std::string_view line = source.line(i);
    if (line.size() > most && static_cast<std::size_t>(std::count_if(line.begin(), line.end(), [](char c) {
                                return c == '[' || c == ']' || c == '{' || c == '}' || c == ',';
                              })) > most) {
      return static_cast<int>(i) + 1;
    }
  }
  return std::nullopt;
}

} // namespace

std::optional<Item> load_yaml(const Source& source, const std::string& text, const ReadOptions& options,
                              Faults& faults) {
  if (text.size() > options.max_bytes) {
    faults.add(Code::TooLarge, &source, 0, 0, "", fmt::format("the file is longer than {} bytes", options.max_bytes),
               "", "put long tables into a CSV file");
    return std::nullopt;
  }
  if (const auto bad = bad_character(text)) {
    faults.add(Code::Syntax, &source, bad->first, 0, "",
               fmt::format("character {} of this line is a control character or not UTF-8", bad->second),
               "UTF-8 text without control characters");
    return std::nullopt;
  }
  if (const auto line = crowded_line(source, options.max_nodes)) {
    faults.add(Code::TooLarge, &source, *line, 0, "",
               fmt::format("this line has more than {} brackets and commas", options.max_nodes), "",
               "put long tables into a CSV file");
    return std::nullopt;
  }
  ItemBuilder builder(source, options, faults);
  try {
    std::istringstream stream(text);
    YAML::Parser parser(stream);
    // Not all documents at once: the library never ends where a stray comma follows the first.
    const bool first = parser.HandleNextDocument(builder);
    DocumentStart second;
    try {
      if (first) {
        (void)parser.HandleNextDocument(second);
      }
    } catch (const GiveUp&) {
      const auto [line, column] = builder.place(second.mark);
      faults.add(Code::Syntax, &source, line, column, "", "what begins here does not belong to the document before",
                 "one document in a file");
      return std::nullopt;
    }
    if (const auto open = builder.open_quote()) {
      const auto [line, column] = builder.place(*open);
      faults.add(Code::Syntax, &source, line, column, "", "the quote that begins here is not closed");
      return std::nullopt;
    }
    if (builder.root.kind != Item::Kind::Null) {
      return std::move(builder.root);
    }
    faults.add(Code::Syntax, &source, 0, 0, "", "the file is empty", "a map of keys, at least `schema: 1`");
  } catch (const GiveUp&) {
    return std::nullopt;
  } catch (const YAML::Exception& e) {
    const auto [line, column] = builder.place(e.mark);
    faults.add(Code::Syntax, &source, line, column, "", "this is not YAML: " + e.msg, "",
               "look at brackets, quotes, tabs and indentation of this line and the one before");
  }
  return std::nullopt;
}

} // namespace clampfade
