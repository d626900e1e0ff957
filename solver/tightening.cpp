#include "solver/tightening.hpp"

#include "solver/span_system.hpp"

#include <algorithm>
#include <functional>

namespace clampfade {

bool apply_wrench(Wheel& wheel, State& x, std::size_t c, double torque, const Table& breakaway, double age,
                  std::span<const double> nodes) {
  const NutThread& nut = wheel.joint().nut();
  const double mu_t = wheel.thread_friction(c);
  const double mu_b = wheel.bearing_friction(c);
  const double now = wheel.nut_on(x, c) ? wheel.clamp(x, c) : 0;
  const double target = nut.clamp(torque, mu_t, mu_b);
  if (target <= now || (now > 0 && torque <= nut.torque_to_move(now, mu_t, mu_b, breakaway(age)))) {
    return false;
  }
  wheel.tighten(x, c, target, nut.torsion_factor(target, mu_t, mu_b), nodes);
  return true;
}

double first_step(const Wheel& wheel, std::span<const double> nodes, double cycle_rate) {
  const double fastest = wheel.fastest_rate(nodes, cycle_rate);
  return fastest > 0 ? std::min(1.0, 0.05 / fastest) : 1.0;
}

std::vector<ActRow> tighten_wheel(Wheel& wheel, const TighteningSpec& spec, std::span<const double> nodes,
                                  double tolerance, State& x, std::vector<double>& moved_at) {
  // Columns in the order in which the wrench first comes to one of their studs.
  std::vector<std::size_t> order;
  for (const std::size_t stud : spec.order) {
    const auto& studs = wheel.studs();
    const auto found = std::find(studs.begin(), studs.end(), stud);
    if (found != studs.end()) {
      order.push_back(static_cast<std::size_t>(found - studs.begin()));
    }
  }
  const double acts = static_cast<double>(order.size() * spec.passes.size());
  double time = -(acts - 1) * spec.pause;
  moved_at.assign(wheel.columns(), time);
  std::vector<ActRow> rows;
  const auto steady = [&](double, std::vector<double>& t) { t.assign(nodes.begin(), nodes.end()); };
  for (std::size_t pass = 0; pass < spec.passes.size(); ++pass) {
    for (const std::size_t c : order) {
      if (!rows.empty() && spec.pause > 0) {
        SpanSystem system(wheel, Roads{}, steady, tolerance);
        SettlingStepper stepper;
        double step = first_step(wheel, nodes, 0);
        system.run(stepper, x, 0, spec.pause, step);
        time += spec.pause;
      }
      const std::size_t stud = wheel.studs()[c];
      const double torque = spec.passes[pass] * spec.torque[stud];
      const bool moved = apply_wrench(wheel, x, c, torque, spec.breakaway, time - moved_at[c], nodes);
      if (moved) {
        moved_at[c] = time;
      }
      rows.push_back({time, pass + 1, stud, torque, wheel.clamp(x, c), 0, moved});
    }
  }
  for (ActRow& row : rows) {
    const auto& studs = wheel.studs();
    row.clamp_end =
        wheel.clamp(x, static_cast<std::size_t>(std::find(studs.begin(), studs.end(), row.stud) - studs.begin()));
  }
  return rows;
}

} // namespace clampfade
