// SPDX-License-Identifier: MIT
#include "sim/input/readings_csv.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "sim/input/csv.hpp"
#include "sim/input/document.hpp"

namespace arris {
namespace {

const std::vector<std::string> columns = {"edge",           "step",
                                          "passes",         "reading_gf",
                                          "reading_N",      "replicate",
                                          "operator",       "filament_lot",
                                          "note",           "excluded",
                                          "apex_radius_um", "apex_radius_sd_um",
                                          "recession_um",   "recession_sd_um",
                                          "mass_loss_mg",   "mass_loss_sd_mg"};

class ReadingsParser {
 public:
  ReadingsParser(const std::string& file, std::string_view text, const Scenario& scenario)
      : file_(file), table_(parse_csv(file, text)), scenario_(scenario) {}

  std::vector<Reading> parse() {
    if (!read_header()) return finish();
    for (const CsvRow& row : table_.rows) {
      if (Reading reading; read_row(row, reading)) readings_.push_back(std::move(reading));
    }
    if (readings_.empty() && faults_.empty())
      add(table_.header, nullptr, {.code = "no-readings", .what = "the file holds no readings"});
    return finish();
  }

 private:
  std::vector<Reading> finish() {
    if (more_)
      faults_.push_back({.code = "more-faults",
                         .what = "there are more faults than these",
                         .next = "Mend the first ones and try again.",
                         .file = file_});
    if (!faults_.empty()) throw Error(Exit::data, std::move(faults_));
    return std::move(readings_);
  }

  void add(const CsvRow& row, const CsvCell* cell, Diagnostic d) {
    if (faults_.size() >= Findings::most_told) {
      more_ = true;
      return;
    }
    d.file   = file_;
    d.line   = row.line;
    d.column = cell != nullptr ? cell->column : 1;
    d.width  = cell != nullptr ? std::max(1, characters(cell->text)) : 1;
    d.show_line(printable(row.text));
    faults_.push_back(std::move(d));
  }

  bool read_header() {
    for (std::size_t i = 0; i < table_.header.cells.size() && !more_; ++i) {
      const CsvCell& cell = table_.header.cells[i];
      if (cell.text.find(';') != std::string::npos) {
        add(table_.header, &cell,
            {.code  = "semicolons",
             .what  = "the columns are separated by semicolons",
             .cause = "Spreadsheets of some countries export so.",
             .next  = "Export with commas between columns and a decimal point in numbers."});
        return false;
      }
      if (std::find(columns.begin(), columns.end(), cell.text) == columns.end()) {
        const bool        unitless = cell.text == "reading";
        const std::string close    = nearest(cell.text, columns);
        add(table_.header, &cell,
            {.code    = unitless ? "missing-unit" : "unknown-column",
             .what    = unitless ? "the readings have no unit"
                                 : fmt::format("there is no column \"{}\"", printable(cell.text)),
             .allowed = unitless ? "reading_gf or reading_N" : listed(columns),
             .next = unitless || close.empty() ? std::string{} : fmt::format("Did you mean \"{}\"?", close)});
      } else if (!at_.emplace(cell.text, i).second) {
        add(table_.header, &cell,
            {.code = "given-twice", .what = fmt::format("the column \"{}\" appears twice", cell.text)});
      }
    }
    const auto need = [&](bool there, const char* what, const char* allowed) {
      if (!there && faults_.empty())
        add(table_.header, nullptr, {.code = "missing-column", .what = what, .allowed = allowed});
    };
    need(at_.count("edge") > 0, "there is no column that names the edge", "edge");
    need(at_.count("step") + at_.count("passes") > 0, "there is no column that says when a reading was taken",
         "step or passes");
    need(at_.count("reading_gf") + at_.count("reading_N") + at_.count("apex_radius_um") +
                 at_.count("recession_um") + at_.count("mass_loss_mg") >
             0,
         "there is no column of readings", "reading_gf or reading_N");
    if (at_.count("reading_gf") > 0 && at_.count("reading_N") > 0) {
      add(table_.header, nullptr,
          {.code = "given-twice",
           .what = "the readings are given in two units",
           .next = "Keep reading_gf or reading_N."});
    }
    return faults_.empty();
  }

  [[nodiscard]] const CsvCell* cell(const CsvRow& row, const std::string& column) const {
    const auto found = at_.find(column);
    return found == at_.end() ? nullptr : &row.cells[found->second];
  }
  [[nodiscard]] std::string text(const CsvRow& row, const std::string& column) const {
    const CsvCell* c = cell(row, column);
    return c == nullptr ? std::string{} : c->text;
  }

  // NaN after a fault or where the cell is empty
  double number(const CsvRow& row, const CsvCell& c, const char* what) {
    if (c.text.empty()) return not_given;
    double value            = 0.0;
    const auto [end, error] = std::from_chars(c.text.data(), c.text.data() + c.text.size(), value);
    const bool whole        = error == std::errc{} && end == c.text.data() + c.text.size();
    if (!whole) {
      const bool comma = c.text.find(',') != std::string::npos;
      add(row, &c,
          {.code  = comma ? "decimal-comma" : "not-a-number",
           .what  = fmt::format("\"{}\" is not a number: {}", printable(c.text), what),
           .cause = comma ? "Numbers here have a decimal point." : "",
           .next  = comma ? "Export with a decimal point."
                          : "Leave the cell empty where a reading is missing; put remarks under note."});
      return not_given;
    }
    if (!std::isfinite(value)) {
      add(row, &c,
          {.code = "not-finite",
           .what = fmt::format("\"{}\" is not a finite number: {}", printable(c.text), what),
           .next = "Leave the cell empty where a reading is missing."});
      return not_given;
    }
    return value;
  }

  bool read_row(const CsvRow& row, Reading& reading) {
    const auto before = faults_.size();
    if (row.cells.size() != table_.header.cells.size()) {
      const bool comma = row.cells.size() > table_.header.cells.size();
      add(row, nullptr,
          {.code = "wrong-count",
           .what =
               fmt::format("{} cells where the header has {}", row.cells.size(), table_.header.cells.size()),
           .cause = comma ? "A decimal comma splits a number into two cells." : "",
           .next  = comma ? "Write numbers with a decimal point, and text with commas in \"quotes\"."
                          : "End the row with as many commas as the header has."});
      return false;
    }
    reading.line          = row.line;
    reading.operator_name = text(row, "operator");
    reading.filament_lot  = text(row, "filament_lot");
    reading.note          = text(row, "note");
    reading.excluded      = text(row, "excluded");
    read_edge(row, reading);
    if (reading.edge >= 0) read_moment(row, reading);
    bool there = read_force(row, reading);
    there |= read_measured(row, "apex_radius", "um", reading.apex_radius_um, reading.apex_radius_sd_um);
    there |= read_measured(row, "recession", "um", reading.recession_um, reading.recession_sd_um);
    if (read_measured(row, "mass_loss", "mg", reading.mass_loss_mg, reading.mass_loss_sd_mg, false)) {
      there = true;
      check_mass_loss(row, reading);
    }
    if (const CsvCell* c = cell(row, "replicate"); c != nullptr && !c->text.empty()) {
      const double value = number(row, *c, "the number of the replicate");
      if (!std::isnan(value) && (value < 1 || value != std::floor(value) || value > 1e6)) {
        add(row, c,
            {.code    = "not-an-integer",
             .what    = fmt::format("replicate {} must be a whole number", c->text),
             .allowed = "1, 2, 3 …"});
      } else if (!std::isnan(value)) {
        reading.replicate = static_cast<int>(value);
        const auto key    = std::make_tuple(reading.edge, reading.moment.step, reading.moment.count,
                                            reading.operator_name, reading.replicate);
        if (faults_.size() == before && !seen_.insert(key).second) {
          add(row, c,
              {.code = "duplicate-replicate",
               .what = fmt::format("replicate {} of edge {} at \"{}\" stands twice", reading.replicate,
                                   text(row, "edge"), reading.moment_name),
               .next = "Number the replicates of one operator 1, 2, 3 …"});
        }
      }
    }
    return there && faults_.size() == before;
  }

  void read_edge(const CsvRow& row, Reading& reading) {
    const CsvCell& c = *cell(row, "edge");
    for (std::size_t i = 0; i < scenario_.edges.size() && reading.edge < 0; ++i) {
      if (scenario_.edges[i].name == c.text) reading.edge = static_cast<int>(i);
    }
    if (reading.edge >= 0) return;
    std::vector<std::string> known;
    for (const EdgePlan& plan : scenario_.edges) known.push_back(plan.name);
    const std::string close = nearest(c.text, known);
    add(row, &c,
        {.code    = "unknown-edge",
         .what    = fmt::format("the configuration has no edge \"{}\"", printable(c.text)),
         .allowed = listed(known, 20),
         .next    = close.empty() ? "" : fmt::format("Did you mean \"{}\"?", close)});
  }

  void read_moment(const CsvRow& row, Reading& reading) {
    const EdgePlan& plan    = scenario_.edges[static_cast<std::size_t>(reading.edge)];
    const CsvCell*  step    = cell(row, "step");
    const CsvCell*  passes  = cell(row, "passes");
    const bool      by_step = step != nullptr && !step->text.empty(),
               by_passes    = passes != nullptr && !passes->text.empty();
    if (by_step == by_passes) {
      add(row, step != nullptr ? step : passes,
          {.code = "no-moment",
           .what = by_step ? "step and passes are both given" : "neither step nor passes is given",
           .next = "Give one of them: it says when the reading was taken."});
      return;
    }
    if (by_step) {
      const int index = read_step(plan, step->text);
      if (index < 0) {
        std::vector<std::string> known;
        for (const Step& s : plan.steps) {
          if (const auto* r = std::get_if<ReadStep>(&s)) known.push_back(r->read);
        }
        const std::string close = nearest(step->text, known);
        add(row, step,
            {.code = "unknown-step",
             .what = fmt::format("the edge \"{}\" is not read at \"{}\"", plan.name, printable(step->text)),
             .allowed = known.empty() ? "none: it has no read step" : listed(known, 20),
             .next    = close.empty() ? "" : fmt::format("Did you mean \"{}\"?", close)});
        return;
      }
      reading.moment      = {index, 0.0};
      reading.moment_name = step->text;
      return;
    }
    const double count = number(row, *passes, "passes when it was taken");
    if (std::isnan(count)) return;
    const Moment moment = count >= 0.0 ? moment_after_passes(plan, count) : Moment{-1, 0.0};
    if (moment.step < 0) {
      double all = 0.0;
      for (const Step& s : plan.steps) {
        if (const auto* cut = std::get_if<CutStep>(&s)) all += cut->passes;
      }
      add(row, passes,
          {.code    = "unknown-step",
           .what    = fmt::format("the edge \"{}\" never makes {:g} passes", plan.name, count),
           .allowed = fmt::format("0 … {:g}", all)});
      return;
    }
    reading.moment      = moment;
    reading.moment_name = fmt::format("{:g} passes", count);
  }

  // a length measured under a microscope, or a mass, with its standard deviation; false where it is missing
  bool read_measured(const CsvRow& row, const std::string& quantity, const std::string& unit, double& value,
                     double& sd, bool needs_sd = true) {
    const std::string name = quantity + "_" + unit, sd_name = quantity + "_sd_" + unit;
    const CsvCell*    c = cell(row, name);
    if (c == nullptr || c->text.empty()) return false;
    value = number(row, *c, unit == "mg" ? "a measured loss of mass" : "a measured length");
    if (std::isnan(value)) return true;
    if (!(value > 0.0)) {
      add(row, c,
          {.code = "out-of-range",
           .what = fmt::format("{} = {} must be above 0", name, c->text),
           .next = "Leave the cell empty where it was not measured."});
      return true;
    }
    const CsvCell* s = cell(row, sd_name);
    if (s == nullptr || s->text.empty()) {
      if (!needs_sd) return true;
      add(row, c,
          {.code = "missing-uncertainty",
           .what = fmt::format("{} is given without its uncertainty", name),
           .next = fmt::format("Give one standard deviation in {}.", sd_name)});
      return true;
    }
    sd = number(row, *s, "an uncertainty");
    if (!std::isnan(sd) && !(sd > 0.0))
      add(row, s, {.code = "out-of-range", .what = fmt::format("{} = {} must be above 0", sd_name, s->text)});
    return true;
  }

  // nothing can be lost before anything is done
  void check_mass_loss(const CsvRow& row, const Reading& reading) {
    if (reading.moment.step < 0 || reading.edge < 0 || reading.moment_name.empty() ||
        !reading.excluded.empty())
      return;
    const EdgePlan& plan = scenario_.edges[static_cast<std::size_t>(reading.edge)];
    if (loses_steel_before(plan, reading.moment)) return;
    add(row, cell(row, "mass_loss_mg"),
        {.code = "nothing-lost",
         .what =
             fmt::format("the edge \"{}\" cannot have lost mass at \"{}\"", plan.name, reading.moment_name),
         .cause =
             "Mass is counted from the start of its history, and nothing is honed, stropped or cut before.",
         .next =
             "Leave the cell empty, or begin the history with what was done before the blade was weighed."});
  }

  // false where the reading is missing (an empty cell)
  bool read_force(const CsvRow& row, Reading& reading) {
    const bool in_gf = at_.count("reading_gf") > 0;
    if (!in_gf && at_.count("reading_N") == 0) return false;
    const CsvCell& c = *cell(row, in_gf ? "reading_gf" : "reading_N");
    if (c.text.empty()) return false;
    const double value = number(row, c, "the reading");
    if (std::isnan(value)) return true;
    if (!(value > 0.0)) {
      add(row, &c,
          {.code    = "negative-force",
           .what    = fmt::format("a reading of {} is no force", c.text),
           .allowed = "above 0",
           .cause   = "An empty cell means missing; zero would mean that no force was needed.",
           .next    = "Correct it, or leave it empty."});
      return true;
    }
    reading.reading_N       = in_gf ? value * 1e-3 * laws::standard_gravity : value;
    const double saturation = scenario_.model.tester.saturation_N;
    if (reading.reading_N > saturation && reading.excluded.empty()) {
      add(row, &c,
          {.code  = "beyond-saturation",
           .what  = fmt::format("a reading of {} {} lies beyond the saturation of the filament, {:.4g} {}",
                                c.text, in_gf ? "gf" : "N",
                               in_gf ? laws::in_gram_force(saturation) : saturation, in_gf ? "gf" : "N"),
           .cause = "A blunt bar parts this filament with less.",
           .next  = "Check the unit and the filament, or give a reason under excluded."});
    }
    return true;
  }

  std::string                                              file_;
  CsvTable                                                 table_;
  const Scenario&                                          scenario_;
  std::map<std::string, std::size_t>                       at_;
  std::vector<Reading>                                     readings_;
  std::vector<Diagnostic>                                  faults_;
  bool                                                     more_ = false;
  std::set<std::tuple<int, int, double, std::string, int>> seen_;
};

}  // namespace

std::vector<Reading> parse_readings(const std::string& file, std::string_view text,
                                    const Scenario& scenario) {
  return ReadingsParser(file, text, scenario).parse();
}

std::string readings_text(const std::vector<Reading>& readings, const Scenario& scenario,
                          const std::vector<std::string>& remarks) {
  std::string out;
  for (const std::string& remark : remarks) out += "# " + printable(remark) + "\n";
  const auto any = [&](double Reading::*member) {
    return std::any_of(readings.begin(), readings.end(),
                       [&](const Reading& r) { return !std::isnan(r.*member); });
  };
  const bool radii = any(&Reading::apex_radius_um), recessions = any(&Reading::recession_um),
             masses = any(&Reading::mass_loss_mg);
  out += "edge,step,passes,reading_gf,replicate,operator,filament_lot,note,excluded";
  if (radii) out += ",apex_radius_um,apex_radius_sd_um";
  if (recessions) out += ",recession_um,recession_sd_um";
  if (masses) out += ",mass_loss_mg,mass_loss_sd_mg";
  out += "\n";
  const auto number = [](double v) { return std::isnan(v) ? std::string{} : fmt::format("{}", v); };
  for (const Reading& r : readings) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r.edge)];
    const bool named  = std::holds_alternative<ReadStep>(plan.steps[static_cast<std::size_t>(r.moment.step)]);
    double     passes = r.moment.count;
    for (int i = 0; i < r.moment.step; ++i) {
      if (const auto* cut = std::get_if<CutStep>(&plan.steps[static_cast<std::size_t>(i)]))
        passes += cut->passes;
    }
    std::vector<std::string> cells{
        plan.name,
        named ? r.moment_name : "",
        named ? "" : fmt::format("{}", passes),
        std::isnan(r.reading_N) ? "" : fmt::format("{:.1f}", laws::in_gram_force(r.reading_N)),
        std::to_string(r.replicate),
        r.operator_name,
        r.filament_lot,
        r.note,
        r.excluded};
    if (radii) cells.insert(cells.end(), {number(r.apex_radius_um), number(r.apex_radius_sd_um)});
    if (recessions) cells.insert(cells.end(), {number(r.recession_um), number(r.recession_sd_um)});
    if (masses) cells.insert(cells.end(), {number(r.mass_loss_mg), number(r.mass_loss_sd_mg)});
    out += csv_row(cells);
  }
  return out;
}

}  // namespace arris
