// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "common.hpp"
#include "sim/input/files.hpp"

namespace arris::python {

/// A wear law that is a function of Python. Any thread may ask it: each call takes the interpreter lock. What the function raises
/// is kept, the rate is NaN, and whoever asked the study raises it again when it has ended.
class PyLaw {
 public:
  PyLaw(std::string name, py::function function, std::vector<std::string> arguments);
  ~PyLaw();
  PyLaw(const PyLaw&)            = delete;
  PyLaw& operator=(const PyLaw&) = delete;

  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] py::function       function() const { return *function_; }
  /// As the library takes it.
  [[nodiscard]] static laws::ForeignRate foreign(const std::shared_ptr<PyLaw>& law);
  /// Raises what the function raised last, if it did.
  void raise_if_failed();

 private:
  [[nodiscard]] double rate(const double* values);

  std::string                   name_;
  std::vector<std::string>      arguments_;
  std::unique_ptr<py::function> function_;
  std::unique_ptr<py::tuple>    keywords_;
  std::exception_ptr            failure_;  ///< guarded by the interpreter lock
};

/// A campaign with the texts that it came from, so that it can be made again.
struct PyCampaign {
  Campaign               campaign;
  CampaignTexts          texts;
  std::shared_ptr<PyLaw> law;  ///< may be null

  [[nodiscard]] Campaign with(const std::vector<NamedMaterial>& also) const;
  void                   raise_if_failed() const {
                      if (law) law->raise_if_failed();
  }
};

/// Runs `work` as run_stoppable does; then raises what a wear law of Python raised.
template <class Work>
auto run_study(const PyCampaign& of, Work&& work) {
  try {
    auto result = run_stoppable(std::forward<Work>(work));
    of.raise_if_failed();
    return result;
  } catch (const Error&) {
    of.raise_if_failed();  // it is the cause
    throw;
  }
}

}  // namespace arris::python
