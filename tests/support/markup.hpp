// Takes HTML or SVG apart as strictly as XML does, so that a test sees what a forgiving browser would hide.
#pragma once

#include <map>
#include <set>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade::test {

struct MarkupElement {
  std::string name;
  std::map<std::string, std::string> attributes; ///< with entities replaced
  std::string text;                              ///< all text inside, with entities replaced
  std::size_t parent = 0;                        ///< position in the list; its own for the outermost

  [[nodiscard]] std::string get(const std::string& attribute) const {
    const auto found = attributes.find(attribute);
    return found == attributes.end() ? "" : found->second;
  }
  /// Whether it has that class.
  [[nodiscard]] bool is(const std::string& style) const {
    return (" " + get("class") + " ").find(" " + style + " ") != std::string::npos;
  }
  [[nodiscard]] double number(const std::string& attribute) const { return std::stod(get(attribute)); }
};

/// Elements in the order of their start tags. Throws std::runtime_error that names the place for anything that is not
/// well-formed: tags left open or crossed, attributes twice or without quotes, bare & or <, an id used twice.
class Markup {
public:
  explicit Markup(std::string_view text) : text_(text) { parse(); }

  std::vector<MarkupElement> elements;

  [[nodiscard]] std::vector<MarkupElement> all(const std::string& name, const std::string& style = "") const {
    std::vector<MarkupElement> found;
    for (const MarkupElement& e : elements) {
      if (e.name == name && (style.empty() || e.is(style))) {
        found.push_back(e);
      }
    }
    return found;
  }
  [[nodiscard]] const MarkupElement& parent(const MarkupElement& e) const { return elements.at(e.parent); }

private:
  [[noreturn]] void fail(const std::string& what) const {
    throw std::runtime_error(what + " before: " + std::string(text_.substr(at_, 60)));
  }
  [[nodiscard]] bool here(std::string_view word) const { return text_.substr(at_, word.size()) == word; }
  std::string_view until(std::string_view end) {
    const std::size_t to = text_.find(end, at_);
    if (to == std::string_view::npos) {
      fail("no " + std::string(end));
    }
    const std::string_view part = text_.substr(at_, to - at_);
    at_ = to + end.size();
    return part;
  }
  [[nodiscard]] std::string plain(std::string_view raw) const {
    static const std::map<std::string, std::string, std::less<>> entities = {
        {"amp", "&"}, {"lt", "<"}, {"gt", ">"}, {"quot", "\""}, {"#39", "'"}};
    std::string out;
    for (std::size_t i = 0; i < raw.size(); ++i) {
      if (raw[i] == '<') {
        fail("a bare <");
      }
      if (raw[i] != '&') {
        out += raw[i];
        continue;
      }
      const std::size_t end = raw.find(';', i);
      const auto entity = entities.find(raw.substr(i + 1, end == std::string_view::npos ? 0 : end - i - 1));
      if (entity == entities.end()) {
        fail("a bare &");
      }
      out += entity->second;
      i = end;
    }
    return out;
  }
  void add_text(const std::string& words) {
    for (const std::size_t e : open_) {
      elements[e].text += words;
    }
  }
  void tag() {
    MarkupElement e;
    while (at_ < text_.size() && std::string_view(" \n/>").find(text_[at_]) == std::string_view::npos) {
      e.name += text_[at_++];
    }
    while (here(" ") || here("\n")) {
      ++at_;
      if (here("/") || here(">")) {
        break;
      }
      const std::string name(until("=\""));
      if (name.empty() || name.find_first_of(" \"'<>") != std::string::npos) {
        fail("an attribute called " + name);
      }
      const std::string value = plain(until("\""));
      if (!e.attributes.emplace(name, value).second) {
        fail("attribute " + name + " twice");
      }
      if (name == "id" && !ids_.insert(value).second) {
        fail("id " + value + " twice");
      }
    }
    e.parent = open_.empty() ? elements.size() : open_.back();
    elements.push_back(e);
    if (here("/>")) {
      at_ += 2;
      return;
    }
    if (!here(">")) {
      fail("no end of the tag " + e.name);
    }
    ++at_;
    if (e.name == "script" || e.name == "style") {
      elements.back().text = until("</" + e.name + ">");
      return;
    }
    open_.push_back(elements.size() - 1);
  }
  void parse() {
    for (const std::string_view head : {"<?xml", "<!DOCTYPE"}) {
      if (here(head)) {
        until(">");
      }
    }
    while (at_ < text_.size()) {
      const std::size_t next = std::min(text_.find('<', at_), text_.size());
      add_text(plain(text_.substr(at_, next - at_)));
      at_ = next;
      if (at_ == text_.size()) {
        break;
      }
      ++at_;
      if (!here("/")) {
        tag();
        continue;
      }
      ++at_;
      const std::string name(until(">"));
      if (open_.empty() || elements[open_.back()].name != name) {
        fail("</" + name + "> closes " + (open_.empty() ? "nothing" : elements[open_.back()].name));
      }
      open_.pop_back();
    }
    if (!open_.empty()) {
      fail(elements[open_.back()].name + " is left open");
    }
  }

  std::string_view text_;
  std::size_t at_ = 0;
  std::vector<std::size_t> open_;
  std::set<std::string> ids_;
};

} // namespace clampfade::test
