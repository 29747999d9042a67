// SPDX-License-Identifier: MIT
#include <tuple>

#include <fmt/format.h>

#include "campaign.hpp"
#include "law_batch.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/answer_text.hpp"
#include "sim/output/fit_groups.hpp"
#include "sim/output/fit_tables.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/output/simulation_groups.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/output/sweep_definition.hpp"
#include "sim/output/terminal.hpp"
#include "sim/statistics/designs.hpp"
#include "sim/statistics/sobol_indices.hpp"
#include "sim/studies/many.hpp"

namespace arris::python {
namespace {

/// A result as the Python class Result takes it: sentences, and the groups of a file of its kind.
py::dict result_dict(const std::string& kind, const std::string& title, const PyGroup& root) {
  py::dict out;
  root.attribute("kind", kind);
  root.attribute("title", title);
  out["kind"]     = kind;
  out["sentence"] = "";
  out["remarks"]  = py::list();
  out["rests_on"] = "";
  out["cautions"] = py::list();
  out["settings"] = py::dict();
  out["text"]     = "";
  out["node"]     = root.node();
  return out;
}

// sentences of an answer, in the dict of a result and as attributes of its root
void put_said(const py::dict& out, const PyGroup& root, const Answer& answer) {
  put_sentences(root, answer);
  out["sentence"] = answer.headline;
  out["remarks"]  = answer.remarks;
  out["rests_on"] = answer.rests_on;
  out["cautions"] = answer.cautions;
}

}  // namespace

py::dict answer_dict(const Answer& answer, const std::string& title, const PyGroup& root) {
  for (const AnswerTable& table : answer.tables) put_table(root, table);
  py::dict settings;
  for (const auto& [name, value] : answer.settings) {
    settings[py::str(name)] = value;
    root.attribute(name, value);
  }
  py::dict out = result_dict(answer.kind, title, root);
  put_said(out, root, answer);
  out["settings"] = settings;
  out["text"]     = answer_text(answer);
  return out;
}

namespace {

using Doubles = py::array_t<double, py::array::c_style | py::array::forcecast>;

std::vector<double> doubles_of(const py::handle& array) {
  const auto values = py::cast<Doubles>(array);
  return {values.data(), values.data() + values.size()};
}

Spread spread_of(const py::handle& list) {
  const auto sd = py::cast<std::vector<double>>(list);
  return {sd.at(0), sd.at(1), sd.at(2), sd.at(3), sd.at(4), sd.at(5), sd.at(6), sd.at(7), sd.at(8)};
}

FittedLaw law_of(const py::dict& d) {
  using Texts = std::vector<std::string>;
  FittedLaw law;
  law.name        = py::cast<std::string>(d["name"]);
  law.wear_law    = py::cast<std::string>(d["wear_law"]);
  law.weight      = py::cast<double>(d["weight"]);
  law.ruled_out   = py::cast<bool>(d["ruled_out"]);
  law.columns     = py::cast<Texts>(d["columns"]);
  law.values      = doubles_of(d["values"]);
  law.parameters  = py::cast<Texts>(d["parameters"]);
  law.best        = doubles_of(d["best"]);
  law.spread      = spread_of(d["spread"]);
  law.wear_paths  = py::cast<Texts>(d["wear_paths"]);
  law.wear_values = doubles_of(d["wear_values"]);
  const auto left = py::cast<std::vector<std::vector<double>>>(d["discrepancy"]);
  law.discrepancy = {left.at(0), left.at(1), left.at(2)};
  return law;
}

// draws of a fit that Python holds, or nothing
ask::ReadFit fit_of(const py::object& fit) {
  if (fit.is_none()) return {};
  const auto  d = py::cast<py::dict>(fit);
  FittedDraws draws;
  draws.columns = py::cast<std::vector<std::string>>(d["columns"]);
  draws.values  = doubles_of(d["values"]);
  draws.spread  = spread_of(d["spread"]);
  for (const py::handle law : py::cast<py::list>(d["laws"]))
    draws.laws.push_back(law_of(py::cast<py::dict>(law)));
  draws.parameters     = py::cast<std::vector<std::string>>(d["parameters"]);
  draws.best           = py::cast<std::vector<double>>(d["best"]);
  draws.effects        = {py::cast<std::vector<std::string>>(d["effect_kinds"]),
                          py::cast<std::vector<std::string>>(d["effect_names"]), doubles_of(d["effect_logs"])};
  draws.edges          = py::cast<int>(d["edges"]);
  draws.readings       = py::cast<int>(d["readings"]);
  draws.source         = py::cast<std::string>(d["source"]);
  draws.misses         = py::cast<std::vector<std::string>>(d["misses"]);
  const auto left_over = py::cast<std::vector<std::vector<double>>>(d["discrepancy"]);
  draws.discrepancy    = {left_over.at(0), left_over.at(1), left_over.at(2)};
  draws.given          = {py::cast<std::vector<std::string>>(d["given_paths"]),
                          py::cast<std::vector<double>>(d["given_values"]), py::cast<std::string>(d["wear_law"])};
  return [draws](const Scenario& scenario, int members) { return ensemble_of(draws, scenario, members); };
}

const std::string& file_of(const PyCampaign& self) { return self.texts.files.front().first; }
const std::string& title_of(const PyCampaign& self) { return self.campaign.loaded.scenario.title; }

// tells a course how far a stage is
ask::Progress course_of(Course& course, const char* stage) {
  return [&course, stage](std::size_t done, std::size_t all) { course.move(stage, done, all); };
}

py::dict simulate_campaign(const PyCampaign& self, const py::dict& options, const py::object& fit) {
  const Arguments arguments = arguments_of(options);
  const int       threads   = ask::threads_of(arguments);
  const Campaign  campaign  = ask::at_fit(self.campaign, fit_of(fit));
  ask::require_rates(campaign.loaded, !fit.is_none());
  struct Both {
    SimulationResult          result;
    std::optional<Comparison> comparison;
  };
  const Both    both = run_study(self, [&](Course& course) {
    Both out;
    out.result = simulate(campaign.loaded.scenario, threads, course_of(course, "simulating"));
    if (!campaign.readings.empty())
      out.comparison = compare_with_readings(campaign.loaded.scenario, campaign.readings, threads);
    return out;
  });
  const PyGroup root;
  put_simulation(root, both.result, both.comparison, campaign.readings,
                 wear_units_of(campaign.loaded.scenario));
  py::dict out = result_dict("simulate", title_of(self), root);
  py::list failures;
  for (const EdgeResult& edge : both.result.edges) {
    if (!edge.status.usable()) failures.append(edge.message);
  }
  const std::string answer = simulation_answer(campaign.loaded, both.result);
  std::string       text = wrapped(answer) + "\n" + simulation_overview(campaign.loaded, both.result) + "\n";
  for (const EdgeResult& edge : both.result.edges) text += edge_text(campaign.loaded, edge) + "\n";
  if (both.comparison) text += comparison_text(*both.comparison) + "\n";
  put_said(out, root, simulation_sentences(campaign.loaded, both.result, both.comparison));
  out["rests_on"] = rests_on(campaign.loaded);
  out["text"]     = text + wrapped("Rests on: " + rests_on(campaign.loaded));
  out["failures"] = failures;
  return out;
}

py::dict answer_of(const std::string& study, PyCampaign& self, const py::dict& options,
                   const py::object& fit) {
  const Arguments    arguments = arguments_of(options);
  const ask::ReadFit read      = fit_of(fit);
  if (study == "sensitivity") {
    const Campaign      at       = ask::at_fit(self.with(materials_in(arguments.texts("over"))), read);
    const ask::Answered answered = run_study(self, [&](Course& course) {
      return ask::sensitivity(arguments, at, course_of(course, "trying inputs"));
    });
    return answer_dict(answered.answer, title_of(self), PyGroup());
  }
  const Campaign& campaign = self.campaign;
  if (study == "weigh" || study == "gauge" || study == "readings" || study == "log-check")
    ask::require_readings(campaign, file_of(self));
  const ask::Answered answered = run_study(self, [&](Course& course) {
    const auto progress = [&](const char* stage) { return course_of(course, stage); };
    if (study == "weigh") return ask::weigh(arguments, campaign, progress("weighing"));
    if (study == "forecast") return ask::forecast(arguments, campaign, read, progress("forecasting"));
    if (study == "compare") return ask::compare(arguments, campaign, read, progress("comparing"));
    if (study == "readings") return ask::readings(arguments, campaign, read);
    if (study == "upkeep") return ask::upkeep(arguments, campaign, read);
    if (study == "plan") return ask::plan(arguments, campaign, file_of(self), read);
    if (study == "gauge") return ask::gauge(arguments, self.campaign, std::nullopt);
    if (study == "log-check") return ask::log_check(arguments, self.campaign, {}, {});
    throw std::invalid_argument("no such study: " + study);
  });
  return answer_dict(answered.answer, title_of(self), PyGroup());
}

py::dict gauge_of_csv(const std::string& file, const py::dict& options) {
  const Arguments     arguments = arguments_of(options);
  const ask::Answered answered  = run_stoppable([&](Course&) {
    Campaign campaign;
    return ask::gauge(arguments, campaign, file);
  });
  return answer_dict(answered.answer, "", PyGroup());
}

py::dict log_check_of_files(const std::vector<std::string>& files, const py::dict& options) {
  const Arguments     arguments = arguments_of(options);
  const ask::Answered answered  = run_stoppable([&](Course&) {
    Campaign campaign;
    return ask::log_check(arguments, campaign, files, ask::form_of(arguments, {}));
  });
  return answer_dict(answered.answer, "", PyGroup());
}

py::dict imported_readings(const std::vector<std::string>& files, const py::dict& options) {
  const Arguments        arguments = arguments_of(options);
  const ImportedReadings read =
      run_stoppable([&](Course&) { return ask::imported(files, ask::form_of(arguments, {}), nullptr); });
  py::dict out;
  out["csv"]  = csv_text(read.table);
  out["said"] = read.said;
  return out;
}

// the axes of the map of a sweep, or of a share of it, as its files have it, and of a design what each row gives the inputs; the names
// of the axes
std::vector<std::string> put_map_axes(const PyGroup& map, const SweepDefinition& d, const SweepShard& shard) {
  const SweepGrid          grid(d);
  const std::size_t        begin = shard.first(grid.chunks()), end = shard.end(grid.chunks());
  std::vector<std::string> along;
  for (const SweepAxis& axis : d.axes) {
    const bool by_rows = along.empty() && !(d.axes.size() == 1 && d.row_is_one_history);
    const auto from    = static_cast<std::ptrdiff_t>(by_rows ? grid.first_row(begin) : 0);
    const auto to =
        static_cast<std::ptrdiff_t>(by_rows ? std::min(grid.first_row(end), grid.rows) : axis.size());
    along.push_back(axis.name);
    if (axis.is_text()) {
      map.axis(axis.name, std::vector<std::string>(axis.labels.begin() + from, axis.labels.begin() + to),
               axis.says);
    } else {
      map.axis(axis.name, std::vector<double>(axis.values.begin() + from, axis.values.begin() + to),
               axis.units, axis.says);
    }
  }
  for (const SweepAxis& input : d.inputs) {
    const auto from = static_cast<std::ptrdiff_t>(grid.first_row(begin));
    const auto to   = static_cast<std::ptrdiff_t>(std::min(grid.first_row(end), grid.rows));
    if (input.is_text()) {
      map.data(input.name, std::vector<std::string>(input.labels.begin() + from, input.labels.begin() + to),
               along[0], input.says);
    } else {
      map.data(input.name, std::vector<double>(input.values.begin() + from, input.values.begin() + to),
               along[0], input.units, input.says);
    }
  }
  map.attribute("long_name", fmt::format("edge {}, {}", d.edge, d.moment.text()));
  return along;
}

void put_map(const PyGroup& root, const SweepDefinition& d, const SweepShard& shard,
             const SweepStore& store) {
  const SweepGrid                  grid(d);
  const std::size_t                begin = shard.first(grid.chunks()), end = shard.end(grid.chunks());
  const PyGroup                    map   = root.group("map");
  const std::vector<std::string>   along = put_map_axes(map, d, shard);
  std::vector<std::vector<double>> values(d.outputs.size());
  std::vector<double>              status;
  for (std::size_t c = begin; c < end; ++c) {
    const SweepBlock block = store.get(c);
    for (std::size_t o = 0; o < values.size(); ++o)
      values[o].insert(values[o].end(), block.values[o].begin(), block.values[o].end());
    status.insert(status.end(), block.status.begin(), block.status.end());
  }
  for (std::size_t o = 0; o < values.size(); ++o) {
    const SweepOutput& output = d.outputs[o];
    if (along.size() == 1) {
      map.data(output.name, values[o], along[0], output.units, output.says);
    } else {
      map.data(output.name, values[o], along, output.units, output.says);
    }
  }
  map.marks("status", status, along, sweep_status_meanings);
}

py::dict sweep_campaign(const PyCampaign& self, const py::dict& options, const py::object& fit) {
  const Arguments        arguments = arguments_of(options);
  const int              threads   = ask::threads_of(arguments);
  const auto             materials = ask::sweep_materials(arguments);
  const Campaign         campaign  = ask::at_fit(self.with(materials), fit_of(fit));
  const auto             study     = ask::sweep_study(arguments, campaign);
  const SweepDefinition& d         = study->definition();
  const SweepShard       shard     = ask::share_of(arguments, study->grid());
  ask::check_fits_memory(
      *study, shard, "Use the command line, whose sweeps go to a file as they come, or arris.lazy_sweep.");
  SweepMemory   store;
  const auto    get      = [&](std::size_t chunk) { return store.get(chunk); };
  const auto    failures = run_study(self, [&](Course& course) {
    return study->run_into(store, shard, threads, course_of(course, "sweeping"));
  });
  const PyGroup root;
  put_sweep_attributes(root, d, definition_text(d), shard);
  put_failures(root, failures);
  put_map(root, d, shard, store);
  const Answer answer = sweep_answer(d, shard, failures, get);
  py::dict     out    = answer_dict(answer, title_of(self), root);
  out["failed"]       = failures.count;
  out["members"]      = failures.members;
  return out;
}

std::size_t sweep_blocks(const PyCampaign& self, const py::dict& options, const py::object& fit) {
  const Arguments arguments = arguments_of(options);
  const Campaign  campaign  = ask::at_fit(self.with(ask::sweep_materials(arguments)), fit_of(fit));
  return ask::sweep_study(arguments, campaign)->grid().chunks();
}

/// What a sweep has without being worked out: the axes of its map, its outputs (name, units, meaning), and the rows at which each of so
/// many shares, at most, ends.
py::dict sweep_layout(const PyCampaign& self, const py::dict& options, const py::object& fit,
                      std::size_t shares) {
  const Arguments        arguments = arguments_of(options);
  const Campaign         campaign  = ask::at_fit(self.with(ask::sweep_materials(arguments)), fit_of(fit));
  const auto             study     = ask::sweep_study(arguments, campaign);
  const SweepDefinition& d         = study->definition();
  const SweepGrid&       grid      = study->grid();
  const PyGroup          root;
  put_map_axes(root.group("map"), d, {});
  py::list outputs, ends;
  for (const SweepOutput& output : d.outputs)
    outputs.append(py::make_tuple(output.name, output.units, output.says));
  const std::size_t count = std::min(shares, grid.chunks());
  // along the first axis, which may lie in one row
  const std::size_t all = d.axes.front().size();
  for (std::size_t i = 1; i <= count; ++i) {
    const SweepShard shard{i, count};
    ends.append(i == count ? all : grid.first_row(shard.end(grid.chunks())));
  }
  py::dict out;
  out["node"]    = root.node();
  out["outputs"] = outputs;
  out["ends"]    = ends;
  return out;
}

py::dict fit_campaign(const PyCampaign& self, const py::dict& options) {
  const Arguments arguments = arguments_of(options);
  ask::require_readings(self.campaign, file_of(self));
  const auto      asked  = ask::campaign_model(arguments, self.campaign);
  const auto      how    = ask::fit_options(arguments, *asked);
  const FitReport report = run_study(self, [&](Course& course) {
    return fit_report(*asked, how, [&](const std::string& stage, std::size_t done, std::size_t all) {
      course.move(stage, done, all);
    });
  });
  const auto&     model  = report.model;
  const PyGroup   root;
  const FitPoint& best = report.fit.best;
  if (report.fit.converged) put_fit(root, *model, report);
  py::dict out = result_dict("fit", title_of(self), root);
  put_said(out, root, fit_sentences(*model, report, self.campaign.readings_path));
  out["text"]      = wrapped(fit_line(*model, report)) + "\n" + fit_page(*model, report, false);
  out["full_text"] = wrapped(fit_line(*model, report)) + "\n" + fit_page(*model, report, true);
  out["converged"] = report.fit.converged;
  out["failure"]   = best.failure;
  py::list undetermined;
  for (const UndeterminedDirection& d : report.identifiability.undetermined)
    undetermined.append(py::make_tuple(d.sentence, d.settled_by));
  out["undetermined"] = undetermined;
  std::vector<std::string> paths;
  for (const FreeParameter& p : model->parameters()) paths.push_back(p.path);
  out["paths"]           = paths;
  out["draws_converged"] = report.draws.converged;
  if (!report.fit.converged) return out;
  out["residuals_csv"]               = residuals_csv(*model, report);
  const std::filesystem::path folder = std::filesystem::path(file_of(self)).parent_path();
  put_what_follows(root, report, fitted_toml(self.campaign, *model, report, folder));
  return out;
}

py::dict gradient_check(const PyCampaign& self, const py::dict& options) {
  const auto          model = ask::campaign_model(arguments_of(options), self.campaign);
  const GradientCheck check = run_study(
      self, [&] { return check_gradient(*model, Eigen::VectorXd::Zero(model->parameter_count())); });
  py::dict worst;
  for (const auto& row : check.rows) worst[py::str(row.parameter)] = row.worst;
  py::dict out;
  out["worst"]   = worst;
  out["allowed"] = check.allowed;
  out["passed"]  = check.passed();
  return out;
}

std::string invented_readings(const PyCampaign& self, const py::dict& options) {
  const Arguments arguments = arguments_of(options);
  const auto readings = run_study(self, [&] { return ask::invented(arguments, self.campaign.loaded, 0); });
  return readings_text(readings, self.campaign.loaded.scenario, {});
}

py::tuple simulate_rows(const PyCampaign& self, const std::vector<std::string>& names,
                        const py::array_t<double, py::array::c_style | py::array::forcecast>& values,
                        const std::string& edge, const std::vector<std::string>& at,
                        const std::vector<std::string>& outputs, int threads) {
  Arguments arguments;
  arguments.is_command_line = false;
  if (!edge.empty()) arguments.values["edge"] = edge;
  const Scenario& scenario = self.campaign.loaded.scenario;
  ask::require_reduced(scenario, "simulate_many");
  ask::require_blades(scenario, "simulate_many", "Its outputs are those of edges.");
  const EdgePlan&          plan = scenario.edges[ask::edges_of(arguments, scenario).front()];
  std::vector<SweepMoment> moments;
  std::vector<SweepOutput> columns;
  for (const std::string& text : at) moments.push_back(sweep_moment(text));
  for (const std::string& name : outputs) columns.push_back(ask::output_of(name));
  if (values.ndim() != 2 || values.shape(1) != static_cast<py::ssize_t>(names.size()))
    throw py::value_error("values must have one column per name");
  const ManyRows rows{names, values.data(), static_cast<std::size_t>(values.shape(0))};
  double         seconds = 0.0;  // of the library alone, for the benchmark
  auto           done    = run_study(self, [&] {
    const auto  begun = std::chrono::steady_clock::now();
    ManyResults out;
    out.values.resize(rows.count * moments.size() * columns.size());
    out.status.resize(rows.count);
    for_rows_of(self, rows.count, [&](std::size_t first, std::size_t end) {
      const ManyRows piece{names, rows.values + first * names.size(), end - first};
      auto           of_piece = simulate_many(scenario, plan, piece, moments, columns, threads);
      if (piece.count == rows.count) {
        out = std::move(of_piece);
        return;
      }
      const auto at = static_cast<std::ptrdiff_t>(first);
      std::copy(of_piece.values.begin(), of_piece.values.end(),
                             out.values.begin() + at * static_cast<std::ptrdiff_t>(moments.size() * columns.size()));
      std::copy(of_piece.status.begin(), of_piece.status.end(), out.status.begin() + at);
    });
    seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    return out;
  });

  // the array takes over the numbers as they are
  auto*      kept  = new std::vector<double>(std::move(done.values));
  const auto owner = py::capsule(kept, [](void* p) { delete static_cast<std::vector<double>*>(p); });
  const auto n = static_cast<py::ssize_t>(rows.count), m = static_cast<py::ssize_t>(moments.size()),
             k = static_cast<py::ssize_t>(columns.size());
  const py::array_t<double> array({n, m, k}, kept->data(), owner);
  py::list                  units;
  for (const SweepOutput& output : columns) units.append(py::make_tuple(output.units, output.says));
  return py::make_tuple(array, PyGroup::numbers(done.status).attr("astype")("int8"), units, seconds);
}

using Numbers = py::array_t<double, py::array::c_style | py::array::forcecast>;

Numbers design_rows_of(const std::string& method, std::size_t count, unsigned long long seed,
                       const std::vector<std::tuple<double, double, bool>>& ranges) {
  const auto kind = design_kind(method);
  if (!kind) throw py::value_error("method is neither 'sobol' nor 'latin-hypercube'");
  if (ranges.empty() || ranges.size() > most_design_inputs)
    throw py::value_error(fmt::format("a design has 1 to {} inputs", most_design_inputs));
  auto values = unit_design(*kind, count, ranges.size(), seed);
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto& [low, high, log] = ranges[i % ranges.size()];
    values[i]                    = DesignRange{low, high, log}.at(values[i]);
  }
  const auto rows = static_cast<py::ssize_t>(count), columns = static_cast<py::ssize_t>(ranges.size());
  return Numbers({rows, columns}, values.data());
}

py::tuple indices_of(const Numbers& a, const Numbers& b, const Numbers& ab) {
  const auto values = [](const double* from, py::ssize_t n) { return std::vector<double>(from, from + n); };
  const auto n      = a.size();
  if (a.ndim() != 1 || b.ndim() != 1 || ab.ndim() != 2 || n < 1 || b.size() != n || ab.shape(1) != n)
    throw py::value_error("of_a and of_b have one value per row, of_ab as many for each input");
  SobolSample sample{values(a.data(), n), values(b.data(), n), {}};
  for (py::ssize_t i = 0; i < ab.shape(0); ++i) sample.ab.push_back(values(ab.data(i, 0), n));
  std::vector<double> first, total;
  for (const SobolIndex& index : sobol_indices(sample)) {
    first.push_back(index.first);
    total.push_back(index.total);
  }
  return py::make_tuple(PyGroup::numbers(first), PyGroup::numbers(total));
}

}  // namespace

void add_studies(py::module_& m) {
  m.def("design", &design_rows_of, py::arg("method"), py::arg("count"), py::arg("seed"), py::arg("ranges"));
  m.def("sobol_indices", &indices_of, py::arg("of_a"), py::arg("of_b"), py::arg("of_ab"));
  m.attr("status_meanings") = sweep_status_meanings;
  m.def("simulate", &simulate_campaign, py::arg("campaign"), py::arg("options"), py::arg("fit"));
  m.def("answer", &answer_of, py::arg("study"), py::arg("campaign"), py::arg("options"), py::arg("fit"));
  m.def("log_check", &log_check_of_files, py::arg("files"), py::arg("options"));
  m.def("gauge_csv", &gauge_of_csv, py::arg("file"), py::arg("options"));
  m.def("imported_readings", &imported_readings, py::arg("files"), py::arg("options"));
  m.def("sweep", &sweep_campaign, py::arg("campaign"), py::arg("options"), py::arg("fit"));
  m.def("sweep_blocks", &sweep_blocks, py::arg("campaign"), py::arg("options"), py::arg("fit"),
        "Blocks of rows of which shares of a sweep are made.");
  m.def("sweep_layout", &sweep_layout, py::arg("campaign"), py::arg("options"), py::arg("fit"),
        py::arg("shares"));
  m.def(
      "show_progress", [](py::object callable) { Course::shown() = std::move(callable); },
      py::arg("callable"));
  m.def("fit", &fit_campaign, py::arg("campaign"), py::arg("options"));
  m.def("check_gradient", &gradient_check, py::arg("campaign"), py::arg("options"));
  m.def("invented_readings", &invented_readings, py::arg("campaign"), py::arg("options"));
  m.def("simulate_many", &simulate_rows, py::arg("campaign"), py::arg("names"), py::arg("values"),
        py::arg("edge"), py::arg("at"), py::arg("outputs"), py::arg("threads"));
}

}  // namespace arris::python
