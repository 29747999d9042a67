# SPDX-License-Identifier: MIT
# Debian's header-only libraries for emscripten. The compiler must not see /usr/include, whose headers are those of another C library,
# so that a folder of links stands in for it.
set(headers ${PROJECT_BINARY_DIR}/headers)
file(MAKE_DIRECTORY ${headers})
foreach(library boost ceres fmt nlohmann toml++)
  if(NOT EXISTS /usr/include/${library})
    message(FATAL_ERROR "/usr/include/${library} is not there: ./dev page installs what is needed")
  endif()
  file(CREATE_LINK /usr/include/${library} ${headers}/${library} SYMBOLIC)
endforeach()
foreach(library Eigen unsupported)
  file(CREATE_LINK /usr/include/eigen3/${library} ${headers}/${library} SYMBOLIC)
endforeach()

foreach(name Boost::headers Eigen3::Eigen fmt::fmt nlohmann_json::nlohmann_json PkgConfig::tomlplusplus)
  add_library(${name} INTERFACE IMPORTED)
  target_include_directories(${name} SYSTEM INTERFACE ${headers})
endforeach()
target_compile_definitions(fmt::fmt INTERFACE FMT_HEADER_ONLY)
