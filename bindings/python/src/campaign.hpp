// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include <tbb/task_arena.h>

#include "common.hpp"
#include "sim/input/files.hpp"

namespace arris::python {

/// A wear law that is a function of Python. Each call takes the interpreter lock; so a study with one runs on a single thread, and
/// the state that the interpreter keeps of a thread is made once (run_study). What the function raises is kept, the rate is NaN, and
/// whoever asked the study raises it again when it has ended.
///
/// A law may take arrays, all arguments of one length, and give an array as long: then many histories ask it together (law_batch.hpp).
///
/// A law may be a function of C instead, double f(double, …), at an address: then any thread calls it, and there is no interpreter
/// on the way.
class PyLaw {
 public:
  static constexpr std::size_t most_native_arguments = 16;
  /// `address`: of a function of C; 0: there is none, and `function` is called. Throws py::value_error where it has too many arguments.
  PyLaw(std::string name, py::object function, std::vector<std::string> arguments, std::uintptr_t address,
        bool takes_arrays);
  ~PyLaw();
  PyLaw(const PyLaw&)            = delete;
  PyLaw& operator=(const PyLaw&) = delete;

  [[nodiscard]] const std::string&              name() const { return name_; }
  [[nodiscard]] py::object                      function() const { return *function_; }
  [[nodiscard]] const std::vector<std::string>& arguments() const { return arguments_; }
  [[nodiscard]] bool                            is_native() const { return native_ != nullptr; }
  [[nodiscard]] bool                            takes_arrays() const { return takes_arrays_; }
  /// Of a law that takes arrays: rates at `count` places; `values` by argument, then by place. NaN once it has raised something.
  [[nodiscard]] std::vector<double> rates(const std::vector<double>& values, std::size_t count);
  /// As the library takes it.
  [[nodiscard]] static laws::ForeignRate foreign(const std::shared_ptr<PyLaw>& law);
  /// Raises what the function raised last, if it did.
  void raise_if_failed();

 private:
  [[nodiscard]] double rate(const double* values);

  using Native = double (*)(std::uintptr_t, const double*);

  std::string                 name_;
  std::vector<std::string>    arguments_;
  std::unique_ptr<py::object> function_;
  std::unique_ptr<py::tuple>  keywords_;
  std::uintptr_t              address_      = 0;
  Native                      native_       = nullptr;  ///< calls the function at an address
  bool                        takes_arrays_ = false;
  std::exception_ptr          failure_;  ///< guarded by the interpreter lock
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
  /// Whether its histories call the interpreter.
  [[nodiscard]] bool needs_interpreter() const { return law && !law->is_native(); }
};

/// Runs `work`, whose loops stay on this thread (parallel.hpp): threads that wait for one lock only hinder each other.
template <class Work>
auto run_on_one_thread(Work&& work) {
  tbb::task_arena alone(1);
  return alone.execute(std::forward<Work>(work));
}

/// Runs `work`, which may take a Course, as run_stoppable does; then raises what a wear law of Python raised.
template <class Work>
auto run_study(const PyCampaign& of, Work&& work) {
  try {
    auto result = run_stoppable([&](Course& course) {
      const auto told = [&] {
        if constexpr (std::is_invocable_v<Work&, Course&>) {
          return work(course);
        } else {
          return work();
        }
      };
      if (!of.needs_interpreter()) return told();
      // makes the interpreter's state of this thread, which a call would make and drop
      const py::gil_scoped_acquire kept;
      const py::gil_scoped_release released;
      return run_on_one_thread(told);
    });
    of.raise_if_failed();
    return result;
  } catch (const Error&) {
    of.raise_if_failed();  // it is the cause
    throw;
  }
}

}  // namespace arris::python
