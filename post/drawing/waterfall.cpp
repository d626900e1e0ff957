#include "post/drawing/waterfall.hpp"

#include "post/charts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

namespace {

constexpr double kWidth = 540;
constexpr double kBarsFrom = 160;
constexpr double kBarsTo = 366;
constexpr double kRow = 30;
constexpr double kBar = 18;
constexpr double kTop = 34;

} // namespace

BudgetState budget_at(const Run& run, std::size_t row, bool weakest) {
  const Summary& s = run.summary;
  const std::size_t studs = run.studs();
  const std::size_t n = run.mechanisms.size();
  std::vector<std::size_t> members;
  for (std::size_t stud = 0; stud < studs; ++stud) {
    if (weakest ? stud == s.budget.weakest_stud : !s.stud_lines[stud].removed) {
      members.push_back(stud);
    }
  }
  const auto mean = [&](const auto& of) {
    double sum = 0;
    for (const std::size_t stud : members) {
      sum += of(stud);
    }
    return members.empty() ? 0.0 : sum / static_cast<double>(members.size());
  };
  BudgetState state;
  state.first = mean([&](std::size_t stud) { return run.clamp_cold[stud]; });
  state.left = mean([&](std::size_t stud) { return run.clamp_cold[row * studs + stud]; });
  state.gain = mean([&](std::size_t stud) { return run.retorque_gain[row * studs + stud]; });
  for (std::size_t m = 0; m < n; ++m) {
    const auto at = [&](std::size_t stud) { return (row * studs + stud) * n + m; };
    state.steps.push_back({run.mechanisms[m], mean([&](std::size_t stud) { return run.loss[at(stud)]; }),
                           mean([&](std::size_t stud) { return run.loss_clamp[at(stud)]; })});
  }
  return state;
}

BudgetLayout budget_layout(const Run& run) {
  BudgetLayout layout;
  const std::size_t n = run.mechanisms.size();
  constexpr double seen = 50; // [N], half of the last digit shown
  const std::size_t states = run.rows() * run.studs();
  for (std::size_t m = 0; m < n; ++m) {
    for (std::size_t i = 0; i < states; ++i) {
      if (std::abs(run.loss_clamp[i * n + m]) > seen) {
        layout.shown.push_back(m);
        break;
      }
    }
  }
  for (std::size_t i = 0; i < states && !layout.rest; ++i) {
    double rest = 0;
    for (std::size_t m = 0; m < n; ++m) {
      rest += std::binary_search(layout.shown.begin(), layout.shown.end(), m) ? 0 : run.loss_clamp[i * n + m];
    }
    layout.rest = std::abs(rest) > seen;
  }
  layout.gain = std::any_of(run.retorque_gain.begin(), run.retorque_gain.end(), [](double g) { return g != 0; });
  return layout;
}

std::vector<WaterfallBar> waterfall_bars(const BudgetState& state, const BudgetLayout& layout) {
  std::vector<WaterfallBar> bars = {{"tightened", "first", 0, state.first, 0}};
  double at = state.first;
  double rest = 0;
  double rest_loss = 0;
  for (std::size_t m = 0; m < state.steps.size(); ++m) {
    const BudgetStep& step = state.steps[m];
    if (!std::binary_search(layout.shown.begin(), layout.shown.end(), m)) {
      rest += step.clamp;
      rest_loss += step.loss;
      continue;
    }
    bars.push_back({step.mechanism, "loss", at, at - step.clamp, step.loss});
    at -= step.clamp;
  }
  if (layout.rest) {
    bars.push_back({"all others", "loss", at, at - rest, rest_loss});
    at -= rest;
  }
  if (layout.gain) {
    bars.push_back({"retorque gain", "gain", at, at + state.gain, 0});
  }
  bars.push_back({"left", "left", 0, state.left, 0});
  return bars;
}

std::string waterfall(const std::string& id, const BudgetState& state, const BudgetLayout& layout, double highest,
                      const std::optional<double>& required, const std::string& title, Units units) {
  const double scale = (kBarsTo - kBarsFrom) / (highest > 0 ? highest : 1);
  // What lies beyond the scale is cut at its ends: an open joint pushed apart has less than no clamp.
  const auto x = [&](double force) { return kBarsFrom + std::clamp(force, 0.0, std::max(highest, 1.0)) * scale; };
  const auto number = [&](double si, Kind kind) { return fixed_quantity(si, kind, units.first, "tspan"); };
  const std::vector<WaterfallBar> bars = waterfall_bars(state, layout);
  const double bottom = kTop + kRow * static_cast<double>(bars.size());
  std::string out =
      element("line", {{"class", "axis-line"}, {"x1", kBarsFrom}, {"y1", kTop - 4}, {"x2", kBarsFrom}, {"y2", bottom}});
  for (std::size_t i = 0; i < bars.size(); ++i) {
    const WaterfallBar& bar = bars[i];
    const double y = kTop + kRow * static_cast<double>(i);
    const double from = x(std::min(bar.from, bar.to));
    const double to = x(std::max(bar.from, bar.to));
    std::string row =
        element("text", {{"class", "label name"}, {"x", kBarsFrom - 8}, {"y", y + 14}, {"text-anchor", "end"}},
                escape(mechanism_name(bar.name)));
    row += element(
        "rect",
        {{"class", "bar " + bar.role}, {"x", from}, {"y", y}, {"width", std::max(to - from, 0.5)}, {"height", kBar}});
    if (i + 1 < bars.size()) {
      const double end = x(bar.to);
      row += element("line", {{"class", "connector"}, {"x1", end}, {"y1", y + kBar}, {"x2", end}, {"y2", y + kRow}});
    }
    const bool total = bar.role == "first" || bar.role == "left";
    std::string value = element("tspan", {{"class", "force"}}, number(bar.to - bar.from, Kind::Force));
    if (bar.role == "loss") {
      value += element("tspan", {{"class", "muted thickness"}, {"x", kWidth - 4}}, number(bar.loss, Kind::Thickness));
    }
    row += element(
        "text",
        {{"class", total ? "value total" : "value"}, {"x", kBarsTo + 84}, {"y", y + 14}, {"text-anchor", "end"}},
        value);
    out += element("g", {{"data-role", bar.role}, {"data-mechanism", bar.name}}, row);
  }
  if (required) {
    const double at = x(*required);
    out += element("line", {{"class", "level"}, {"x1", at}, {"y1", kTop - 8}, {"x2", at}, {"y2", bottom - 8}});
    const bool right = at < (kBarsFrom + kBarsTo) / 2;
    out += element("text",
                   {{"class", "level-text"},
                    {"x", right ? at - 4 : at + 4},
                    {"y", kTop - 14},
                    {"text-anchor", right ? "start" : "end"}},
                   "required clamp " + quantity(*required, Kind::Force, units.first, 4, "tspan"));
  }
  return picture("waterfall", id, kWidth, bottom, title,
                 "Bars from the clamp after tightening, less what each mechanism took, to the cold clamp left.", out,
                 {{"data-x0", fmt::format("{}", kBarsFrom)},
                  {"data-highest", fmt::format("{}", highest)},
                  {"data-scale", fmt::format("{}", scale)}});
}

std::string waterfall(const std::string& id, const Run& run, Units units) {
  const Summary& s = run.summary;
  if (run.rows() == 0) {
    return "";
  }
  const BudgetState state = budget_at(run, run.rows() - 1, true);
  double highest = std::max(state.first, s.finding.required_clamp.value_or(0));
  for (std::size_t stud = 0; stud < run.studs(); ++stud) {
    for (std::size_t row = 0; row < run.rows(); ++row) {
      highest = std::max(highest, run.clamp_cold[row * run.studs() + stud]);
    }
  }
  return waterfall(id, state, budget_layout(run), highest, s.finding.required_clamp,
                   "Where the clamp of stud " + s.studs[s.budget.weakest_stud] + " went", units);
}

} // namespace clampfade::post
