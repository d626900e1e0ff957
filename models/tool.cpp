#include "models/tool.hpp"

#include <array>

namespace clampfade {

std::span<const Field<Tool>> Tool::fields() {
  static const std::array<Field<Tool>, 2> list = {
      {{{"tightening_factor", "1", Quantity::Number, {1, 20}, {1, 4}, "tightening factor alpha_A of VDI 2230-1"},
        &Tool::tightening_factor,
        {}},
       {{"deviations",
         "1",
         Quantity::Number,
         {0.5, 6},
         {1, 3},
         "standard deviations from the mean to each end of the range that the factor tells of"},
        &Tool::deviations,
        2.0}}};
  return list;
}

} // namespace clampfade
