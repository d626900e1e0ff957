# What `cmake --install` puts where, libraries that find_package(clampfade) finds, and Debian packages by CPack.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

set(DATA ${CMAKE_INSTALL_DATADIR}/clampfade)
set(MANUAL ${PROJECT_BINARY_DIR}/manual)
find_program(GZIP_PROGRAM gzip REQUIRED)

# The programs describe themselves.
file(MAKE_DIRECTORY ${MANUAL})
set(MANUALS)
foreach(program clampfade clampfade-report)
  add_custom_command(OUTPUT ${MANUAL}/${program}.1.gz ${MANUAL}/${program}.bash
    COMMAND $<TARGET_FILE:${program}> --man-page > ${program}.1
    COMMAND $<TARGET_FILE:${program}> --bash-completion > ${program}.bash
    COMMAND ${GZIP_PROGRAM} -9nf ${program}.1
    WORKING_DIRECTORY ${MANUAL} DEPENDS ${program} VERBATIM)
  list(APPEND MANUALS ${MANUAL}/${program}.1.gz)
  install(FILES ${MANUAL}/${program}.1.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT programs)
  install(FILES ${MANUAL}/${program}.bash RENAME ${program}
    DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions COMPONENT programs)
endforeach()
add_custom_target(manual ALL DEPENDS ${MANUALS})

install(TARGETS clampfade clampfade-report COMPONENT programs)
install(DIRECTORY models/catalogue/ DESTINATION ${DATA}/catalogue COMPONENT programs FILES_MATCHING PATTERN "*.yaml")
# demo.sh builds from the source, so it stays there.
install(DIRECTORY scenarios/ DESTINATION ${DATA}/scenarios COMPONENT programs
  FILES_MATCHING PATTERN "*.yaml" PATTERN "*.csv" PATTERN "*.md" PATTERN "*.svg")
install(DIRECTORY scenarios/cluster DESTINATION ${DATA}/scenarios COMPONENT programs
  FILES_MATCHING PATTERN "*.sh" PATTERN "*.sbatch")
install(DIRECTORY notebooks/ DESTINATION ${DATA}/notebooks COMPONENT programs
  FILES_MATCHING PATTERN "*.ipynb" PATTERN "*.py" PATTERN "README.md" PATTERN "__pycache__" EXCLUDE)
install(FILES ${PROJECT_BINARY_DIR}/classroom.html DESTINATION ${DATA} COMPONENT programs OPTIONAL) # where it was built
install(FILES README.md models/EQUATIONS.md models/REFERENCES.md solver/HISTORY_FORMAT.md solver/STORE_FORMAT.md
  DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT programs)

# Libraries: what a simulation needs, without files, and the reader of scenarios.
set(LIBRARIES clampfade_options clampfade_models clampfade_messages clampfade_solver clampfade_history clampfade_scenario)
install(TARGETS ${LIBRARIES} EXPORT clampfadeTargets COMPONENT development)
install(DIRECTORY models DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/clampfade COMPONENT development
  FILES_MATCHING PATTERN "*.hpp" PATTERN "catalogue" EXCLUDE)
install(DIRECTORY solver DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/clampfade COMPONENT development
  FILES_MATCHING PATTERN "*.hpp" PATTERN "cli" EXCLUDE PATTERN "classroom" EXCLUDE PATTERN "packaging" EXCLUDE)
install(FILES tests/packaging/consumer/CMakeLists.txt tests/packaging/consumer/main.cpp
  DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/clampfade-dev/examples COMPONENT development)
set(CONFIG_DIR ${CMAKE_INSTALL_LIBDIR}/cmake/clampfade)
install(EXPORT clampfadeTargets NAMESPACE clampfade:: DESTINATION ${CONFIG_DIR} COMPONENT development)
configure_package_config_file(solver/packaging/clampfadeConfig.cmake.in ${PROJECT_BINARY_DIR}/clampfadeConfig.cmake
  INSTALL_DESTINATION ${CONFIG_DIR})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/clampfadeConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/clampfadeConfig.cmake ${PROJECT_BINARY_DIR}/clampfadeConfigVersion.cmake
  DESTINATION ${CONFIG_DIR} COMPONENT development)

# Debian packages: clampfade and clampfade-dev. `cpack --config build/CPackConfig.cmake` makes both.
set(CHANGES ${PROJECT_BINARY_DIR}/packaging)
configure_file(solver/packaging/changelog.in ${CHANGES}/changelog @ONLY)
add_custom_command(OUTPUT ${CHANGES}/changelog.gz COMMAND ${GZIP_PROGRAM} -9nkf changelog
  WORKING_DIRECTORY ${CHANGES} DEPENDS ${CHANGES}/changelog VERBATIM)
add_custom_target(changelog ALL DEPENDS ${CHANGES}/changelog.gz)
foreach(part programs development)
  set(folder ${CMAKE_INSTALL_DATADIR}/doc/clampfade)
  if(part STREQUAL development)
    string(APPEND folder -dev)
  endif()
  install(FILES solver/packaging/copyright DESTINATION ${folder} COMPONENT ${part})
  install(FILES ${CHANGES}/changelog.gz DESTINATION ${folder} COMPONENT ${part})
endforeach()
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_VENDOR "the clampfade authors")
set(CPACK_PACKAGE_CONTACT "the clampfade authors <clampfade@example.org>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "clamp load of bolted heavy-vehicle wheel joints over time")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_COMPONENTS_ALL programs development)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_ENABLE_COMPONENT_DEPENDS ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PROGRAMS_PACKAGE_NAME clampfade)
set(CPACK_DEBIAN_PROGRAMS_DESCRIPTION
  "Simulates how much clamp load each wheel stud of a truck still has after days
and months of heat, braking and rolling, and says what took the rest. Reads
scenarios in YAML, writes histories in HDF5, and reports on them.

A result is an estimate, not a release to service.")
set(CPACK_DEBIAN_PROGRAMS_PACKAGE_SUGGESTS "man-db, bash-completion, python3-xarray, python3-h5netcdf, python3-matplotlib, jupyter-notebook")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME clampfade-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SHLIBDEPS OFF)
# A program linked with the libraries reads the catalogue of the package with the programs, of this version.
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS "clampfade (= ${PROJECT_VERSION}), libeigen3-dev, libboost-dev, libfmt-dev, libhdf5-dev, libssl-dev, libudunits2-dev, libyaml-cpp-dev")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_RECOMMENDS "cmake, g++ | c++-compiler, make | ninja-build, pkg-config")
set(CPACK_DEBIAN_DEVELOPMENT_DESCRIPTION
  "Headers and static libraries of the wheel-joint simulator clampfade, with what
find_package(clampfade) of CMake needs.")
include(CPack)
