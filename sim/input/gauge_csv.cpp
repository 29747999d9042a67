// SPDX-License-Identifier: MIT
#include "sim/input/gauge_csv.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "sim/input/csv_rows.hpp"
#include "sim/input/dates.hpp"
#include "sim/input/document.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/simulate/readings.hpp"

namespace arris {
namespace {

const std::vector<std::string> known_gauge_columns = {"part",
                                                      "edge",
                                                      "operator",
                                                      "replicate",
                                                      "reading_gf",
                                                      "reading_N",
                                                      "filament_lot",
                                                      "note",
                                                      "excluded",
                                                      "step",
                                                      "passes",
                                                      "apex_radius_um",
                                                      "apex_radius_sd_um",
                                                      "recession_um",
                                                      "recession_sd_um",
                                                      "mass_loss_mg",
                                                      "mass_loss_sd_mg",
                                                      "reading_cv",
                                                      "code",
                                                      "date",
                                                      "test_day"};

class GaugeParser : private CsvRows {
 public:
  GaugeParser(const std::string& file, CsvTable table, bool any_sign)
      : CsvRows(file, std::move(table)), any_sign_(any_sign) {}

  std::vector<GaugeReading> parse() {
    std::vector<GaugeReading> readings;
    if (read_columns()) {
      readings = read_rows<GaugeReading>(
          [this](const CsvRow& row, GaugeReading& reading) { return read_row(row, reading); });
      need_readings(!readings.empty(), table().rows.empty() ? "" : "The reading is left empty in every row.",
                    "Write one row for each reading.");
    }
    throw_if_any();
    return readings;
  }

 private:
  bool read_columns() {
    if (!read_header(known_gauge_columns)) return false;
    need_column(has("part") || has("edge") || has("code"), "there is no column that says what was read",
                "part or edge");
    need_column(has("reading_gf") || has("reading_N"), "there is no column of readings",
                "reading_gf or reading_N");
    need_one_unit();
    if (has("part") && has("edge")) {
      add(table().header, nullptr,
          {.code = "given-twice",
           .what = "what was read is named in two columns",
           .next = "Keep part or edge."});
    }
    return faults() == 0;
  }

  bool read_row(const CsvRow& row, GaugeReading& reading) {
    const auto before = faults();
    if (!is_whole(row)) return false;
    const CsvCell& part = *cell(row, has("part") ? "part" : has("edge") ? "edge" : "code");
    const CsvCell& c    = *cell(row, has("reading_gf") ? "reading_gf" : "reading_N");
    if (part.text.empty()) {
      add(row, &part,
          {.code = "missing-part",
           .what = "this reading does not say of which edge it is",
           .next = "Name the edge, or take the row out."});
    }
    reading.edge   = part.text;
    reading.moment = text(row, "step");
    if (reading.moment.empty() && !text(row, "passes").empty())
      reading.moment = text(row, "passes") + " passes";
    reading.line          = row.line;
    reading.operator_name = text(row, "operator");
    reading.filament_lot  = text(row, "filament_lot");
    reading.excluded      = text(row, "excluded");
    reading.test_day      = text(row, "test_day");
    read_date(row, reading);
    if (const int number = replicate(row); number > 0) {
      reading.replicate = number;
      const auto key = std::make_tuple(reading.edge, reading.moment, reading.operator_name, reading.test_day,
                                       reading.replicate);
      if (faults() == before && !seen_.insert(key).second) {
        const std::string by =
            reading.operator_name.empty() ? std::string{} : " by " + printable(reading.operator_name);
        add_second_replicate(row, reading.replicate, printable(reading.part()) + by);
      }
    }
    if (c.text.empty()) return false;  // missing
    const double value = number(row, c, "the reading");
    if (std::isnan(value)) return false;
    if (!(value > 0.0) && !any_sign_) add_no_force(row, c);
    reading.reading_gf = has("reading_gf") ? value : laws::in_gram_force(value);
    return faults() == before;
  }

  // the date, which is the test day too where none is stated
  void read_date(const CsvRow& row, GaugeReading& reading) {
    const CsvCell* c = cell(row, "date");
    if (c == nullptr || c->text.empty()) return;
    reading.date = c->text;
    if (reading.test_day.empty()) reading.test_day = reading.date;
    if (!is_iso_date(c->text)) add_no_date(row, *c);
  }

  bool                                                                          any_sign_;
  std::set<std::tuple<std::string, std::string, std::string, std::string, int>> seen_;
};

}  // namespace

std::vector<GaugeReading> parse_gauge_readings(const std::string& file, std::string_view text,
                                               bool any_sign) {
  return GaugeParser(file, parse_csv(file, text), any_sign).parse();
}

std::vector<GaugeReading> parse_gauge_readings(const std::string& file, CsvTable table, bool any_sign) {
  return GaugeParser(file, std::move(table), any_sign).parse();
}

const std::vector<std::string>& gauge_columns() { return known_gauge_columns; }

std::vector<GaugeReading> gauge_readings(const Scenario& scenario, const std::vector<Reading>& readings) {
  std::vector<GaugeReading> out;
  for (const Reading& r : readings) {
    if (std::isnan(r.reading_N)) continue;
    out.push_back({scenario.edges[static_cast<std::size_t>(r.edge)].name, r.moment_name, r.operator_name,
                   r.filament_lot, r.excluded, r.replicate, laws::in_gram_force(r.reading_N), r.line, r.date,
                   r.test_day});
  }
  return out;
}

}  // namespace arris
