#include "models/joint_spec.hpp"

namespace clampfade {

std::span<const Field<Flatness>> Flatness::fields() {
  static const Field<Flatness> list[] = {
      {{"amplitude",
        "m",
        Quantity::Dimensional,
        {0, 0.02},
        {0, 0.5e-3},
        "depth of the wave before the disc is clamped",
        "um"},
       &Flatness::amplitude,
       {}},
      {{"lobes", "1", Quantity::Count, {1, 32}, {}, "waves round the disc"}, &Flatness::lobes, {}},
  };
  return list;
}

std::span<const Field<PartSpec>> PartSpec::fields() {
  static const Field<PartSpec> list[] = {
      {{"thickness", "m", Quantity::Dimensional, {0.1e-3, 1}, {2e-3, 60e-3}, "thickness"}, &PartSpec::thickness, {}},
      {{"hole", "m", Quantity::Dimensional, {1e-3, 0.5}, {}, "diameter of the stud hole"}, &PartSpec::hole, {}},
      {{"pad",
        "m",
        Quantity::Dimensional,
        {1e-3, 2},
        {},
        "diameter D_A of the material round the hole that is backed by the next part"},
       &PartSpec::pad,
       {}},
  };
  return list;
}

std::span<const Field<Carries>> Carries::fields() {
  static const Field<Carries> list[] = {
      {{"radial", "1", Quantity::Number, {0, 1}, {}, "share of the wheel end's radial load"}, &Carries::radial, {}},
      {{"brake", "1", Quantity::Number, {0, 1}, {}, "share of the brake torque"}, &Carries::brake, {}},
      {{"traction", "1", Quantity::Number, {0, 1}, {}, "share of the traction torque"}, &Carries::traction, {}},
  };
  return list;
}

std::span<const Field<InterfaceSpec>> InterfaceSpec::fields() {
  static const Field<InterfaceSpec> list[] = {
      {{"embedding",
        "m",
        Quantity::Dimensional,
        {0, 1e-3},
        {0, 10e-6},
        "embedding f_Z, halved where one of the faces is coated, none where both are",
        "um"},
       &InterfaceSpec::embedding,
       3e-6},
      {{"friction", "1", Quantity::Number, {1e-3, 2}, {0.05, 0.6}, "coefficient of friction mu_i"},
       &InterfaceSpec::friction,
       0.15},
      {{"tangential_compliance",
        "m/N",
        Quantity::Dimensional,
        {1e-15, 1e-6},
        {1e-11, 1e-9},
        "compliance c_t of the clamped contact against sliding"},
       &InterfaceSpec::tangential_compliance,
       1e-10},
      {{"wear",
        "1/Pa",
        Quantity::Dimensional,
        {0, 1e-9},
        {0, 1e-13},
        "wear k_w: depth for each metre of sliding and pascal of pressure"},
       &InterfaceSpec::wear,
       1e-16},
      {{"contact_compliance",
        "m/N",
        Quantity::Dimensional,
        {0, 1e-6},
        {0, 1e-9},
        "compliance of the bare contact in compression, 0 is rigid"},
       &InterfaceSpec::contact_compliance,
       0.0},
      {{"unseated",
        "m",
        Quantity::Dimensional,
        {0, 0.02},
        {0, 0.5e-3},
        "gap of a part not pulled home, which closes in service",
        "um"},
       &InterfaceSpec::unseated,
       0.0},
  };
  return list;
}

std::span<const Field<WasherSpec>> WasherSpec::fields() {
  static const Field<WasherSpec> list[] = {
      {{"outer", "m", Quantity::Dimensional, {2e-3, 1}, {}, "outer diameter De"}, &WasherSpec::outer, {}},
      {{"inner", "m", Quantity::Dimensional, {1e-3, 1}, {}, "inner diameter Di"}, &WasherSpec::inner, {}},
      {{"thickness", "m", Quantity::Dimensional, {0.05e-3, 0.1}, {}, "thickness t of one washer"},
       &WasherSpec::thickness,
       {}},
      {{"cone_height",
        "m",
        Quantity::Dimensional,
        {1e-6, 0.1},
        {},
        "height h0 of the free cone, thickness not counted"},
       &WasherSpec::cone_height,
       {}},
      {{"reduced_thickness",
        "m",
        Quantity::Dimensional,
        {0, 0.1},
        {},
        "thickness t' of washers with bearing flats, 0 for washers without"},
       &WasherSpec::reduced_thickness,
       0.0},
      {{"parallel", "1", Quantity::Count, {1, 20}, {}, "washers n nested in parallel"}, &WasherSpec::parallel, 1.0},
      {{"series", "1", Quantity::Count, {1, 200}, {}, "such packs i in series"}, &WasherSpec::series, 1.0},
      {{"friction", "1", Quantity::Number, {0, 0.3}, {0, 0.05}, "friction w between nested cones"},
       &WasherSpec::friction,
       0.0},
      {{"set",
        "1",
        Quantity::Number,
        {0, 1},
        {0, 0.2},
        "set q as a share of the deflection, one value or against temperature"},
       &WasherSpec::set,
       0.0},
  };
  return list;
}

double grip_length(const JointSpec& joint) {
  double length = 0;
  for (const PartSpec& p : joint.stack) {
    length += p.thickness;
  }
  for (const PartSpec& p : joint.stack) {
    for (const auto* face : {&p.head_side, &p.nut_side}) {
      length += *face ? (*face)->thickness : 0;
    }
  }
  return length + (joint.nut.spring_washers ? joint.nut.spring_washers->free_height() : 0);
}

} // namespace clampfade
