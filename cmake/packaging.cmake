# SPDX-License-Identifier: MIT
# What `cmake --install` puts where, what `cmake --build . --target uninstall` takes away again, and Debian packages by CPack:
#   arris          the program, its man page and completions
#   python3-arris  the Python package, where it was built
#   libarris-dev   libraries and headers, for find_package(arris)
include(CMakePackageConfigHelpers)

install(TARGETS arris_program RUNTIME COMPONENT runtime)
install(FILES ${documents}/arris.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT runtime)
install(FILES ${documents}/arris.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME arris COMPONENT runtime)
install(FILES ${documents}/_arris DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/site-functions COMPONENT runtime)
install(FILES ${documents}/arris.fish DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d COMPONENT runtime)
install(FILES README.md CHANGELOG.md docs/results.md docs/recipes.md docs/promises.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT runtime)
install(FILES LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR} RENAME copyright COMPONENT runtime)
install(DIRECTORY configs/boatyard configs/examples DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples COMPONENT runtime)

set(config_dir ${CMAKE_INSTALL_LIBDIR}/cmake/arris)
install(TARGETS arris_core arris_input EXPORT arrisTargets ARCHIVE COMPONENT development)
install(EXPORT arrisTargets NAMESPACE arris:: DESTINATION ${config_dir} COMPONENT development)
foreach(folder laws outline history integrate statistics simulate fit studies input)
  install(DIRECTORY sim/${folder} DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/arris/sim COMPONENT development FILES_MATCHING PATTERN *.hpp)
endforeach()
file(GLOB top_headers ${PROJECT_SOURCE_DIR}/sim/*.hpp)
install(FILES ${top_headers} DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/arris/sim COMPONENT development)
configure_package_config_file(cmake/arrisConfig.cmake.in ${PROJECT_BINARY_DIR}/generated/arrisConfig.cmake
                              INSTALL_DESTINATION ${config_dir})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/generated/arrisConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/generated/arrisConfig.cmake ${PROJECT_BINARY_DIR}/generated/arrisConfigVersion.cmake
        DESTINATION ${config_dir} COMPONENT development)

add_custom_target(uninstall COMMAND ${CMAKE_COMMAND} -DBUILD=${PROJECT_BINARY_DIR} -P ${PROJECT_SOURCE_DIR}/cmake/uninstall.cmake)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_VENDOR "the arris authors")
set(CPACK_PACKAGE_CONTACT "the arris authors")
set(CPACK_PACKAGE_DIRECTORY ${PROJECT_BINARY_DIR}/packages)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL runtime development)
if(ARRIS_PYTHON)
  list(APPEND CPACK_COMPONENTS_ALL python)
endif()
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_RUNTIME_PACKAGE_NAME arris)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libarris-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SHLIBDEPS OFF)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS
    "libboost-dev (>= 1.74), libeigen3-dev (>= 3.4), libceres-dev, libfmt-dev (>= 9), libtbb-dev, libmuparser-dev (>= 2.3), libtomlplusplus-dev (>= 3.3), libzip-dev (>= 1.7), libexpat1-dev (>= 2.5), pkg-config")
set(CPACK_DEBIAN_PYTHON_PACKAGE_NAME python3-arris)
set(CPACK_DEBIAN_PYTHON_PACKAGE_SECTION python)
set(CPACK_DEBIAN_PYTHON_PACKAGE_DEPENDS
    "python3 (>= 3.11), python3 (<< 3.12), python3-numpy, python3-pandas, python3-xarray, python3-h5py, python3-h5netcdf")
set(CPACK_COMPONENT_RUNTIME_DESCRIPTION "Simulator of edge wear and honing: the program")
set(CPACK_COMPONENT_DEVELOPMENT_DESCRIPTION "Simulator of edge wear and honing: libraries and headers")
set(CPACK_COMPONENT_PYTHON_DESCRIPTION "Simulator of edge wear and honing: the Python package")
include(CPack)
