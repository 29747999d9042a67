# SPDX-License-Identifier: MIT
# Writes OUTPUT, a source with the commit of SOURCE, when a build begins: -DSOURCE= -DOUTPUT= -P commit.cmake. Outside a repository
# it is what `git archive`, or setup.py for an sdist, wrote into archive_commit.txt.
set(commit "unknown")
execute_process(COMMAND git -C ${SOURCE} ls-files --error-unmatch CMakeLists.txt RESULT_VARIABLE foreign OUTPUT_QUIET ERROR_QUIET)
if(foreign EQUAL 0)
  execute_process(COMMAND git -C ${SOURCE} rev-parse --short=12 HEAD OUTPUT_VARIABLE head OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET)
  execute_process(COMMAND git -C ${SOURCE} status --porcelain --untracked-files=no OUTPUT_VARIABLE changes ERROR_QUIET)
  if(head)
    set(commit ${head})
  endif()
  if(head AND changes)
    string(APPEND commit "+")
  endif()
else()
  file(READ ${CMAKE_CURRENT_LIST_DIR}/archive_commit.txt archived)
  if(archived MATCHES "([0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f])")
    set(commit ${CMAKE_MATCH_1})
    if(archived MATCHES "[+]")
      string(APPEND commit "+")
    endif()
  endif()
endif()
file(CONFIGURE OUTPUT ${OUTPUT} CONTENT "// written by cmake/commit.cmake
#include \"build_facts.hpp\"

const char* arris::build::commit() { return \"${commit}\"; }
")
