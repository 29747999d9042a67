// SPDX-License-Identifier: MIT
#include "sim/input/readings_csv.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <tuple>
#include <unordered_map>

#include <fmt/format.h>

#include "sim/input/csv.hpp"
#include "sim/input/csv_rows.hpp"
#include "sim/input/dates.hpp"
#include "sim/input/document.hpp"
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

const std::vector<std::string> reading_columns = {"edge",           "step",
                                                  "passes",         "reading_gf",
                                                  "reading_N",      "replicate",
                                                  "operator",       "filament_lot",
                                                  "note",           "excluded",
                                                  "apex_radius_um", "apex_radius_sd_um",
                                                  "recession_um",   "recession_sd_um",
                                                  "mass_loss_mg",   "mass_loss_sd_mg",
                                                  "reading_cv",     "code",
                                                  "date",           "test_day",
                                                  "specimen",       "metres",
                                                  "minutes",        "wear_um",
                                                  "wear_mm",        "wear_sd_um",
                                                  "wear_sd_mm"};

// columns that one of them alone has
const std::vector<std::string> columns_of_specimens = {"specimen", "metres",     "minutes",   "wear_um",
                                                       "wear_mm",  "wear_sd_um", "wear_sd_mm"};
const std::vector<std::string> columns_of_blades    = {
       "reading_gf",   "reading_N",       "filament_lot", "apex_radius_um",  "apex_radius_sd_um",
       "recession_um", "recession_sd_um", "mass_loss_mg", "mass_loss_sd_mg", "reading_cv"};

// what the way of an edge counts in: passes of a blade
WearUnits units_of(const Scenario& scenario) {
  WearUnits units = wear_units(scenario.model.specimen);
  if (!scenario.model.specimen.in_use) units.way = "passes";
  return units;
}

class ReadingsParser : private CsvRows {
 public:
  ReadingsParser(const std::string& file, CsvTable table, const Scenario& scenario)
      : CsvRows(file, std::move(table)), scenario_(scenario) {}

  std::vector<Reading> parse() {
    std::vector<Reading> readings;
    if (read_columns()) {
      readings =
          read_rows<Reading>([this](const CsvRow& row, Reading& reading) { return read_row(row, reading); });
      check_scatters(readings);
      need_readings(
          !readings.empty(), "",
          table().rows.empty() ? "" : "Fill in the readings; rows that stay empty count as missing.");
    }
    throw_if_any();
    return readings;
  }

 private:
  bool read_columns() {
    if (!read_header(reading_columns)) return false;
    refuse_columns_of_others();
    if (of_specimens_) return read_columns_of_specimens();
    need_column(has("edge") || has("code"), "there is no column that names the edge", "edge or code");
    need_column(has("step") || has("passes"), "there is no column that says when a reading was taken",
                "step or passes");
    need_column(has("reading_gf") || has("reading_N") || has("apex_radius_um") || has("recession_um") ||
                    has("mass_loss_mg"),
                "there is no column of readings", "reading_gf or reading_N");
    need_one_unit();
    return faults() == 0;
  }

  void refuse_columns_of_others() {
    for (const std::string& column : of_specimens_ ? columns_of_blades : columns_of_specimens) {
      if (!has(column)) continue;
      add(table().header, cell(table().header, column),
          {.code = "not-of-specimens",
           .what =
               fmt::format("the column {} is of {}, and the tools of the configuration are {}", column,
                           of_specimens_ ? "blades" : "specimens", of_specimens_ ? "specimens" : "blades"),
           .next = of_specimens_ ? "Leave it out; wear_um or wear_mm is what was measured of a specimen."
                                 : "Leave it out, or write kind = \"specimen\" in the tool."});
    }
  }

  bool read_columns_of_specimens() {
    const std::string way = units_.way;
    need_column(has("specimen") || has("edge") || has("code"), "there is no column that names the specimen",
                "specimen, edge or code");
    need_column(has("step") || has(way), "there is no column that says when a reading was taken",
                ("step or " + way).c_str());
    need_column(has("wear_um") || has("wear_mm"), "there is no column of readings", "wear_um or wear_mm");
    if (has("wear_um") && has("wear_mm"))
      add(table().header, cell(table().header, "wear_mm"),
          {.code = "given-twice", .what = "wear is given in two units", .next = "Keep wear_um or wear_mm."});
    return faults() == 0;
  }

  bool read_row(const CsvRow& row, Reading& reading) {
    const auto before = faults();
    if (!is_whole(row)) return false;
    reading.line          = row.line;
    reading.operator_name = text(row, "operator");
    reading.filament_lot  = text(row, "filament_lot");
    reading.test_day      = text(row, "test_day");
    read_date(row, reading);
    reading.note     = text(row, "note");
    reading.excluded = text(row, "excluded");
    read_edge(row, reading);
    if (reading.edge >= 0) read_moment(row, reading);
    const bool there = of_specimens_ ? read_wear(row, reading) : read_of_blade(row, reading);
    if (const int number = replicate(row); number > 0) {
      reading.replicate = number;
      const auto key    = std::make_tuple(reading.edge, reading.moment.step, reading.moment.count,
                                          reading.operator_name, reading.test_day, reading.replicate);
      if (faults() == before && !seen_.insert(key).second) {
        add_second_replicate(
            row, reading.replicate,
            fmt::format("edge {} at \"{}\"", scenario_.edges[static_cast<std::size_t>(reading.edge)].name,
                        reading.moment_name));
      }
    }
    return there && faults() == before;
  }

  // false where nothing was measured
  bool read_of_blade(const CsvRow& row, Reading& reading) {
    bool there = read_force(row, reading);
    read_known_scatter(row, reading);
    there |= read_measured(row, "apex_radius", "um", reading.apex_radius_um, reading.apex_radius_sd_um);
    there |= read_measured(row, "recession", "um", reading.recession_um, reading.recession_sd_um);
    if (read_measured(row, "mass_loss", "mg", reading.mass_loss_mg, reading.mass_loss_sd_mg)) {
      there = true;
      check_mass_loss(row, reading);
    }
    return there;
  }

  // wear of a specimen, and its uncertainty; false where it was not measured
  bool read_wear(const CsvRow& row, Reading& reading) {
    const std::string name = has("wear_mm") ? "wear_mm" : "wear_um";
    const double      um   = has("wear_mm") ? 1e3 : 1.0;
    const CsvCell*    c    = cell(row, name);
    if (c == nullptr || c->text.empty()) return false;
    const double value = um * number(row, *c, "wear");
    if (std::isnan(value)) return true;
    const Specimen<double>& specimen = scenario_.model.specimen;
    reading.reading_N                = value;
    reading.is_below                 = value < specimen.detection_um;
    if (reading.is_below) reading.reading_N = specimen.detection_um;
    if (value < 0.0 && !specimen.is_additive()) {
      add(row, c,
          {.code  = "out-of-range",
           .what  = fmt::format("{} = {} is below 0", name, c->text),
           .cause = "Wear below 0 can be read where readings scatter by so many micrometres.",
           .next  = "Write noise = \"additive\" under [specimen], or leave the cell empty."});
    } else if (value == 0.0 && !reading.is_below && !specimen.is_additive()) {
      add(row, c,
          {.code = "out-of-range",
           .what = fmt::format("{} = {} has no logarithm", name, c->text),
           .cause =
               "A reading of 0 says that there is less wear than can be seen, or that readings scatter by so many micrometres.",
           .next =
               "State detection_um under [specimen], wear that can just be seen, or noise = \"additive\"."});
    }
    read_wear_sd(row, reading);
    check_start(row, *c, reading);
    return true;
  }

  void read_wear_sd(const CsvRow& row, Reading& reading) {
    for (const auto& [name, um] : {std::pair{"wear_sd_um", 1.0}, std::pair{"wear_sd_mm", 1e3}}) {
      const CsvCell* c = cell(row, name);
      if (c == nullptr || c->text.empty()) continue;
      reading.reading_sd = um * number(row, *c, "an uncertainty");
      if (!std::isnan(reading.reading_sd) && !(reading.reading_sd > 0.0))
        add(row, c, {.code = "out-of-range", .what = fmt::format("{} = {} must be above 0", name, c->text)});
    }
  }

  // before a specimen has worn it has no wear: by so many per cent of that nothing scatters
  void check_start(const CsvRow& row, const CsvCell& c, Reading& reading) {
    if (scenario_.model.specimen.is_additive() || reading.moment.step < 0 || reading.edge < 0 ||
        reading.moment_name.empty() || !reading.excluded.empty())
      return;
    if (loses_steel_before(scenario_.edges[static_cast<std::size_t>(reading.edge)], reading.moment)) return;
    if (reading.is_below) {
      reading.excluded = "nothing had worn, and nothing was seen";
      return;
    }
    add(row, &c,
        {.code = "nothing-lost",
         .what = fmt::format("wear is given at \"{}\", before the specimen has worn", reading.moment_name),
         .next =
             "Leave the cell empty, or write noise = \"additive\" under [specimen]: its readings scatter about 0 too."});
  }

  // the date, which is the test day too where none is stated
  void read_date(const CsvRow& row, Reading& reading) {
    const CsvCell* c = cell(row, "date");
    if (c == nullptr || c->text.empty()) return;
    reading.date = c->text;
    if (reading.test_day.empty()) reading.test_day = reading.date;
    if (!is_iso_date(c->text)) add_no_date(row, *c);
  }

  // by its name, or by the code that stands for it on a run sheet
  void read_edge(const CsvRow& row, Reading& reading) {
    const CsvCell* name = cell(row, has("specimen") ? "specimen" : "edge");
    const CsvCell* code = cell(row, "code");
    if (code != nullptr && code->text.empty()) code = nullptr;
    if (name != nullptr && name->text.empty() && code != nullptr) name = nullptr;
    if (name != nullptr) reading.edge = edge_of(row, *name, &EdgePlan::name, "edge");
    if (code == nullptr || (name != nullptr && reading.edge < 0)) {
      if (name == nullptr) {
        const CsvCell* c = cell(row, "code");
        add(row, c, {.code = "unknown-edge", .what = "the row names no edge", .next = "Give its code."});
      }
      return;
    }
    const int by_code = edge_of(row, *code, &EdgePlan::code, "edge of the code");
    if (name != nullptr && by_code >= 0 && by_code != reading.edge) {
      add(row, code,
          {.code = "unknown-edge",
           .what = fmt::format("the code \"{}\" is that of the edge \"{}\", not of \"{}\"", code->text,
                               scenario_.edges[static_cast<std::size_t>(by_code)].name, name->text),
           .next = "Correct one of them."});
      reading.edge = -1;
      return;
    }
    reading.edge = by_code;
  }

  // −1 and a fault where no edge has this name (or code)
  int edge_of(const CsvRow& row, const CsvCell& c, std::string EdgePlan::*member, const char* what) {
    // a file may have as many rows as there are edges, many thousands of each
    auto& places = places_[member == &EdgePlan::name ? 0 : 1];
    if (places.empty()) {
      for (std::size_t i = 0; i < scenario_.edges.size(); ++i) {
        const std::string& text = scenario_.edges[i].*member;
        if (!text.empty()) places.emplace(text, static_cast<int>(i));
      }
    }
    if (const auto found = places.find(c.text); found != places.end()) return found->second;
    std::vector<std::string> known;
    for (const EdgePlan& plan : scenario_.edges) {
      if (!(plan.*member).empty()) known.push_back(plan.*member);
    }
    add(row, &c,
        {.code    = "unknown-edge",
         .what    = fmt::format("the configuration has no {} \"{}\"", what, printable(c.text)),
         .allowed = known.empty() ? "none: no edge of it has a code" : or_list(known, 20),
         .next    = did_you_mean(c.text, known)});
    return -1;
  }

  void read_moment(const CsvRow& row, Reading& reading) {
    const EdgePlan& plan    = scenario_.edges[static_cast<std::size_t>(reading.edge)];
    const CsvCell*  step    = cell(row, "step");
    const CsvCell*  passes  = cell(row, units_.way);
    const bool      by_step = step != nullptr && !step->text.empty(),
               by_passes    = passes != nullptr && !passes->text.empty();
    if (by_step == by_passes) {
      add(row, step != nullptr ? step : passes,
          {.code = "no-moment",
           .what = by_step ? fmt::format("step and {} are both given", units_.way)
                           : fmt::format("neither step nor {} is given", units_.way),
           .next = "Give one of them: it says when the reading was taken."});
      return;
    }
    if (by_step) {
      read_named_moment(row, *step, plan, reading);
    } else {
      read_counted_moment(row, *passes, plan, reading);
    }
  }

  // by the name of a read step
  void read_named_moment(const CsvRow& row, const CsvCell& step, const EdgePlan& plan, Reading& reading) {
    auto& moments = moments_[reading.edge];
    if (moments.empty()) {
      for (std::size_t i = 0; i < plan.steps.size(); ++i) {
        if (const auto* r = std::get_if<ReadStep>(&plan.steps[i]))
          moments.emplace(r->read, static_cast<int>(i));
      }
    }
    if (const auto found = moments.find(step.text); found != moments.end()) {
      reading.moment      = {found->second, 0.0};
      reading.moment_name = step.text;
      return;
    }
    // "60 passes", as answers call such a moment
    if (const auto count = count_in(step.text)) return put_counted_moment(row, step, plan, *count, reading);
    std::vector<std::string> known;
    for (const Step& s : plan.steps) {
      if (const auto* r = std::get_if<ReadStep>(&s)) known.push_back(r->read);
    }
    add(row, &step,
        {.code    = "unknown-step",
         .what    = fmt::format("the edge \"{}\" is not read at \"{}\"", plan.name, printable(step.text)),
         .allowed = known.empty() ? "none: it has no read step" : or_list(known, 20),
         .next    = did_you_mean(step.text, known)});
  }

  // by the passes made before
  void read_counted_moment(const CsvRow& row, const CsvCell& passes, const EdgePlan& plan, Reading& reading) {
    const double count =
        number(row, passes, of_specimens_ ? "the way made when it was taken" : "passes when it was taken");
    if (!std::isnan(count)) put_counted_moment(row, passes, plan, count, reading);
  }

  // the number of "60 passes"; none where the text is anything else
  [[nodiscard]] std::optional<double> count_in(const std::string& text) const {
    const std::string ending = std::string(" ") + units_.way;
    if (text.size() <= ending.size() || text.substr(text.size() - ending.size()) != ending) return {};
    const char* const first   = text.data();
    const char* const last    = first + (text.size() - ending.size());
    double            value   = 0.0;
    const auto [end, problem] = read_number(first, last, value);
    return problem == std::errc{} && end == last ? std::optional(value) : std::nullopt;
  }

  void put_counted_moment(const CsvRow& row, const CsvCell& at, const EdgePlan& plan, double count,
                          Reading& reading) {
    const Moment moment = count >= 0.0 ? moment_after_passes(plan, count) : Moment{-1, 0.0};
    if (moment.step >= 0) {
      reading.moment      = moment;
      reading.moment_name = fmt::format("{:g} {}", count, units_.way);
      return;
    }
    double all = 0.0;
    for (const Step& s : plan.steps) {
      if (const auto* cut = std::get_if<CutStep>(&s)) all += cut->passes;
    }
    add(row, &at,
        {.code    = "unknown-step",
         .what    = fmt::format("the edge \"{}\" never makes {:g} {}", plan.name, count, units_.way),
         .allowed = fmt::format("0 … {:g}", all)});
  }

  // The scatter of lengths without an uncertainty of their own is estimated, as that of readings is. Where there are such readings too, one
  // number would have to do for a microscope and a tester.
  void check_scatters(const std::vector<Reading>& readings) {
    const bool of_tester = std::any_of(readings.begin(), readings.end(), [](const Reading& r) {
      return !std::isnan(r.reading_N) && std::isnan(r.reading_cv);
    });
    if (!of_tester) return;
    for (const WithoutSd& it : without_sd_)
      add(*it.row, it.cell,
          {.code = "missing-uncertainty",
           .what = fmt::format("{} is given without its uncertainty, beside readings of the tester", it.name),
           .cause = "The scatter of a microscope is estimated where it alone comes without one.",
           .next  = fmt::format("Give one standard deviation in {}.", it.sd_name)});
  }

  // a length measured under a microscope, or a mass, with its standard deviation; false where it is missing
  bool read_measured(const CsvRow& row, const std::string& quantity, const std::string& unit, double& value,
                     double& sd) {
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
      if (unit == "um") without_sd_.push_back({&row, c, name, sd_name});
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

  // the coefficient of variation of a reading, where it is known better than the scatter of all says
  void read_known_scatter(const CsvRow& row, Reading& reading) {
    const CsvCell* c = cell(row, "reading_cv");
    if (c == nullptr || c->text.empty()) return;
    const double value = number(row, *c, "the coefficient of variation of the reading");
    if (std::isnan(value)) return;
    if (!(value > 0.0 && value <= 2.0)) {
      add(row, c,
          {.code    = "out-of-range",
           .what    = fmt::format("reading_cv = {} is no coefficient of variation", c->text),
           .allowed = "above 0, up to 2",
           .next    = "Write 0.08 for 8 %, or leave it empty for the scatter of the other readings."});
      return;
    }
    reading.reading_cv = value;
  }

  // false where the reading is missing (an empty cell)
  bool read_force(const CsvRow& row, Reading& reading) {
    const bool in_gf = has("reading_gf");
    if (!in_gf && !has("reading_N")) return false;
    const CsvCell& c = *cell(row, in_gf ? "reading_gf" : "reading_N");
    if (c.text.empty()) return false;
    const double value = number(row, c, "the reading");
    if (std::isnan(value)) return true;
    if (!(value > 0.0)) {
      add_no_force(row, c);
      return true;
    }
    reading.reading_N       = in_gf ? laws::in_newton(value) : value;
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

  struct WithoutSd {
    const CsvRow*  row;
    const CsvCell* cell;
    std::string    name, sd_name;
  };
  std::vector<WithoutSd> without_sd_;  // lengths, in the order of the file

  const Scenario& scenario_;
  bool            of_specimens_ = scenario_.model.specimen.in_use;
  WearUnits       units_        = units_of(scenario_);
  std::set<std::tuple<int, int, double, std::string, std::string, int>> seen_;
  std::array<std::unordered_map<std::string, int>, 2> places_;   // of edges by name, and by code
  std::map<int, std::unordered_map<std::string, int>> moments_;  // of an edge, the steps that read it by name
};

}  // namespace

std::vector<Reading> parse_readings(const std::string& file, std::string_view text,
                                    const Scenario& scenario) {
  return ReadingsParser(file, parse_csv(file, text), scenario).parse();
}

std::vector<Reading> parse_readings(const std::string& file, CsvTable table, const Scenario& scenario) {
  return ReadingsParser(file, std::move(table), scenario).parse();
}

const std::vector<std::string>& readings_columns() { return reading_columns; }

namespace {

// passes of a history up to a moment
double passes_until(const EdgePlan& plan, const Moment& moment) {
  double passes = moment.count;
  for (int i = 0; i < moment.step; ++i) {
    if (const auto* cut = std::get_if<CutStep>(&plan.steps[static_cast<std::size_t>(i)]))
      passes += cut->passes;
  }
  return passes;
}

// readings of specimens as a table
std::string wear_text(const std::vector<Reading>& readings, const Scenario& scenario) {
  const WearUnits units = units_of(scenario);
  std::string     out =
      fmt::format("specimen,step,{},wear_{},wear_sd_{},replicate,operator,note,excluded,date,test_day\n",
                  units.way, units.suffix, units.suffix);
  const auto number = [&](double um) {
    return std::isnan(um) ? std::string{} : fmt::format("{:.6g}", um * units.per_um);
  };
  for (const Reading& r : readings) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r.edge)];
    const bool named = std::holds_alternative<ReadStep>(plan.steps[static_cast<std::size_t>(r.moment.step)]);
    out += csv_row({plan.name, named ? r.moment_name : "",
                    named ? "" : fmt::format("{}", passes_until(plan, r.moment)),
                    r.is_below ? "0" : number(r.reading_N), number(r.reading_sd), std::to_string(r.replicate),
                    r.operator_name, r.note, r.excluded, r.date, r.test_day});
  }
  return out;
}

}  // namespace

std::string readings_text(const std::vector<Reading>& readings, const Scenario& scenario,
                          const std::vector<std::string>& remarks) {
  std::string out;
  for (const std::string& remark : remarks) out += "# " + printable(remark) + "\n";
  if (scenario.model.specimen.in_use) return out + wear_text(readings, scenario);
  const auto any = [&](double Reading::*member) {
    return std::any_of(readings.begin(), readings.end(),
                       [&](const Reading& r) { return !std::isnan(r.*member); });
  };
  const bool radii = any(&Reading::apex_radius_um), recessions = any(&Reading::recession_um),
             masses = any(&Reading::mass_loss_mg), scatter = any(&Reading::reading_cv);
  out += "edge,step,passes,reading_gf,replicate,operator,filament_lot,note,excluded";
  if (radii) out += ",apex_radius_um,apex_radius_sd_um";
  if (recessions) out += ",recession_um,recession_sd_um";
  if (masses) out += ",mass_loss_mg,mass_loss_sd_mg";
  if (scatter) out += ",reading_cv";
  const auto said  = [&](auto&& is) { return std::any_of(readings.begin(), readings.end(), is); };
  const bool dates = said([](const Reading&r) { return !r.date.empty(); }),
             days  = said([](const Reading&r) { return r.test_day != r.date; });
  if (dates) out += ",date";
  if (days) out += ",test_day";
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
    if (scatter) cells.push_back(number(r.reading_cv));
    if (dates) cells.push_back(r.date);
    if (days) cells.push_back(r.test_day);
    out += csv_row(cells);
  }
  return out;
}

}  // namespace arris
