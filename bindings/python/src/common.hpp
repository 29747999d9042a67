// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <chrono>
#include <cmath>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include "sim/ask/ask.hpp"
#include "sim/output/columns.hpp"
#include "sim/stop.hpp"

/// What the parts of the extension module share.
namespace arris::python {

namespace py = pybind11;

/// The parts of the module.
void add_errors(py::module_& m);
void add_tables(py::module_& m);
void add_campaign(py::module_& m);
void add_studies(py::module_& m);
void add_density(py::module_& m);
void add_results(py::module_& m);

/// How far some work has come: its thread says it, and the thread of Python shows it.
class Course {
 public:
  void move(const std::string& stage, std::size_t done, std::size_t all) {
    const std::scoped_lock held(lock_);
    stage_ = stage;
    done_  = done;
    all_   = all;
    moved_ = true;
  }
  /// Calls what `show_progress` was given, where something has moved since; with the interpreter lock. False where it raised, whose error
  /// then stays set.
  [[nodiscard]] bool show();

  /// What is called with stage, done and all; may be None. Never destroyed: Python may have ended before.
  static py::object& shown() {
    static auto* const callable = new py::object(py::none());
    return *callable;
  }

 private:
  std::mutex  lock_;
  std::string stage_;
  std::size_t done_ = 0, all_ = 0;
  bool        moved_ = false;
};

inline bool Course::show() {
  std::unique_lock held(lock_);
  if (!moved_ || shown().is_none()) return true;
  moved_           = false;
  const auto stage = stage_;
  const auto done = done_, all = all_;
  held.unlock();
  try {
    shown()(stage, done, all);
  } catch (py::error_already_set& error) {
    error.restore();
    return false;
  }
  return true;
}

/// Runs `work` on a thread of its own, with the interpreter lock released, so that other threads of Python go on. Meanwhile
/// signals are looked for some twenty times a second: Ctrl-C stops the work and comes as KeyboardInterrupt; and `work(course)` tells how
/// far it has come. Errors of `work` are thrown on.
template <class Work>
auto run_stoppable(Work&& work) {
  using Result = decltype(work(std::declval<Course&>()));
  Result                  result{};
  Course                  course;
  std::exception_ptr      failure;
  StopWish                wish;
  std::mutex              lock;
  std::condition_variable ended;
  bool                    done        = false;
  bool                    interrupted = false;
  {
    const py::gil_scoped_release released;
    std::thread                  worker([&] {
      const Listening listening(&wish);
      try {
        result = work(course);
      } catch (...) {
        failure = std::current_exception();
      }
      const std::scoped_lock held(lock);
      done = true;
      ended.notify_one();
    });
    std::unique_lock             held(lock);
    while (!ended.wait_for(held, std::chrono::milliseconds(50), [&] { return done; })) {
      if (interrupted) continue;
      held.unlock();
      {
        const py::gil_scoped_acquire acquired;
        interrupted = PyErr_CheckSignals() != 0 || !course.show();
        // the error of Python stays set on this thread until it is thrown below
      }
      if (interrupted) wish.make();
      held.lock();
    }
    held.unlock();
    worker.join();
  }
  if (interrupted) throw py::error_already_set();
  if (failure) std::rethrow_exception(failure);
  if (!course.show()) throw py::error_already_set();  // its end
  return result;
}

/// Options as a study takes them, from keywords of Python: dict of name (with - or _) to text, or to a list of texts.
[[nodiscard]] Arguments arguments_of(const py::dict& options);

/// A result as Python takes it: what Hdf5Group is to a file. A node is a dict of `attributes`, `axes`, `data` and `groups`.
class PyGroup {
 public:
  PyGroup() : node_(empty()) {}
  explicit PyGroup(py::dict node) : node_(std::move(node)) {}

  [[nodiscard]] PyGroup group(const std::string& name) const {
    py::dict children       = node_["groups"];
    py::dict child          = empty();
    children[py::str(name)] = child;
    return PyGroup(child);
  }
  void attribute(const std::string& name, const std::string& text) const {
    attributes()[py::str(name)] = text;
  }
  /// An integer where `name` holds whole numbers, as in files.
  void attribute(const std::string& name, double value) const {
    attributes()[py::str(name)] = kept(name, {value}).attr("item")();
  }

  void axis(const std::string& name, std::size_t size, const std::string& long_name) const {
    std::vector<double> values(size);
    for (std::size_t i = 0; i < size; ++i) values[i] = static_cast<double>(i);
    axes()[py::str(name)] = py::make_tuple(numbers(values).attr("astype")("int64"), "1", long_name);
  }
  void axis(const std::string& name, const std::vector<std::string>& labels,
            const std::string& long_name) const {
    axes()[py::str(name)] = py::make_tuple(labels, "", long_name);
  }
  void axis(const std::string& name, const std::vector<double>& values, const std::string& units,
            const std::string& long_name) const {
    axes()[py::str(name)] = py::make_tuple(numbers(values), units, long_name);
  }
  void data(const std::string& name, const std::vector<double>& values, const std::string& along,
            const std::string& units, const std::string& long_name) const {
    put(name, py::make_tuple(py::make_tuple(along), kept(name, values), units, long_name));
  }
  void data(const std::string& name, const std::vector<std::string>& values, const std::string& along,
            const std::string& long_name) const {
    put(name, py::make_tuple(py::make_tuple(along), values, "", long_name));
  }
  void data(const std::string& name, const std::vector<double>& values, const std::string& along_rows,
            const std::string& along_columns, const std::string& units, const std::string& long_name) const {
    put(name, py::make_tuple(py::make_tuple(along_rows, along_columns), numbers(values), units, long_name));
  }
  /// Along axes of this group.
  void data(const std::string& name, const std::vector<double>& values, const std::vector<std::string>& along,
            const std::string& units, const std::string& long_name) const {
    put(name, py::make_tuple(py::tuple(py::cast(along)), numbers(values), units, long_name));
  }
  /// Marks of one byte.
  void marks(const std::string& name, const std::vector<double>& values,
             const std::vector<std::string>& along, const std::string& long_name) const {
    put(name,
        py::make_tuple(py::tuple(py::cast(along)), numbers(values).attr("astype")("int8"), "", long_name));
  }

  /// Integers where `name` holds whole numbers (columns.hpp) and none of them is missing, as files keep them.
  [[nodiscard]] static py::object kept(const std::string& name, const std::vector<double>& values) {
    const bool whole =
        holds_whole_numbers(name) && std::all_of(values.begin(), values.end(), [](double value) {
          return value == std::trunc(value) && std::abs(value) < 0x1p53;
        });
    return whole ? py::object(numbers(values).attr("astype")("int64")) : py::object(numbers(values));
  }

  [[nodiscard]] const py::dict& node() const { return node_; }

  [[nodiscard]] static py::array_t<double> numbers(const std::vector<double>& values) {
    return py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data());
  }

 private:
  static py::dict empty() {
    py::dict node;
    for (const char* part : {"attributes", "axes", "data", "groups"}) node[part] = py::dict();
    return node;
  }
  [[nodiscard]] py::dict attributes() const { return node_["attributes"]; }
  [[nodiscard]] py::dict axes() const { return node_["axes"]; }
  void                   put(const std::string& name, const py::tuple& what) const {
                      py::dict data       = node_["data"];
                      data[py::str(name)] = what;
  }

  py::dict node_;
};

}  // namespace arris::python
