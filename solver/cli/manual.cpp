#include "solver/cli/manual.hpp"

#include "solver/diagnostics.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <iterator>
#include <sstream>
#include <vector>

namespace clampfade {

namespace {

/// For troff: nothing that it would take for a request or an escape.
std::string troff(const std::string& text) {
  std::string out;
  bool begins = true;
  for (const char c : text) {
    if (begins && (c == '.' || c == '\'')) {
      out += "\\&";
    }
    out += c == '\\'   ? std::string("\\e")
           : c == '-'  ? std::string("\\-")
           : c == '\'' ? std::string("\\(aq")
                       : std::string(1, c);
    begins = c == '\n';
  }
  return out;
}

std::vector<const CLI::App*> commands(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

/// Options that help lists, in the order declared.
std::vector<const CLI::Option*> options(const CLI::App& app, bool positional) {
  return app.get_options([&](const CLI::Option* o) {
    return (positional && o->get_positional() && !o->nonpositional()) ||
           (!positional && o->nonpositional() && !o->get_group().empty());
  });
}

/// "-o,--output" as "-o", "--output".
std::vector<std::string> names(const CLI::Option& option) {
  std::vector<std::string> out;
  for (const std::string& n : option.get_snames()) {
    out.push_back("-" + n);
  }
  for (const std::string& n : option.get_lnames()) {
    out.push_back("--" + n);
  }
  return out;
}

/// What stands behind an option: "si|us", "N", "TEXT".
std::string value_of(const CLI::Option& option) {
  if (!option.get_option_text().empty()) {
    return option.get_option_text();
  }
  const std::string type = option.get_type_name();
  return type.substr(0, type.find(':')); // what is allowed behind the colon stands in the description
}

void describe_options(const CLI::App& app, std::string& out) {
  for (const bool positional : {true, false}) {
    for (const CLI::Option* o : options(app, positional)) {
      out += ".TP\n";
      if (positional) {
        out += "\\fI" + troff(o->get_name(true)) + "\\fR\n";
      } else {
        std::string all;
        for (const std::string& n : names(*o)) {
          all += (all.empty() ? "\\fB" : ", \\fB") + troff(n) + "\\fR";
        }
        const std::string value = value_of(*o);
        out += all + (value.empty() ? "" : " \\fI" + troff(value) + "\\fR") + "\n";
      }
      out += troff(o->get_description()) + "\n";
    }
  }
}

void describe_text(const std::string& text, std::string& out) {
  if (!text.empty()) {
    out += ".PP\n.nf\n" + troff(text) + "\n.fi\n";
  }
}

void describe_commands(const CLI::App& app, const std::string& before, std::string& out) {
  for (const CLI::App* c : commands(app)) {
    const std::string name = before + " " + c->get_name();
    out += ".SS " + troff(name) + "\n" + troff(c->get_description()) + "\n";
    describe_options(*c, out);
    if (c->get_footer() != app.get_footer()) { // which is handed down
      describe_text(c->get_footer(), out);
    }
    describe_commands(*c, name, out);
  }
}

/// The words of "si|us"; none where it is something else.
std::string choices(const std::string& value) {
  const bool listed =
      value.find('|') != std::string::npos && std::all_of(value.begin(), value.end(), [](unsigned char c) {
        return std::islower(c) != 0 || std::isdigit(c) != 0 || c == '|' || c == '-';
      });
  std::string out = listed ? value : "";
  std::replace(out.begin(), out.end(), '|', ' ');
  return out;
}

struct Completion {
  std::string paths; ///< patterns of all commands, and of commands within commands
  std::string words; ///< cases: what may stand next
  std::string values;
};

void complete(const CLI::App& app, const std::string& path, Completion& out) {
  std::string next;
  for (const CLI::App* c : commands(app)) {
    next += c->get_name() + " ";
  }
  std::string flags;
  for (const CLI::Option* o : options(app, false)) {
    for (const std::string& n : names(*o)) {
      flags += n + " ";
      const std::string words = choices(value_of(*o));
      if (!words.empty()) {
        out.values += fmt::format("    '{}{}{}') words='{}' ;;\n", path, path.empty() ? "" : " ", n, words);
      }
    }
  }
  out.words += fmt::format("    '{}') commands='{}' options='{}' ;;\n", path, next, flags);
  for (const CLI::App* c : commands(app)) {
    const std::string name = path.empty() ? c->get_name() : path + " " + c->get_name();
    out.paths += (out.paths.empty() ? "'" : "|'") + name + "'";
    complete(*c, name, out);
  }
}

} // namespace

std::string man_page(const CLI::App& app, const std::string& version) {
  const std::string name = app.get_name();
  std::string out = fmt::format(".TH {} 1 \"\" \"clampfade {}\" \"User commands\"\n", troff(name), version);
  // What whatis(1) shows: no sentence.
  std::string about = app.get_description();
  about.front() = static_cast<char>(std::tolower(static_cast<unsigned char>(about.front())));
  about.erase(about.find_last_not_of('.') + 1);
  out += ".SH NAME\n" + troff(name) + " \\- " + troff(about) + "\n";
  out += ".SH SYNOPSIS\n";
  for (const CLI::App* c : commands(app)) {
    out += ".br\n\\fB" + troff(name) + " " + troff(c->get_name()) + "\\fR [\\fIoptions\\fR]";
    for (const CLI::Option* o : options(*c, true)) {
      out += " \\fI" + troff(o->get_name(true)) + "\\fR";
    }
    out += "\n";
  }
  out += ".SH OPTIONS\n";
  describe_options(app, out);
  out += ".SH COMMANDS\n";
  describe_commands(app, name, out);
  out += ".SH EXAMPLES AND EXIT CODES\n";
  describe_text(app.get_footer(), out);
  out += ".SH CAUTIONS\n";
  for (const std::string_view caution : cautions()) {
    out += ".PP\n" + troff(std::string(caution)) + "\n";
  }
  out += ".SH SEE ALSO\n" +
         std::string(name == "clampfade" ? "\\fBclampfade\\-report\\fR(1)" : "\\fBclampfade\\fR(1)") + "\n";
  return out;
}

std::string bash_completion(const CLI::App& app) {
  Completion c;
  complete(app, "", c);
  std::string function = "_" + app.get_name();
  std::replace(function.begin(), function.end(), '-', '_');
  return fmt::format(R"(# Completion of {0} for bash; written by {0} --bash-completion.
{1}() {{
  local current=${{COMP_WORDS[COMP_CWORD]}} previous=${{COMP_WORDS[COMP_CWORD - 1]}} path='' word words='' commands='' options=''
  for word in "${{COMP_WORDS[@]:1:COMP_CWORD-1}}"; do
    case "${{path:+$path }}$word" in
    {2}) path="${{path:+$path }}$word" ;;
    esac
  done
  case "$path" in
{3}  esac
  case "${{path:+$path }}$previous" in
{4}  esac
  if [[ -n $words ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$current")
  elif [[ $current == -* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$options" -- "$current")
  elif [[ -n $commands ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$commands" -- "$current")
  fi
}}
complete -o default -F {1} {0}
)",
                     app.get_name(), function, c.paths, c.words, c.values);
}

void add_manual(CLI::App& app, const std::string& version) {
  const auto prints = [&app](const char* flag, auto text) {
    app.add_flag_callback(flag,
                          [text] {
                            fmt::print("{}", text());
                            throw CLI::Success();
                          })
        ->group("")
        ->trigger_on_parse();
  };
  prints("--man-page", [&app, version] { return man_page(app, version); });
  prints("--bash-completion", [&app] { return bash_completion(app); });
}

} // namespace clampfade
