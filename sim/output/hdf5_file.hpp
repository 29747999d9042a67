// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "sim/output/safe_file.hpp"

/// A thin layer over HDF5's C library: files that xarray and h5py open with dimensions, coordinates and units.
///
/// Every axis is a dimension scale; every data set is attached to the scales of its axes; `units` and `long_name` are
/// variable-length UTF-8. A file appears under its name only when it is complete, and sealed (seal.hpp); no other is given to
/// the library, whose own structures carry check sums too (HDF5 1.8 and later). Errors of the library come as
/// arris::Error (Exit::data, "hdf5") with the library's own account of them; where there was no room to write,
/// Exit::usage, "cannot-write".
namespace arris {

class Hdf5Column;

class Hdf5Group {
 public:
  /// Child group, created.
  [[nodiscard]] Hdf5Group group(const std::string& name) const;

  void attribute(const std::string& name, const std::string& text) const;
  /// An integer where `name` holds whole numbers (columns.hpp).
  void attribute(const std::string& name, double value) const;

  /// The axis `name` of this group: its values 0 … size − 1, or names. Write it before the data along it.
  void axis(const std::string& name, std::size_t size, const std::string& long_name) const;
  void axis(const std::string& name, const std::vector<std::string>& labels,
            const std::string& long_name) const;

  /// Values of its own, ascending.
  void axis(const std::string& name, const std::vector<double>& values, const std::string& units,
            const std::string& long_name) const;

  /// What a data set that is filled later is made of.
  enum class Kept { numbers, marks };  ///< doubles, NaN at first; or whole numbers of one byte, −1 at first

  /// Room for numbers along axes of this group. All of it is set aside at once, in one piece, so that rows can be
  /// put into their places later (Hdf5Rows).
  void room(const std::string& name, const std::vector<std::string>& along, Kept kept,
            const std::string& units, const std::string& long_name) const;

  /// Numbers along axes of this group, in chunks of some 256 kB, each compressed (bytes shuffled, then deflate), which every
  /// reader of HDF5 opens. They come by rows in ascending order (Hdf5Column).
  [[nodiscard]] Hdf5Column packed(const std::string& name, const std::vector<std::string>& along, Kept kept,
                                  const std::string& units, const std::string& long_name) const;

  /// Whole rows of a data set: values of its first axis, with all of the others.
  [[nodiscard]] std::vector<double> get(const std::string& name, std::size_t first_row,
                                        std::size_t rows) const;

  /// Where rows of a linked data set come from.
  struct Linked {
    std::string file;  ///< relative to the file that links, or absolute
    std::string path;  ///< of the data set in it
    std::size_t rows = 0, first_row = 0;
  };
  /// A virtual data set (HDF5 1.10): it holds nothing itself and reads from other files. The attribute `shares` of the root must note
  /// them (shares.hpp), or no reader here takes it.
  void linked(const std::string& name, const std::vector<std::string>& along, Kept kept,
              const std::vector<Linked>& pieces, const std::string& units,
              const std::string& long_name) const;

  /// Data along the axis `along` of this group; integers where `name` holds whole numbers.
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
  friend class Hdf5Column;
  struct Handle;
  explicit Hdf5Group(std::shared_ptr<Handle> handle) : handle_(std::move(handle)) {}
  std::shared_ptr<Handle> handle_;
};

/// A data set that is filled row by row (Hdf5Group::packed). It is closed with the last copy, which must be before its file is.
class Hdf5Column {
 public:
  /// Whole rows, from that one on.
  void put(std::size_t first_row, const std::vector<double>& values) const;

 private:
  friend class Hdf5Group;
  explicit Hdf5Column(std::shared_ptr<Hdf5Group::Handle> handle) : handle_(std::move(handle)) {}
  std::shared_ptr<Hdf5Group::Handle> handle_;
};

class Hdf5Writer {
 public:
  explicit Hdf5Writer(const std::filesystem::path& path);
  [[nodiscard]] const Hdf5Group& root() const { return root_; }
  /// Closes the file, seals it and puts it in its place. Without this the file is dropped. Data sets of the paths in `open`,
  /// made by `room`, may be filled later: the seal says nothing of their numbers.
  void finish(const std::vector<std::string>& open = {});

 private:
  SafeFile  file_;
  Hdf5Group root_;
};

/// Rows of open data sets of a finished file (Hdf5Writer::finish), put into their places without the library: nothing else in
/// the file changes, so that a program that is killed leaves a file that can be read.
class Hdf5Rows {
 public:
  /// Throws as check_seal does; Error (Exit::data, "hdf5") for a data set that is not open.
  Hdf5Rows(const std::filesystem::path& path, const std::vector<std::string>& open);
  Hdf5Rows(const Hdf5Rows&)            = delete;
  Hdf5Rows& operator=(const Hdf5Rows&) = delete;
  ~Hdf5Rows();

  /// Whole rows of the data set of that path. Throws Error: "cannot-write", also where the file was deleted meanwhile;
  /// "cannot-read".
  void put(const std::string& path, std::size_t first_row, const std::vector<double>& values) const;
  [[nodiscard]] std::vector<double> get(const std::string& path, std::size_t first_row,
                                        std::size_t rows) const;

 private:
  struct Place {
    std::uint64_t begin = 0;                         ///< bytes from the beginning of the file
    std::size_t   rows = 0, columns = 0, bytes = 0;  ///< of a number
  };
  [[nodiscard]] const Place& place_of(const std::string& path, std::size_t first_row, std::size_t rows) const;

  std::filesystem::path        file_;
  std::map<std::string, Place> places_;
  int                          descriptor_ = -1;
  bool                         had_name_   = false;
};

/// Reads what Hdf5Writer wrote.
class Hdf5Reader {
 public:
  /// Throws as check_seal does, and as check_shares for a file that is linked to others; Error (Exit::data, "newer-result") for one that a
  /// newer version of the program wrote.
  explicit Hdf5Reader(const std::filesystem::path& path);
  [[nodiscard]] std::vector<std::string> groups(
      const std::string& group) const;  ///< names of the child groups
  /// What is known of a data set, or of an attribute (rank 0, with its value), before it is read.
  struct Member {
    std::string name;
    int         rank    = 0;
    bool        is_text = false;
    std::string units, long_name;  ///< of a data set; empty where there is none
    std::string text;              ///< value of an attribute, where it is text
    double      number = 0.0;      ///< the same, where it is a number
  };
  [[nodiscard]] std::vector<Member> data_sets(const std::string& group) const;  ///< by name
  [[nodiscard]] std::vector<Member> attributes(
      const std::string& object) const;  ///< texts and single numbers, by name
  [[nodiscard]] std::vector<double>      numbers(const std::string& path) const;
  [[nodiscard]] std::vector<std::string> texts(const std::string& path) const;
  [[nodiscard]] std::string              attribute(const std::string& object, const std::string& name) const;
  [[nodiscard]] double number_attribute(const std::string& object, const std::string& name) const;
  /// A group, to read rows from.
  [[nodiscard]] Hdf5Group group(const std::string& name) const;
  /// Whether there is a group or data set of that path.
  [[nodiscard]] bool has(const std::string& path) const;

 private:
  std::shared_ptr<Hdf5Group::Handle> handle_;
};

}  // namespace arris
