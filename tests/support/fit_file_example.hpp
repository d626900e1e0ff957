// A fit by hand: two data sets, three values, one of them at its bound, one outlier, one check-torque reading.
#pragma once

#include "solver/fit_result.hpp"

#include <string>

namespace clampfade::test {

inline FitResult fit_file_example() {
  FitResult f;
  f.parameters = {
      {"catalogue/coatings/paint/compaction_cold", "compaction_cold", "paint compaction cold", "1", 0.005, 0.2, 0.05,
       true, false},
      {"catalogue/coatings/paint/glass_transition", "glass_transition", "paint glass transition", "K", 313.15, 343.15,
       330, false, false},
      {"joint/interfaces/default/embedding", "embedding", "default embedding", "m", 1e-6, 8e-6, 3e-6, false, false}};
  f.values.resize(3);
  f.values[0] = {0.0695,        0.0551, 0.0876, 0.0082, 0.032, false, false, {0.04, 0.0695, 0.11},
                 {6.5, 0, 5.5}, 0.0545, 0.089};
  f.values[1] = {331.05, 324.0, 338.1, 3.6, 0.12, false, false, {320, 331.05}, {5, 0}, 323.5, 343.15};
  f.values[2] = {8e-6, 5e-6, 8e-6, 1.5e-6, 0.21, false, true, {}, {}, kFitUnknown, kFitUnknown};
  f.correlation = {1, 0.65, -0.2, 0.65, 1, 0.1, -0.2, 0.1, 1};
  f.sets = {{"Invented coupon, cold", "cold.yaml", "schema: 1\n", "cold.csv", std::string(64, 'a'), {0, 3600, 86400}},
            {"Invented coupon, warm", "warm.yaml", "schema: 1\n", "warm.csv", std::string(64, 'b'), {0, 86400}}};
  f.readings = {{0, 0, FitQuantity::Clamp, -1, "", 0, 183e3, 300, ""},
                {0, 3600, FitQuantity::Clamp, -1, "", 0, 176e3, 300, "after the wrench slipped"},
                {0, 86400, FitQuantity::CheckTorque, 1, "", 0, 640, kFitUnknown, ""},
                {1, 86400, FitQuantity::Temperature, -1, "joint", 0, 342, kFitUnknown, ""},
                {1, 86400, FitQuantity::Clamp, -1, "", 0, 169e3, 300, ""}};
  f.residuals = {{183.2e3, 300, -2.0 / 3, 1, kFitUnknown, kFitUnknown},
                 {178.9e3, 300, -29.0 / 3, 0.14, kFitUnknown, kFitUnknown},
                 {655, 12, -1.25, 1, 161e3, 16e3},
                 {343, 0.8, -1.25, 1, kFitUnknown, kFitUnknown},
                 {169.1e3, 300, -1.0 / 3, 1, kFitUnknown, kFitUnknown}};
  f.curves = {{0, FitQuantity::Clamp, -1, "", {183.2e3, 178.9e3, 177e3}},
              {0, FitQuantity::CheckTorque, 1, "", {700, 670, 655}},
              {1, FitQuantity::Clamp, -1, "", {183.2e3, 169.1e3}},
              {1, FitQuantity::Temperature, -1, "joint", {293.15, 343}}};
  f.starts = {{{0.05, 330, 3e-6}, {0.0695, 331.05, 8e-6}, 48.9, "converged"},
              {{0.1, 320, 2e-6}, {0.1, 320, 2e-6}, kFitUnknown, "no run"}};
  f.best = 0;
  f.loss = FitLoss::Huber;
  f.seed = 7;
  f.chi_square = 97.2;
  f.freedom = 2;
  f.widened = 1.5;
  f.t_quantile = 4.303;
  f.found_error.fill(kFitUnknown);
  f.found_error[4] = 0.8;
  f.found_error[5] = 12;
  f.runs = 321;
  f.failed_runs = 2;
  f.warnings = {"default embedding is at its upper bound: an invented warning"};
  f.block = "# Fitted; an estimate.\ncatalogue:\n  coatings:\n    paint:\n      compaction_cold: 0.0695\n      source: "
            "\"x <y>\"\n"
            "      provenance: fitted\n";
  return f;
}

} // namespace clampfade::test
