// SPDX-License-Identifier: MIT
#include "sim/input/workbook.hpp"

#include "sim/diagnostic.hpp"
#ifdef ARRIS_WITH_WORKBOOKS
#include "sim/input/workbook_parts.hpp"
#endif

namespace arris {
namespace {

constexpr std::string_view zip_mark = "PK\x03\x04", old_mark = "\xD0\xCF\x11\xE0";

}  // namespace

bool is_workbook(std::string_view bytes) {
  return bytes.substr(0, 4) == zip_mark || bytes.substr(0, 4) == old_mark;
}

Workbook read_workbook(const std::string& file, std::string_view bytes) {
  if (bytes.substr(0, 4) == old_mark) {
    throw Error(Exit::data, {.code = "not-a-workbook",
                             .what = "this is a workbook of an old kind (xls), or one with a password",
                             .next = "Save it as xlsx or ods without a password.",
                             .file = file});
  }
#ifdef ARRIS_WITH_WORKBOOKS
  ZipOfXml zip(file, bytes);
  if (zip.has("xl/workbook.xml")) return xlsx_workbook(zip);
  if (zip.beginning("mimetype").find("opendocument.spreadsheet") != std::string::npos)
    return ods_workbook(zip);
  zip.fail("not-a-workbook", zip.has("xl/workbook.bin") ? "this is a workbook in binary form (xlsb)"
                                                        : "this is no xlsx or ods workbook");
#else
  throw Error(Exit::data, {.code = "no-workbooks",
                           .what = "workbooks cannot be read here",
                           .next = "Save it as CSV in UTF-8, or let `arris import` do it.",
                           .file = file});
#endif
}

}  // namespace arris
