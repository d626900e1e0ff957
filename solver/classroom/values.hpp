// The values of the catalogue that the classroom wheel is made of, copied so that a browser needs no files. Each says
// which entry of models/catalogue it repeats; tests/unit/solver/test_classroom.cpp holds them against it.
#pragma once

#include "models/coating.hpp"
#include "models/heat_network.hpp"
#include "models/joint_spec.hpp"

namespace clampfade::classroom_values {

Thread thread();                ///< threads.yaml: M22x1.5
PropertyClass property_class(); ///< property_classes.yaml: 10.9
Material alloy_steel();         ///< materials.yaml: alloy steel
Material wheel_steel();         ///< materials.yaml: wheel steel
Material spring_steel();        ///< materials.yaml: spring steel
Material ductile_iron();        ///< materials.yaml: ductile iron
Material grey_iron();           ///< materials.yaml: grey iron
Material forged_aluminium();    ///< materials.yaml: forged aluminium
Coating primer();               ///< coatings.yaml: electrodeposition primer
Coating thermoplastic();        ///< coatings.yaml: thermoplastic topcoat
Coating cross_linked();         ///< coatings.yaml: cross-linked topcoat
WasherSpec washers();           ///< scenarios/aluminium-spring-washers.yaml
HeatNetwork steel_duals();      ///< heat_networks.yaml: steel duals with drum brake
HeatNetwork aluminium_duals();  ///< heat_networks.yaml: aluminium duals with drum brake

} // namespace clampfade::classroom_values
