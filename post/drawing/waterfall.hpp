// The loss budget as a waterfall: from the clamp after tightening to what is left, what took how much.
#pragma once

#include "post/run.hpp"
#include "post/svg.hpp"

#include <string>
#include <vector>

namespace clampfade::post {

/// One mechanism, or none.
struct BudgetStep {
  std::string mechanism; ///< as in the history
  double loss = 0;       ///< seating loss [m]
  double clamp = 0;      ///< cold clamp that it cost [N]
};

/// The budget of one stud, or of the mean over studs that keep their nuts, at one record.
struct BudgetState {
  double first = 0; ///< cold clamp after tightening [N]
  std::vector<BudgetStep> steps;
  double gain = 0; ///< won by retorques [N]
  double left = 0; ///< cold clamp [N]
};

/// Budget at a row, of the weakest stud or of the mean; in the order of run.mechanisms.
BudgetState budget_at(const Run& run, std::size_t row, bool weakest);

/// The bars of a run's waterfall, the same at every record, of every stud and of the mean.
struct BudgetLayout {
  std::vector<std::size_t> shown; ///< mechanisms that ever take enough to be seen, as positions on run.mechanisms
  bool rest = false;              ///< all others together ever take enough
  bool gain = false;              ///< there is a retorque
};
BudgetLayout budget_layout(const Run& run);

/// Where the parts of a waterfall's bars are, in N; a bar goes from `from` to `to`.
struct WaterfallBar {
  std::string name;
  std::string role; ///< "first", "loss", "gain", "left"
  double from = 0, to = 0;
  double loss = 0; ///< [m], of losses
};
/// First, losses, gain and what is left. The last loss or the gain ends where the last bar does, to within what the
/// layout leaves out.
std::vector<WaterfallBar> waterfall_bars(const BudgetState& state, const BudgetLayout& layout);

/// As <svg>; `highest` is the end of the scale [N]. Script finds each bar by its data-role, and scale and origin in
/// data-x0 and data-scale (drawing units per N).
std::string waterfall(const std::string& id, const BudgetState& state, const BudgetLayout& layout, double highest,
                      const std::optional<double>& required, const std::string& title, Units units);

/// The same at the last record, for the weakest stud.
std::string waterfall(const std::string& id, const Run& run, Units units);

} // namespace clampfade::post
