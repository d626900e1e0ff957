// Which input the spread comes from: a bar for each, the largest at the top, with the doubt about it.
#pragma once

#include "post/statistics.hpp"
#include "post/svg.hpp"

#include <string>
#include <vector>

namespace clampfade::post {

struct ShareBar {
  std::string name;
  InputShares shares;
};

/// As <svg> of class "chart bars": shares of the variance in per cent; where there are totals they stand under the
/// first order. `title` and `note` are for readers of the screen.
std::string share_bars(const std::string& id, const std::string& title, const std::string& note,
                       const std::vector<ShareBar>& bars, double width = 720);

} // namespace clampfade::post
