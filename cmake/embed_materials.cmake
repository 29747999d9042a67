# SPDX-License-Identifier: MIT
# Writes the material tables into a header as raw string literals: OUTPUT, ROOT.
file(GLOB tables ${ROOT}/configs/materials/*.toml)
list(SORT tables)
set(text "// Generated from configs/materials.\n#pragma once\n\n#include <string_view>\n#include <utility>\n\nnamespace arris {\n\ninline constexpr std::pair<std::string_view, std::string_view> materials_data[] = {\n")
foreach(table IN LISTS tables)
  file(READ ${table} content)
  cmake_path(RELATIVE_PATH table BASE_DIRECTORY ${ROOT} OUTPUT_VARIABLE name)
  string(APPEND text "    {\"${name}\", R\"MATERIALS(${content})MATERIALS\"},\n")
endforeach()
string(APPEND text "};\n\n}  // namespace arris\n")
file(WRITE ${OUTPUT} "${text}")
