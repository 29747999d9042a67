// SPDX-License-Identifier: MIT
#include "campaign.hpp"

#include <algorithm>

#include <fmt/format.h>
#include <pybind11/eigen.h>

#include "law_batch.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/input/given_fields.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/input/table_reader.hpp"
#include "sim/laws/wear/formula.hpp"
#include "sim/wording.hpp"

namespace arris::python {

namespace {

template <std::size_t... I>
double call_native(std::uintptr_t address, const double* values, std::index_sequence<I...>) {
  using Function = double (*)(decltype(static_cast<void>(I), double{})...);
  // Python knows the place of a function only as a number
  return reinterpret_cast<Function>(address)(values[I]...);  // NOLINT(performance-no-int-to-ptr)
}

template <std::size_t Count>
double call_native(std::uintptr_t address, const double* values) {
  return call_native(address, values, std::make_index_sequence<Count>{});
}

// what calls a function of that many arguments
template <std::size_t... Count>
auto native_caller(std::size_t arguments, std::index_sequence<Count...>) {
  using Caller                   = double (*)(std::uintptr_t, const double*);
  static constexpr Caller each[] = {&call_native<Count>...};
  return arguments < sizeof...(Count) ? each[arguments] : nullptr;
}

}  // namespace

PyLaw::PyLaw(std::string name, py::object function, std::vector<std::string> arguments,
             std::uintptr_t address, bool takes_arrays)
    : name_(std::move(name)),
      arguments_(std::move(arguments)),
      function_(std::make_unique<py::object>(std::move(function))),
      keywords_(std::make_unique<py::tuple>(py::cast(arguments_))),
      address_(address),
      takes_arrays_(takes_arrays) {
  if (address == 0) return;
  native_ = native_caller(arguments_.size(), std::make_index_sequence<most_native_arguments + 1>{});
  if (native_ == nullptr)
    throw py::value_error("a compiled wear law can have " + std::to_string(most_native_arguments) +
                          " arguments at most");
}

PyLaw::~PyLaw() {
  const py::gil_scoped_acquire acquired;  // the last one to hold it may be any thread
  function_.reset();
  keywords_.reset();
  failure_ = nullptr;
}

laws::ForeignRate PyLaw::foreign(const std::shared_ptr<PyLaw>& law) {
  return {law->name_, law->arguments_, [law](const double* values) { return law->rate(values); }};
}

double PyLaw::rate(const double* values) {
  if (native_ != nullptr) return native_(address_, values);
  if (takes_arrays_) {
#ifdef ARRIS_WITH_FIBERS
    if (LawBatch* const batch = LawBatch::current()) return batch->rate(values);
#endif
    return rates({values, values + arguments_.size()}, 1).front();
  }
  const py::gil_scoped_acquire acquired;
  if (failure_) return not_given;
  try {
    constexpr std::size_t           most = laws::most_formula_values;
    std::array<PyObject*, most + 1> given{};
    const std::size_t               count = arguments_.size();
    for (std::size_t i = 0; i < count; ++i) given[i + 1] = PyFloat_FromDouble(values[i]);
    const auto out = py::reinterpret_steal<py::object>(PyObject_Vectorcall(
        function_->ptr(), given.data() + 1, PY_VECTORCALL_ARGUMENTS_OFFSET, keywords_->ptr()));
    for (std::size_t i = 0; i < count; ++i) Py_XDECREF(given[i + 1]);
    if (!out) throw py::error_already_set();
    const double rate = PyFloat_AsDouble(out.ptr());
    if (rate == -1.0 && PyErr_Occurred() != nullptr) throw py::error_already_set();
    return rate;
  } catch (...) {
    failure_ = std::current_exception();
    return not_given;
  }
}

std::vector<double> PyLaw::rates(const std::vector<double>& values, std::size_t count) {
  const py::gil_scoped_acquire acquired;
  std::vector<double>          out(count, not_given);
  if (failure_) return out;
  try {
    const auto              size = static_cast<py::ssize_t>(count);
    std::vector<py::object> arrays;
    std::vector<PyObject*>  given(1, nullptr);
    for (std::size_t a = 0; a < arguments_.size(); ++a) {
      arrays.push_back(py::array_t<double>(size, values.data() + a * count));
      given.push_back(arrays.back().ptr());
    }
    const auto returned = py::reinterpret_steal<py::object>(PyObject_Vectorcall(
        function_->ptr(), given.data() + 1, PY_VECTORCALL_ARGUMENTS_OFFSET, keywords_->ptr()));
    if (!returned) throw py::error_already_set();
    const auto rates = py::cast<py::array_t<double, py::array::c_style | py::array::forcecast>>(returned);
    if (rates.ndim() != 1 || rates.size() != size)
      throw py::value_error(fmt::format(
          "the wear law {} was given arrays of {} and did not give an array as long", name_, count));
    std::copy_n(rates.data(), count, out.begin());
  } catch (...) {
    failure_ = std::current_exception();
  }
  return out;
}

void PyLaw::raise_if_failed() {
  if (!failure_) return;
  std::rethrow_exception(std::exchange(failure_, nullptr));
}

Campaign PyCampaign::with(const std::vector<NamedMaterial>& also) const {
  std::vector<laws::ForeignRate> functions;
  if (law) functions.push_back(PyLaw::foreign(law));
  return load_campaign_texts(texts, also, functions);
}

namespace {

using Texts = std::vector<std::pair<std::string, std::string>>;

std::unique_ptr<PyCampaign> from_texts(const Texts& files, const std::string& readings_path,
                                       const std::string& readings_text, std::shared_ptr<PyLaw> law,
                                       bool confined) {
  auto out   = std::make_unique<PyCampaign>();
  out->texts = {files, readings_path, readings_text, confined ? Reach::own_folder : Reach::anywhere};
  out->law   = std::move(law);
  try {
    out->campaign = out->with({});
  } catch (const Error&) {
    out->raise_if_failed();
    throw;
  }
  out->raise_if_failed();
  out->texts = {out->campaign.loaded.texts, out->campaign.readings_path, out->campaign.readings_text,
                out->texts.reach};
  return out;
}

py::dict step_dict(const Step& step) {
  py::dict out;
  std::visit(
      [&]<class S>(const S& s) {
        out["step"] = S::verb;
        for_each_given(
            s, [&](const Field& f, const auto& member) { out[py::str(std::string(f.key))] = member; });
      },
      step);
  return out;
}

py::list edges_of(const PyCampaign& self) {
  py::list out;
  for (const EdgePlan& plan : self.campaign.loaded.scenario.edges) {
    py::list steps;
    for (const Step& step : plan.steps) steps.append(step_dict(step));
    py::dict edge;
    edge["name"]  = plan.name;
    edge["tool"]  = plan.tool_name;
    edge["route"] = plan.route;
    edge["steps"] = steps;
    out.append(edge);
  }
  return out;
}

py::list parameters_of(const PyCampaign& self) {
  py::list      out;
  Model<double> model    = self.campaign.loaded.scenario.model;
  const auto    fittable = fittable_parameters(model);
  for_each_number(model, [&](const std::string& path, const Field& field, const double& number) {
    const auto origin = self.campaign.loaded.origins.find(path);
    const bool known  = origin != self.campaign.loaded.origins.end();
    py::dict   row;
    row["path"]     = path;
    row["value"]    = number;
    row["unit"]     = unit_for_files(field.unit_symbol());
    row["low"]      = field.low;
    row["high"]     = field.high;
    row["says"]     = std::string(field.doc);
    row["status"]   = known && !origin->second.status.empty() ? origin->second.status
                      : known && origin->second.line > 0      ? "stated"
                                                              : std::string(field.status);
    row["source"]   = known ? origin->second.source : std::string{};
    row["fittable"] = std::find(fittable.begin(), fittable.end(), path) != fittable.end();
    out.append(row);
  });
  return out;
}

std::vector<std::string> warnings_of(const PyCampaign& self) {
  std::vector<std::string> out;
  for (const Diagnostic& d : self.campaign.loaded.warnings) out.push_back(d.text());
  return out;
}

// the same configuration with another wear law, as one text
std::string with_law(const PyCampaign& self, const std::string& name,
                     const std::vector<std::string>& arguments, const py::dict& declared) {
  Loaded                              loaded = self.campaign.loaded;
  std::vector<laws::FormulaParameter> parameters;
  std::vector<double>                 values(declared.size());
  for (const auto& [key, value] : declared) {
    const py::dict         p = py::cast<py::dict>(value);
    laws::FormulaParameter parameter;
    parameter.name = py::cast<std::string>(key);
    parameter.unit = py::cast<std::string>(p["unit"]);
    if (!p["low"].is_none()) parameter.low = py::cast<double>(p["low"]);
    if (!p["high"].is_none()) parameter.high = py::cast<double>(p["high"]);
    if (!p["factor"].is_none()) parameter.factor = py::cast<double>(p["factor"]);
    parameter.says = py::cast<std::string>(p["says"]);
    parameters.push_back(std::move(parameter));
  }
  const laws::ForeignRate shape{name, arguments, [](const double*) { return 0.0; }};
  laws::FormulaFault      fault;
  laws::Formula<double>   law;
  law.program = laws::foreign_formula(shape, parameters, fault);
  if (law.program == nullptr) {
    throw Error(Exit::usage,
                Diagnostic{.code    = fault.code,
                           .what    = fault.what,
                           .allowed = fault.known.empty() ? fault.allowed : or_list(fault.known, 40),
                           .next    = fault.next,
                           .key     = "wear." + fault.unknown});
  }
  const auto of_wear = [](const std::string& path) { return path.rfind("wear.", 0) == 0; };
  for (const auto& p : law.program->parameters())
    law.values.push_back(py::cast<double>(py::cast<py::dict>(declared[py::str(p.name)])["value"]));
  loaded.scenario.model.wear.take(laws::Formula<double>::law_name);
  *loaded.scenario.model.wear.formula() = law;
  loaded.fit.laws.clear();  // a law that is handed over is stated, as one in [wear] is
  std::erase_if(loaded.origins, [&](const auto& item) { return of_wear(item.first); });
  std::erase_if(loaded.fit.free, of_wear);
  std::erase_if(loaded.fit.priors, [&](const auto& item) { return of_wear(item.first); });
  return resolved_toml(loaded, false);
}

// what arris/result.py makes of the file of a fit (earlier_of)
EarlierLaw earlier_law_of(const py::dict& d) {
  using Numbers = std::vector<double>;
  using Texts   = std::vector<std::string>;
  EarlierLaw law;
  law.name          = py::cast<std::string>(d["name"]);
  law.wear_law      = py::cast<std::string>(d["wear_law"]);
  law.typical_um    = py::cast<double>(d["typical_um"]);
  law.paths         = py::cast<Texts>(d["paths"]);
  law.at_end        = py::cast<Numbers>(d["at_end"]);
  law.spreads       = py::cast<Texts>(d["spreads"]);
  law.log_spread    = py::cast<Numbers>(d["log_spread"]);
  law.log_spread_sd = py::cast<Numbers>(d["log_spread_sd"]);
  const auto shape  = py::cast<Texts>(d["prior_shape"]);
  const auto centre = py::cast<Numbers>(d["prior_centre"]), spread = py::cast<Numbers>(d["prior_spread"]),
             shift = py::cast<Numbers>(d["prior_shift"]), u = py::cast<Numbers>(d["scaled"]);
  for (std::size_t i = 0; i < law.paths.size(); ++i)
    law.priors.push_back({prior_shape_of(shape.at(i)), centre.at(i), spread.at(i), shift.at(i)});
  law.u          = Eigen::Map<const Eigen::VectorXd>(u.data(), static_cast<Eigen::Index>(u.size()));
  law.covariance = py::cast<Eigen::MatrixXd>(d["covariance"]);
  check_sizes(law);
  return law;
}

void take_earlier(PyCampaign& self, const py::dict& fit) {
  auto earlier    = std::make_unique<EarlierFit>();
  earlier->source = py::cast<std::string>(fit["source"]);
  earlier->sha1   = py::cast<std::string>(fit["sha1"]);
  earlier->edges  = py::cast<int>(fit["edges"]);
  for (const py::handle law : py::cast<py::list>(fit["laws"]))
    earlier->laws.push_back(earlier_law_of(py::cast<py::dict>(law)));
  earlier->given = {py::cast<std::vector<std::string>>(fit["given_paths"]),
                    py::cast<std::vector<double>>(fit["given_values"]),
                    py::cast<std::string>(fit["wear_law"])};
  for (const py::handle row : py::cast<py::list>(fit["readings"])) {
    const auto r = py::cast<py::tuple>(row);
    earlier->readings.push_back({py::cast<std::string>(r[0]), py::cast<std::string>(r[1]),
                                 py::cast<std::string>(r[2]), py::cast<double>(r[3])});
  }
  FitSettings& settings = self.campaign.loaded.fit;
  settings.earlier = std::make_shared<const EarlierFit>(without_known(std::move(*earlier), settings.anew));
}

}  // namespace

void add_campaign(py::module_& m) {
  py::class_<PyLaw, std::shared_ptr<PyLaw>>(m, "Law")
      .def(py::init<std::string, py::object, std::vector<std::string>, std::uintptr_t, bool>(),
           py::arg("name"), py::arg("function"), py::arg("arguments"), py::arg("address"),
           py::arg("takes_arrays"))
      .def_property_readonly("name", &PyLaw::name)
      .def_property_readonly("arguments", &PyLaw::arguments)
      .def_property_readonly("function", &PyLaw::function)
      .def_property_readonly("takes_arrays", &PyLaw::takes_arrays);
  py::class_<PyCampaign>(m, "Campaign")
      .def(py::init(&from_texts), py::arg("files"), py::arg("readings_path"), py::arg("readings_text"),
           py::arg("law"), py::arg("confined") = false)
      .def_property_readonly(
          "earlier_fit",
          [](const PyCampaign& c) {
            const Loaded& loaded = c.campaign.loaded;
            return loaded.fit.from.empty() ? std::string() : earlier_fit_path(loaded, c.texts.reach).string();
          })
      .def("take_earlier", &take_earlier, py::arg("fit"))
      .def_property_readonly("files", [](const PyCampaign& c) { return c.texts.files; })
      .def_property_readonly("readings_path", [](const PyCampaign& c) { return c.texts.readings_path; })
      .def_property_readonly("readings_text", [](const PyCampaign& c) { return c.texts.readings_text; })
      .def_property_readonly("title", [](const PyCampaign& c) { return c.campaign.loaded.scenario.title; })
      .def_property_readonly("warnings", &warnings_of)
      .def_property_readonly("reading_count", [](const PyCampaign& c) { return c.campaign.readings.size(); })
      .def("edges", &edges_of)
      .def("parameters", &parameters_of)
      .def("usual_parameters",
           [](const PyCampaign& c) {
             return usual_parameters(c.campaign.loaded.scenario, c.campaign.readings);
           })
      .def("readings_csv",
           [](const PyCampaign& c) {
             return readings_text(c.campaign.readings, c.campaign.loaded.scenario, {});
           })
      .def(
          "toml", [](const PyCampaign& c, bool origins) { return resolved_toml(c.campaign.loaded, origins); },
          py::arg("origins"))
      .def("toml_with_law", &with_law, py::arg("name"), py::arg("arguments"), py::arg("parameters"));
  m.def(
      "read_text", [](const std::string& path) { return read_text(path, Exit::usage); }, py::arg("path"));
}

}  // namespace arris::python
