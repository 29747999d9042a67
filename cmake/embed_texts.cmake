# SPDX-License-Identifier: MIT
# Writes text files into a header, NAME an array of path (from ROOT) and text: OUTPUT, ROOT, NAME, FILES (from ROOT, commas
# between them).
string(REPLACE "," ";" files "${FILES}")
set(text "// Generated from ${FILES}.\n#pragma once\n\n#include <string_view>\n#include <utility>\n\nnamespace arris {\n\ninline constexpr std::pair<std::string_view, std::string_view> ${NAME}[] = {\n")
foreach(name IN LISTS files)
  file(READ ${ROOT}/${name} content)
  string(APPEND text "    {\"${name}\", R\"EMBEDDED(${content})EMBEDDED\"},\n")
endforeach()
string(APPEND text "};\n\n}  // namespace arris\n")
file(WRITE ${OUTPUT} "${text}")
