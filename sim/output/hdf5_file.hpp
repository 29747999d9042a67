// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "sim/output/safe_file.hpp"

/// A thin layer over HDF5's C library: files that xarray and h5py open with dimensions, coordinates and units.
///
/// Every axis is a dimension scale; every data set is attached to the scales of its axes; `units` and `long_name` are
/// variable-length UTF-8. A file appears under its name only when it is complete. Errors of the library come as
/// arris::Error (Exit::data, "hdf5") with the library's own account of them.
namespace arris {

class Hdf5Group {
 public:
  /// Child group, created.
  [[nodiscard]] Hdf5Group group(const std::string& name) const;

  void attribute(const std::string& name, const std::string& text) const;
  void attribute(const std::string& name, double value) const;

  /// The axis `name` of this group: its values 0 … size − 1, or names. Write it before the data along it.
  void axis(const std::string& name, std::size_t size, const std::string& long_name) const;
  void axis(const std::string& name, const std::vector<std::string>& labels,
            const std::string& long_name) const;

  /// Data along the axis `along` of this group.
  void data(const std::string& name, const std::vector<double>& values, const std::string& along,
            const std::string& units, const std::string& long_name) const;
  void data(const std::string& name, const std::vector<std::string>& values, const std::string& along,
            const std::string& long_name) const;
  /// Row by row along two axes of this group.
  void data(const std::string& name, const std::vector<double>& values, const std::string& along_rows,
            const std::string& along_columns, const std::string& units, const std::string& long_name) const;

 private:
  friend class Hdf5Writer;
  friend class Hdf5Reader;
  struct Handle;
  explicit Hdf5Group(std::shared_ptr<Handle> handle) : handle_(std::move(handle)) {}
  std::shared_ptr<Handle> handle_;
};

class Hdf5Writer {
 public:
  explicit Hdf5Writer(const std::filesystem::path& path);
  [[nodiscard]] const Hdf5Group& root() const { return root_; }
  /// Closes the file and puts it in its place. Without this the file is dropped.
  void finish();

 private:
  SafeFile  file_;
  Hdf5Group root_;
};

/// Reads what Hdf5Writer wrote.
class Hdf5Reader {
 public:
  explicit Hdf5Reader(const std::filesystem::path& path);
  [[nodiscard]] std::vector<std::string> groups(
      const std::string& group) const;  ///< names of the child groups
  [[nodiscard]] std::vector<double>      numbers(const std::string& path) const;
  [[nodiscard]] std::vector<std::string> texts(const std::string& path) const;
  [[nodiscard]] std::string              attribute(const std::string& object, const std::string& name) const;
  [[nodiscard]] double number_attribute(const std::string& object, const std::string& name) const;
  /// Whether there is a group or data set of that path.
  [[nodiscard]] bool has(const std::string& path) const;

 private:
  std::shared_ptr<Hdf5Group::Handle> handle_;
};

}  // namespace arris
