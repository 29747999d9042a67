// SPDX-License-Identifier: MIT
// Readings as people keep them: text, workbooks as they are, and the parts of a workbook packed anew, so that what is made up gets past
// the sums of the archive. Refused with a reason, or a table whose rows are as wide as its head and which reads again as itself.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <utility>
#include <vector>

#include <zip.h>

#include "sim/diagnostic.hpp"
#include "sim/input/readings_import.hpp"

namespace {

std::string packed(const std::vector<std::pair<std::string, std::string>>& parts) {
  zip_error_t   error;
  zip_source_t* whole = zip_source_buffer_create(nullptr, 0, 0, &error);
  zip_source_keep(whole);
  zip_t* zip = zip_open_from_source(whole, ZIP_TRUNCATE, &error);
  for (const auto& [name, text] : parts) {
    const auto index = zip_file_add(zip, name.c_str(), zip_source_buffer(zip, text.data(), text.size(), 0),
                                    ZIP_FL_OVERWRITE);
    zip_set_file_compression(zip, static_cast<zip_uint64_t>(index), ZIP_CM_STORE, 0);
  }
  if (zip_close(zip) != 0) std::abort();
  zip_source_open(whole);
  zip_source_seek(whole, 0, SEEK_END);
  std::string bytes(static_cast<std::size_t>(zip_source_tell(whole)), '\0');
  zip_source_seek(whole, 0, SEEK_SET);
  zip_source_read(whole, bytes.data(), bytes.size());
  zip_source_close(whole);
  zip_source_free(whole);
  return bytes;
}

std::string xlsx_with(const std::string& sheet, bool from_1904) {
  return packed(
      {{"xl/workbook.xml", std::string("<workbook><workbookPr date1904=\"") + (from_1904 ? "1" : "0") +
                               "\"/><sheets><sheet name=\"r\" r:id=\"a\"/></sheets></workbook>"},
       {"xl/_rels/workbook.xml.rels",
        "<Relationships><Relationship Id=\"a\" Target=\"worksheets/sheet1.xml\"/></Relationships>"},
       {"xl/styles.xml",
        "<styleSheet><cellXfs><xf numFmtId=\"0\"/><xf numFmtId=\"14\"/></cellXfs></styleSheet>"},
       {"xl/sharedStrings.xml",
        "<sst><si><t>edge</t></si><si><t>reading_gf</t></si><si><t>date</t></si></sst>"},
       {"xl/worksheets/sheet1.xml", sheet}});
}

void take(const std::string& bytes) {
  using namespace arris;
  const ReadingsForm form{.unit = "gf", .moments = {{"new", "new"}, {"60", "60 passes"}}};
  try {
    const ImportedReadings read = import_readings({{"r", bytes}}, form);
    for (const CsvRow& row : read.table.rows) {
      if (row.cells.size() != read.table.header.cells.size() && !read.is_plain) std::abort();
    }
  } catch (const Error& error) {
    for (const Diagnostic& d : error.diagnostics()) (void)d.text();
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  switch (data[0] % 4) {
    case 0:
      take(xlsx_with(text, false));
      break;
    case 1:
      take(xlsx_with(text, true));
      break;
    case 2:
      take(packed({{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"}, {"content.xml", text}}));
      break;
    default:
      take(text);
  }
  return 0;
}
