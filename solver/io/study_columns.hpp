// The datasets of a study along its cases, each declared once: writer and reader both go by these lists. For
// study_file*.cpp only.
#pragma once

#include "solver/study_result.hpp"

#include <array>
#include <cstddef>
#include <variant>
#include <vector>

namespace clampfade::study_columns {

enum class Along { Time, Stud, Mechanism };

/// A dataset along the cases, and the member that it holds.
struct Column {
  const char* name;
  const char* unit;
  const char* long_name;
  std::variant<double StudyCase::*, std::size_t StudyCase::*> member;
  int since_minor = 0; ///< files of an older format 1 do not have it
};
/// A dataset along the cases and one more axis.
struct ListColumn {
  const char* name;
  const char* unit;
  const char* long_name;
  Along along;
  std::vector<double> StudyCase::*member;
};

inline constexpr auto kColumns = std::to_array<Column>({
    {"retorque_gain_end", "N", "cold clamp load won by later acts of the wrench, mean over the studs, at the end",
     &StudyCase::retorque_gain_end},
    {"required_clamp", "N", "clamp load that each stud must keep", &StudyCase::required_clamp},
    {"below_time", "s", "first time at which a stud is below the required clamp; not a number if never",
     &StudyCase::below_time},
    {"below_distance", "m", "distance driven by then", &StudyCase::below_distance},
    {"below_stud", "1", "number of that stud, from 1; 0 if never", &StudyCase::below_stud},
    {"slip_margin_lowest", "1", "friction the joint can hold over the load it carries, lowest of the run",
     &StudyCase::slip_margin_lowest},
    {"utilisation_highest", "1", "reduced stress of a stud over its yield strength, highest of the run",
     &StudyCase::utilisation_highest},
    {"utilisation_tightening", "1", "reduced stress over yield strength under the wrench, of the stud pulled hardest",
     &StudyCase::utilisation_tightening, 1},
    {"proof_share", "1", "highest clamp load that the wrench made, over the proof load", &StudyCase::proof_share, 1},
    {"nuts_loose", "1", "studs that carried no clamp at some time", &StudyCase::nuts_loose},
    {"studs_yielded", "1", "studs that stretched for good after the tightening", &StudyCase::studs_yielded},
    {"parts_outside", "1", "parts that got hotter than the values of their material reach", &StudyCase::parts_outside,
     2},
});

inline const std::array<ListColumn, 5> kListColumns = {{
    {"clamp_cold_lowest", "N", "cold clamp load of the weakest stud", Along::Time, &StudyCase::clamp_cold_lowest},
    {"clamp_cold_mean", "N", "mean cold clamp load of the studs", Along::Time, &StudyCase::clamp_cold_mean},
    {"clamp_cold_first", "N", "cold clamp load as tightened", Along::Stud, &StudyCase::clamp_cold_first},
    {"clamp_cold_end", "N", "cold clamp load at the end", Along::Stud, &StudyCase::clamp_cold_end},
    {"loss_clamp_end", "N", "cold clamp load that a mechanism has cost by the end, mean over the studs",
     Along::Mechanism, &StudyCase::loss_clamp_end},
}};

constexpr const char* axis_of(Along along) {
  return along == Along::Time ? "/time" : along == Along::Stud ? "/stud" : "/mechanism";
}
inline std::size_t length_of(const Study& study, Along along) {
  return along == Along::Time ? study.time.size() : along == Along::Stud ? study.studs.size() : study.mechanisms.size();
}

} // namespace clampfade::study_columns
