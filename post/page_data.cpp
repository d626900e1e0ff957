#include "post/page_data.hpp"

#include "post/drawing/waterfall.hpp"

#include "models/units.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>

namespace clampfade::post {

namespace {

using Json = nlohmann::ordered_json;

Json number_json(double value, int digits = 5) {
  // JSON knows neither infinity nor not-a-number.
  return std::isfinite(value) ? Json(std::strtod(fmt::format("{:.{}g}", value, digits).c_str(), nullptr))
                              : Json(nullptr);
}

Json list(const std::vector<double>& values, int digits = 5) {
  Json out = Json::array();
  for (const double v : values) {
    out.push_back(number_json(v, digits));
  }
  return out;
}

/// Instants and places need more digits than results: a year in seconds, to the second.
constexpr int kTimeDigits = 9;
/// A clamp is shown to the tenth of a kN as the last digit of a rounded number: one more keeps it from being rounded
/// twice.
constexpr int kForceDigits = 7;

std::string dump(const Json& json) {
  // Bytes that are no UTF-8 must not cost the user the whole page.
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Json budget(const Run& run, const std::vector<std::size_t>& rows, const BudgetLayout& layout, bool weakest) {
  Json out = {{"force", Json::array()}, {"loss", Json::array()}, {"gain", Json::array()}, {"left", Json::array()}};
  std::vector<std::vector<double>> force(layout.shown.size() + (layout.rest ? 1 : 0)), loss(force.size());
  std::vector<double> gain, left;
  double first = 0;
  for (const std::size_t row : rows) {
    const BudgetState state = budget_at(run, row, weakest);
    std::size_t bar_of_loss = 0;
    for (const WaterfallBar& bar : waterfall_bars(state, layout)) {
      if (bar.role == "loss") {
        force[bar_of_loss].push_back(bar.from - bar.to);
        loss[bar_of_loss++].push_back(bar.loss);
      }
    }
    first = state.first;
    gain.push_back(state.gain);
    left.push_back(state.left);
  }
  for (std::size_t i = 0; i < force.size(); ++i) {
    out["force"].push_back(list(force[i], kForceDigits));
    out["loss"].push_back(list(loss[i], 4));
  }
  out["first"] = number_json(first, kForceDigits);
  out["gain"] = list(gain, kForceDigits);
  out["left"] = list(left, kForceDigits);
  return out;
}

} // namespace

std::string units_json() {
  Json out;
  for (const Kind kind : {Kind::Force, Kind::Torque, Kind::Temperature, Kind::Distance, Kind::Thickness, Kind::Length,
                          Kind::Stress, Kind::Resilience, Kind::Power, Kind::Duration, Kind::Number}) {
    for (const System system : {System::Si, System::Us}) {
      const double offset = convert(0, kind, system);
      // The difference over a large step keeps the digits that an offset would cost.
      constexpr double step = 1e6;
      out[std::string(kind_name(kind))][system == System::Si ? "si" : "us"] = {
          {"unit", unit(kind, system)},
          {"scale", (convert(step, kind, system) - offset) / step},
          {"offset", offset},
          {"decimals", decimals(kind, system)}};
    }
  }
  return dump(out);
}

std::string chart_json(const Chart& chart) {
  Json out = {{"title", chart.title},        {"y", {{"name", chart.y_name}, {"kind", kind_name(chart.y_kind)}}},
              {"fromZero", chart.from_zero}, {"ofADay", chart.of_a_day},
              {"stairs", chart.stairs},      {"choose", chart.choose}};
  const auto [low, high] = y_range(chart);
  out["range"] = {number_json(low), number_json(high)};
  out["levels"] = Json::array();
  for (const ChartLevel& level : chart.levels) {
    out["levels"].push_back({{"name", level.name}, {"y", level.y}, {"digits", level.digits}});
  }
  out["marks"] = Json::array();
  for (const ChartMark& mark : chart.marks) {
    out["marks"].push_back({{"t", number_json(mark.time, kTimeDigits)},
                            {"d", number_json(mark.distance, kTimeDigits)},
                            {"text", mark.text}});
  }
  out["variants"] = Json::array();
  for (const ChartVariant& variant : chart.variants) {
    Json v = {{"name", variant.name}, {"axes", Json::array()}, {"lines", Json::array()}};
    for (const ChartAxis& axis : variant.axes) {
      v["axes"].push_back({{"t", list(axis.time, kTimeDigits)}, {"d", list(axis.distance, kTimeDigits)}});
    }
    for (const ChartLine& line : variant.lines) {
      v["lines"].push_back({{"name", line.name},
                            {"label", line.label},
                            {"axis", line.axis},
                            {"colour", line.colour},
                            {"dash", line.dash},
                            {"faint", line.faint},
                            {"y", list(line.y)}});
    }
    out["variants"].push_back(std::move(v));
  }
  return dump(out);
}

std::string moments_json(const Run& run) {
  constexpr std::size_t most = 200;
  const std::vector<std::size_t> rows = choose_moments(run, most);
  const BudgetLayout layout = budget_layout(run);
  Json out = {{"t", list(pick(run.time, 1, 0, rows), kTimeDigits)},
              {"d", list(pick(run.distance, 1, 0, rows), kTimeDigits)}};
  out["clamp"] = Json::array();
  for (std::size_t stud = 0; stud < run.studs(); ++stud) {
    out["clamp"].push_back(list(pick(run.clamp_cold, run.studs(), stud, rows), kForceDigits));
  }
  out["off"] = Json::array(); // when each nut was taken off [s]
  for (std::size_t stud = 0; stud < run.studs(); ++stud) {
    Json when = nullptr;
    for (const EventRow& event : run.summary.events) {
      if (event.kind == "nut removed" && event.stud == static_cast<int>(stud)) {
        when = number_json(event.time, kTimeDigits);
      }
    }
    out["off"].push_back(std::move(when));
  }
  out["temperature"] = Json::array();
  for (std::size_t node = 0; node < run.nodes.size(); ++node) {
    out["temperature"].push_back(list(pick(run.temperature, run.nodes.size(), node, rows)));
  }
  out["layer"] = Json::array();
  const std::size_t stud = run.summary.budget.weakest_stud;
  for (std::size_t layer = 0; !run.layer_thickness.empty() && layer < run.layers.size(); ++layer) {
    out["layer"].push_back(
        list(pick(run.layer_thickness, run.studs() * run.layers.size(), stud * run.layers.size() + layer, rows)));
  }
  out["weakest"] = budget(run, rows, layout, true);
  out["mean"] = budget(run, rows, layout, false);
  return dump(out);
}

std::string for_script(const std::string& json) {
  std::string out;
  out.reserve(json.size());
  for (const char c : json) {
    // The same character to a reader of JSON; none of HTML's.
    if (c == '<') {
      out += "\\u003c";
    } else {
      out += c;
    }
  }
  return out;
}

std::string moment_text(double time, double distance, System system) {
  const std::string far = show(distance, Kind::Distance, system, 4);
  if (time <= 0) {
    return "right after tightening, " + far;
  }
  if (time < 2 * units::kMinute) {
    return duration(time) + " after tightening, " + far;
  }
  const double minutes = std::round(time / units::kMinute);
  const auto days = static_cast<long>(minutes / (24 * 60));
  const auto hours = static_cast<long>(minutes / 60) % 24;
  const auto rest = static_cast<long>(minutes) % 60;
  const std::string day_text = days == 0 ? "" : fmt::format("{} {}", days, days == 1 ? "day" : "days");
  const std::string hour_text = fmt::format("{}:{:02} h", hours, rest);
  return (days == 0 ? hour_text : day_text + " and " + hour_text) + " after tightening, " + far;
}

} // namespace clampfade::post
