// SPDX-License-Identifier: MIT
#include <limits>

#include "campaign.hpp"
#include "sim/fit/log_density.hpp"
#include "sim/parallel.hpp"

namespace arris::python {
namespace {

using Matrix = py::array_t<double, py::array::c_style | py::array::forcecast>;

/// The posterior density of a campaign; keeps all that it works on.
class PyDensity {
 public:
  PyDensity(const PyCampaign& campaign, const py::dict& options)
      : law_(campaign.law), model_(make(campaign, options)), posterior_(*model_) {}

  [[nodiscard]] const LogPosterior&  posterior() const { return posterior_; }
  [[nodiscard]] const CampaignModel& model() const { return *model_; }

  // rows of x, each of `size` numbers; one value per row, and slopes in the rows of the second
  py::tuple values(const Matrix& x, Eigen::Index size, bool with_slopes, bool marginal) const {
    if (x.ndim() != 2 || x.shape(1) != size)
      throw py::value_error("each x must have " + std::to_string(size) + " numbers");
    const auto          n = static_cast<std::size_t>(x.shape(0));
    py::array_t<double> value(static_cast<py::ssize_t>(n));
    py::array_t<double> slopes(
        {static_cast<py::ssize_t>(with_slopes ? n : 0), static_cast<py::ssize_t>(size)});
    const double* in       = x.data();
    double*       out      = value.mutable_data();
    double*       by       = slopes.mutable_data();
    const auto    work_out = [&] {
      if (marginal) {
        const Eigen::Map<const Eigen::MatrixXd> columns(in, size, static_cast<Eigen::Index>(n));
        Eigen::Map<Eigen::VectorXd>(out, static_cast<Eigen::Index>(n)) = posterior_.marginals_at(columns);
      }
      for_each_index(marginal ? 0 : n, 0, [&](std::size_t i) {
        const Eigen::VectorXd at =
            Eigen::Map<const Eigen::VectorXd>(in + i * static_cast<std::size_t>(size), size);
        Eigen::VectorXd slope;
        out[i] = posterior_.at(at, with_slopes ? &slope : nullptr);
        if (with_slopes) Eigen::Map<Eigen::VectorXd>(by + i * static_cast<std::size_t>(size), size) = slope;
      });
    };
    run_released(work_out);
    return py::make_tuple(value, slopes);
  }

  [[nodiscard]] Eigen::VectorXd vector(const Matrix& x) const {
    const auto size = x.ndim() == 1 ? x.shape(0) : py::ssize_t{0};
    if (size != posterior_.size() && size != posterior_.marginal_size())
      throw py::value_error("x must have " + std::to_string(posterior_.size()) + " numbers, or " +
                            std::to_string(posterior_.marginal_size()) + " without effects");
    return Eigen::Map<const Eigen::VectorXd>(x.data(), size);
  }

  // at each row of x: log predictions, residuals, log likelihoods (n to a row), and slopes of the first two where they are asked for
  py::dict observed(const Matrix& x, bool with_slopes) const {
    if (x.ndim() != 2 || x.shape(1) != posterior_.size())
      throw py::value_error("each x must have " + std::to_string(posterior_.size()) + " numbers");
    const auto rows = static_cast<std::size_t>(x.shape(0)), size = static_cast<std::size_t>(x.shape(1));
    std::vector<LogPosterior::Observed> found(rows);
    const double*                       in       = x.data();
    const auto                          work_out = [&] {
      for_each_index(rows, 0, [&](std::size_t i) {
        found[i] = posterior_.observed(
                                     Eigen::Map<const Eigen::VectorXd>(in + i * size, static_cast<Eigen::Index>(size)), with_slopes);
      });
    };
    run_released(work_out);
    const auto n   = static_cast<py::ssize_t>(model_->size());
    const auto all = [&](auto member) {
      py::array_t<double> out({static_cast<py::ssize_t>(rows), n});
      for (std::size_t i = 0; i < rows; ++i)
        std::copy_n((found[i].*member).data(), n, out.mutable_data(static_cast<py::ssize_t>(i), 0));
      return out;
    };
    const auto slopes = [&](auto member) {
      py::array_t<double> out({static_cast<py::ssize_t>(rows), n, static_cast<py::ssize_t>(size)});
      for (std::size_t i = 0; i < rows; ++i)
        Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
            out.mutable_data(static_cast<py::ssize_t>(i), 0, 0), n, static_cast<Eigen::Index>(size)) =
            found[i].*member;
      return out;
    };
    py::dict out;
    out["predicted"]      = all(&LogPosterior::Observed::predicted);
    out["residuals"]      = all(&LogPosterior::Observed::residuals);
    out["log_likelihood"] = all(&LogPosterior::Observed::log_likelihood);
    if (with_slopes) {
      out["predicted_slopes"] = slopes(&LogPosterior::Observed::predicted_slopes);
      out["residual_slopes"]  = slopes(&LogPosterior::Observed::residual_slopes);
    }
    return out;
  }

  // a row for each observation: edge, moment, kind, unit, log of what was measured, known standard deviation (0: that of readings)
  [[nodiscard]] py::list observations() const {
    py::list out;
    for (const Observation& o : model_->observations()) {
      const Reading& r         = model_->readings()[static_cast<std::size_t>(o.reading)];
      const bool     is_force  = o.kind == Observation::Kind::reading;
      const bool     is_weight = o.kind == Observation::Kind::mass_loss;
      const char*    kind      = is_force                                   ? "reading"
                                 : is_weight                                ? "mass loss"
                                 : o.kind == Observation::Kind::apex_radius ? "apex radius"
                                                                            : "recession";
      out.append(py::make_tuple(model_->scenario().edges[static_cast<std::size_t>(o.edge)].name,
                                r.moment_name, kind, r.operator_name, r.filament_lot, r.line,
                                is_force    ? "N"
                                : is_weight ? "mg"
                                            : "um",
                                o.log_value, o.known_sd));
    }
    return out;
  }

 private:
  // with the interpreter lock released; then raises what a wear law of Python raised
  template <class Work>
  void run_released(const Work& work) const {
    {
      const py::gil_scoped_release released;
      if (law_ && !law_->is_native()) {
        run_on_one_thread(work);
      } else {
        work();
      }
    }
    if (law_) law_->raise_if_failed();
  }

  static std::unique_ptr<CampaignModel> make(const PyCampaign& campaign, const py::dict& options) {
    ask::require_readings(campaign.campaign, campaign.texts.files.front().first);
    return ask::campaign_model(arguments_of(options), campaign.campaign);
  }

  std::shared_ptr<PyLaw>         law_;
  std::unique_ptr<CampaignModel> model_;
  LogPosterior                   posterior_;
};

py::array_t<double> array_of(const Eigen::VectorXd& x) {
  return py::array_t<double>(static_cast<py::ssize_t>(x.size()), x.data());
}

py::array_t<double> table_of(const Eigen::MatrixXd& w) {
  py::array_t<double> out({w.rows(), w.cols()});
  for (Eigen::Index i = 0; i < w.rows(); ++i)
    for (Eigen::Index j = 0; j < w.cols(); ++j) out.mutable_at(i, j) = w(i, j);
  return out;
}

}  // namespace

void add_density(py::module_& m) {
  py::class_<PyDensity>(m, "Density")
      .def(py::init<const PyCampaign&, const py::dict&>(), py::arg("campaign"), py::arg("options"))
      .def_property_readonly("names", [](const PyDensity& d) { return d.posterior().names(); })
      .def_property_readonly("size", [](const PyDensity& d) { return d.posterior().size(); })
      .def_property_readonly("marginal_size",
                             [](const PyDensity& d) { return d.posterior().marginal_size(); })
      .def_property_readonly("rules", [](const PyDensity& d) { return table_of(d.posterior().rules()); })
      .def_property_readonly("centring",
                             [](const PyDensity& d) { return table_of(d.posterior().centring()); })
      .def_property_readonly("start", [](const PyDensity& d) { return array_of(d.posterior().start()); })
      .def("values", &PyDensity::values, py::arg("x"), py::arg("size"), py::arg("with_slopes"),
           py::arg("marginal"))
      .def("observed", &PyDensity::observed, py::arg("x"), py::arg("with_slopes"))
      .def("observations", &PyDensity::observations)
      .def(
          "log_prior",
          [](const PyDensity& d, const Matrix& x) { return d.posterior().log_prior(d.vector(x)); },
          py::arg("x"))
      .def(
          "natural",
          [](const PyDensity& d, const Matrix& x) { return array_of(d.posterior().natural(d.vector(x))); },
          py::arg("x"))
      .def(
          "scaled",
          [](const PyDensity& d, const Matrix& x) { return array_of(d.posterior().scaled(d.vector(x))); },
          py::arg("x"));
}

}  // namespace arris::python
