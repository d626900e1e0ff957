// Parts of one study, done apart, put together.
#pragma once

#include "solver/study_result.hpp"

#include <vector>

namespace clampfade {

/// The whole study of which these are all the parts, in any order; each case is taken from the part it belongs to. The
/// result does not depend on how the study was parted. Throws InputError, with every fault found: no part at all, parts
/// of another design, parts of another number of parts, a part twice or missing, a part with cases that wait.
Study merged(std::vector<Study> parts);

} // namespace clampfade
