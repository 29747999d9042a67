// SPDX-License-Identifier: MIT
#include "sim/output/hdf5_file.hpp"

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <limits>
#include <numeric>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <hdf5.h>
#include <hdf5_hl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sim/diagnostic.hpp"
#include "sim/output/columns.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/output/seal.hpp"
#include "sim/output/shares.hpp"
#include "sim/text.hpp"

namespace arris {
namespace {

// the library's account of a failure, from the call down to its cause
struct Account {
  std::string text;
  std::string system;              ///< what the system said, where it was the cause
  bool        is_writing = false;  ///< whether that was about writing
};

herr_t collect_error(unsigned /*n*/, const H5E_error2_t* error, void* into) {
  auto& account = *static_cast<Account*>(into);
  if (error->desc == nullptr || *error->desc == '\0') return 0;
  const std::string said  = error->desc;
  const std::string head  = "error message = '";
  const std::size_t begin = said.find(head);
  if (begin != std::string::npos) {
    const std::size_t from = begin + head.size();
    account.system         = said.substr(from, said.find('\'', from) - from);
    account.is_writing |= said.find("file write failed") != std::string::npos ||
                          said.find("unable to extend") != std::string::npos;
  } else if (account.text.find(said) == std::string::npos) {
    account.text += (account.text.empty() ? "" : "; ") + said;
  }
  return 0;
}

[[noreturn]] void fail(const std::string& what) {
  Account account;
  H5Ewalk2(H5E_DEFAULT, H5E_WALK_DOWNWARD, &collect_error, &account);
  if (account.is_writing) {
    throw Error(
        Exit::usage,
        {.code = "cannot-write",
         .what = "the result cannot be written: " + account.system,
         .next =
             "Make room where it goes, and give the same command again; an earlier file is left as it was."});
  }
  const std::string& why = account.system.empty() ? account.text : account.system;
  throw Error(Exit::data, {.code  = "hdf5",
                           .what  = what + (why.empty() ? "" : ": " + why),
                           .cause = "The disk may be full, or the file is damaged or no result file."});
}

// some file systems do not count names: there it is never true
bool has_name(int descriptor) {
  struct stat now = {};
  return ::fstat(descriptor, &now) == 0 && now.st_nlink > 0;
}

}  // namespace

namespace detail {

// an HDF5 identifier with the function that closes it
class Id {
 public:
  using Close = herr_t (*)(hid_t);
  Id(hid_t id, Close closer, const char* what) : id_(id), close_(closer) {
    if (id_ < 0) fail(what);
  }
  Id(Id&& other) noexcept : id_(std::exchange(other.id_, -1)), close_(other.close_) {}
  Id(const Id&)            = delete;
  Id& operator=(const Id&) = delete;
  Id& operator=(Id&&)      = delete;
  ~Id() {
    if (id_ >= 0) close_(id_);
  }
  /// As at the end of its life, but a failure is reported.
  void close(const char* what) {
    if (close_(std::exchange(id_, -1)) < 0) fail(what);
  }
  operator hid_t() const { return id_; }  // NOLINT(google-explicit-constructor): stands for the identifier

 private:
  hid_t id_;
  Close close_;
};

}  // namespace detail

namespace {

using detail::Id;

void check(herr_t status, const char* what) {
  if (status < 0) fail(what);
}

void quiet() {
  static const bool done = [] {
    // at the end of the program the library would write once more what a full disk did not take, and come down over it;
    // every file here is closed by its owner
    H5dont_atexit();
    H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
    return true;
  }();
  (void)done;
}

// How objects are made: without hours, so that two runs of one thing differ in nothing but what they say of their hour; groups
// with room in one piece for the columns of a table.
struct Creation {
  Id file{H5Pcreate(H5P_FILE_CREATE), H5Pclose, "property list"};
  Id data_set{H5Pcreate(H5P_DATASET_CREATE), H5Pclose, "property list"};
  Id group{H5Pcreate(H5P_GROUP_CREATE), H5Pclose, "property list"};

  Creation() {
    check(H5Pset_obj_track_times(file, false), "property list");
    check(H5Pset_obj_track_times(data_set, false), "property list");
    check(H5Pset_obj_track_times(group, false), "property list");
    check(H5Pset_link_phase_change(group, 40, 30), "property list");
    check(H5Pset_est_link_info(group, 30, 14), "property list");
  }
};

const Creation& creation() {
  static const Creation made;
  return made;
}

// the format of HDF5 1.8, whose structures carry check sums. That of 1.10 would mark a file as being written, and refuse it
// after its writer was killed.
Id with_sums() {
  Id how(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "property list");
  check(H5Pset_libver_bounds(how, H5F_LIBVER_V18, H5F_LIBVER_LATEST), "property list");
  return how;
}

Id text_type() {
  Id type(H5Tcopy(H5T_C_S1), H5Tclose, "text type");
  check(H5Tset_size(type, H5T_VARIABLE), "text type");
  check(H5Tset_cset(type, H5T_CSET_UTF8), "text type");
  return type;
}

// how texts are converted: the library would clear a megabyte for each data set, be it of two words
Id text_transfer(std::size_t count) {
  Id                    how(H5Pcreate(H5P_DATASET_XFER), H5Pclose, "property list");
  constexpr std::size_t least = 256, most = 1 << 20,
                        each = 32;  // bytes; a text's place in the file and in memory
  check(H5Pset_buffer(how, std::clamp(count * each, least, most), nullptr, nullptr), "property list");
  return how;
}

void write_attribute(hid_t object, const std::string& name, const std::string& text) {
  const Id    type = text_type();
  const Id    space(H5Screate(H5S_SCALAR), H5Sclose, "attribute");
  const Id    attribute(H5Acreate2(object, name.c_str(), type, space, H5P_DEFAULT, H5P_DEFAULT), H5Aclose,
                        "attribute");
  const char* pointer = text.c_str();
  check(H5Awrite(attribute, type, &pointer), "attribute");
}

// sizes of a data set along its axes, and how many values a row has: one value of the first axis, all of the others
struct Extent {
  std::vector<hsize_t> sizes;
  hsize_t              columns = 1;

  [[nodiscard]] hsize_t rows() const { return sizes.empty() ? 1 : sizes.front(); }
};

Extent extent_of(std::vector<hsize_t> sizes) {
  Extent out{std::move(sizes)};
  for (std::size_t i = 1; i < out.sizes.size(); ++i) out.columns *= out.sizes[i];
  return out;
}

Extent extent_of(hid_t space) {
  const int            rank = H5Sget_simple_extent_ndims(space);
  std::vector<hsize_t> sizes(static_cast<std::size_t>(std::max(0, rank)));
  check(H5Sget_simple_extent_dims(space, sizes.data(), nullptr), "data space");
  return extent_of(std::move(sizes));
}

// chooses whole rows of a data set, all along its other axes
void choose_rows(hid_t space, const Extent& extent, hsize_t first, hsize_t count) {
  std::vector<hsize_t> start(extent.sizes.size(), 0), size = extent.sizes;
  start.front() = first;
  size.front()  = count;
  check(H5Sselect_hyperslab(space, H5S_SELECT_SET, start.data(), nullptr, size.data(), nullptr),
        "data space");
}

// a hyperslab of whole rows of a data set, and the space in memory for it
struct Rows {
  Id file, memory;
};

Rows rows_of(hid_t set, std::size_t first, std::size_t count, std::size_t values) {
  Id            file(H5Dget_space(set), H5Sclose, "data space");
  const Extent  extent = extent_of(file);
  const hsize_t all    = values;
  if (extent.sizes.empty() || first + count > extent.rows() || count * extent.columns != values)
    fail("rows do not fit their data set");
  choose_rows(file, extent, first, count);
  return {std::move(file), Id(H5Screate_simple(1, &all, nullptr), H5Sclose, "data space")};
}

// there is room for one value where attributes are read
void check_single(hid_t attribute) {
  const Id space(H5Aget_space(attribute), H5Sclose, "data space");
  if (H5Sget_simple_extent_npoints(space) != 1) fail("an attribute has not one value");
}

// The note of its shares that a linked file carries (shares.hpp); empty where there is none.
std::string note_in(hid_t file) {
  if (H5Aexists_by_name(file, "/", "shares", H5P_DEFAULT) <= 0) return {};
  const Id attribute(H5Aopen_by_name(file, "/", "shares", H5P_DEFAULT, H5P_DEFAULT), H5Aclose, "attribute");
  check_single(attribute);
  const Id type  = text_type();
  char*    value = nullptr;
  check(H5Aread(attribute, type, &value), "attribute");
  std::string note(value != nullptr ? value : "");
  H5free_memory(value);
  return note;
}

// A virtual data set is read from other files, which the library opens by itself, and which read as missing numbers where they are
// not there: so only from those that were looked at when its file was opened.
void check_sources(hid_t set) {
  const Id how(H5Dget_create_plist(set), H5Pclose, "data set");
  if (H5Pget_layout(how) != H5D_VIRTUAL) return;
  const Id    file(H5Iget_file_id(set), H5Fclose, "file");
  const auto  known  = names_in_note(note_in(file));
  std::size_t pieces = 0;
  check(H5Pget_virtual_count(how, &pieces), "virtual data set");
  for (std::size_t i = 0; i < pieces; ++i) {
    std::string name(
        static_cast<std::size_t>(std::max<ssize_t>(0, H5Pget_virtual_filename(how, i, nullptr, 0))), '\0');
    H5Pget_virtual_filename(how, i, name.data(), name.size() + 1);
    if (std::find(known.begin(), known.end(), name) == known.end())
      throw Error(Exit::data,
                  {.code  = "share-changed",
                   .what  = fmt::format("the file is linked to {}, and notes nothing of what that held",
                                        printable(name)),
                   .cause = "An earlier version of arris, or another program, wrote it.",
                   .next  = "Merge the shares anew with the version that wrote them."});
  }
}

// the scales of several axes of a group, and their lengths
struct Axes {
  std::vector<Id>      scales;
  std::vector<hsize_t> extent;
};

Axes axes_of(hid_t group, const std::vector<std::string>& names) {
  Axes axes;
  for (const std::string& name : names) {
    axes.scales.emplace_back(H5Dopen2(group, name.c_str(), H5P_DEFAULT), H5Dclose, "axis");
    const Id space(H5Dget_space(axes.scales.back()), H5Sclose, "axis");
    axes.extent.push_back(static_cast<hsize_t>(H5Sget_simple_extent_npoints(space)));
  }
  return axes;
}

Id create(hid_t group, const std::string& name, hid_t type, std::size_t size) {
  const hsize_t extent = size;
  const Id      space(H5Screate_simple(1, &extent, nullptr), H5Sclose, "data space");
  return {H5Dcreate2(group, name.c_str(), type, space, H5P_DEFAULT, creation().data_set, H5P_DEFAULT),
          H5Dclose, "data set"};
}

bool is_whole(double value) { return std::abs(value) < 0x1p53 && value == std::trunc(value); }

// the type in which a file keeps these numbers
hid_t kept_type(const std::string& name, const std::vector<double>& values) {
  const bool whole = holds_whole_numbers(name) && std::all_of(values.begin(), values.end(), &is_whole);
  return whole ? H5T_STD_I64LE : H5T_NATIVE_DOUBLE;
}

Id write_numbers(hid_t group, const std::string& name, const std::vector<double>& values,
                 hid_t type = H5T_NATIVE_DOUBLE) {
  Id set = create(group, name, type, values.size());
  if (!values.empty())
    check(H5Dwrite(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()), "writing numbers");
  return set;
}

Id write_texts(hid_t group, const std::string& name, const std::vector<std::string>& values) {
  const Id                 type = text_type();
  Id                       set  = create(group, name, type, values.size());
  std::vector<const char*> pointers;
  for (const std::string& value : values) pointers.push_back(value.c_str());
  if (!values.empty())
    check(H5Dwrite(set, type, H5S_ALL, H5S_ALL, text_transfer(pointers.size()), pointers.data()),
          "writing text");
  return set;
}

herr_t note_link(hid_t /*group*/, const char* name, const H5L_info_t* link, void* into) {
  static_cast<std::vector<std::pair<std::string, H5L_type_t>>*>(into)->emplace_back(name, link->type);
  return 0;
}

// names of the members of a group that are of this type, in order. Results have every object in one place; links elsewhere, and
// those in a circle, are refused.
std::vector<std::string> members_of(hid_t group, H5O_type_t type) {
  std::vector<std::pair<std::string, H5L_type_t>> links;
  check(H5Literate(group, H5_INDEX_NAME, H5_ITER_INC, nullptr, &note_link, &links), "group");
  std::vector<std::string> names;
  for (auto& [name, kind] : links) {
    H5O_info_t object;
    if (kind != H5L_TYPE_HARD) fail("a group has a member that stands elsewhere");
    check(H5Oget_info_by_name2(group, name.c_str(), &object, H5O_INFO_BASIC, H5P_DEFAULT), "group");
    if (object.rc > 1) fail("one object stands in several places");
    if (object.type == type) names.push_back(std::move(name));
  }
  return names;
}

void describe(hid_t set, const std::string& units, const std::string& long_name) {
  if (!units.empty()) write_attribute(set, "units", units);
  write_attribute(set, "long_name", long_name);
}

}  // namespace

struct Hdf5Group::Handle {
  detail::Id id;
};

Hdf5Group Hdf5Group::group(const std::string& name) const {
  return Hdf5Group(std::make_shared<Handle>(
      Handle{Id(H5Gcreate2(handle_->id, name.c_str(), H5P_DEFAULT, creation().group, H5P_DEFAULT), H5Gclose,
                "group")}));
}

void Hdf5Group::attribute(const std::string& name, const std::string& text) const {
  write_attribute(handle_->id, name, text);
}

void Hdf5Group::attribute(const std::string& name, double value) const {
  const Id space(H5Screate(H5S_SCALAR), H5Sclose, "attribute");
  const Id attribute(
      H5Acreate2(handle_->id, name.c_str(), kept_type(name, {value}), space, H5P_DEFAULT, H5P_DEFAULT),
      H5Aclose, "attribute");
  check(H5Awrite(attribute, H5T_NATIVE_DOUBLE, &value), "attribute");
}

void Hdf5Group::axis(const std::string& name, std::size_t size, const std::string& long_name) const {
  std::vector<double> values(size);
  std::iota(values.begin(), values.end(), 0.0);
  const Id set = write_numbers(handle_->id, name, values, H5T_STD_I64LE);
  check(H5DSset_scale(set, name.c_str()), "dimension scale");
  describe(set, "1", long_name);
}

void Hdf5Group::axis(const std::string& name, const std::vector<std::string>& labels,
                     const std::string& long_name) const {
  const Id set = write_texts(handle_->id, name, labels);
  check(H5DSset_scale(set, name.c_str()), "dimension scale");
  describe(set, "", long_name);
}

void Hdf5Group::axis(const std::string& name, const std::vector<double>& values, const std::string& units,
                     const std::string& long_name) const {
  const Id set = write_numbers(handle_->id, name, values);
  check(H5DSset_scale(set, name.c_str()), "dimension scale");
  describe(set, units, long_name);
}

void Hdf5Group::room(const std::string& name, const std::vector<std::string>& along, Kept kept,
                     const std::string& units, const std::string& long_name) const {
  const auto [scales, extent] = axes_of(handle_->id, along);
  const Id     space(H5Screate_simple(static_cast<int>(extent.size()), extent.data(), nullptr), H5Sclose,
                     "data space");
  const Id     how(H5Pcopy(creation().data_set), H5Pclose, "data set");
  const double fill = kept == Kept::numbers ? std::numeric_limits<double>::quiet_NaN() : -1.0;
  check(H5Pset_fill_value(how, H5T_NATIVE_DOUBLE, &fill), "fill value");
  check(H5Pset_alloc_time(how, H5D_ALLOC_TIME_EARLY), "data set");
  check(H5Pset_fill_time(how, H5D_FILL_TIME_ALLOC), "data set");
  const Id set(H5Dcreate2(handle_->id, name.c_str(), kept == Kept::numbers ? H5T_NATIVE_DOUBLE : H5T_STD_I8LE,
                          space, H5P_DEFAULT, how, H5P_DEFAULT),
               H5Dclose, "data set");
  for (unsigned i = 0; i < scales.size(); ++i) check(H5DSattach_scale(set, scales[i], i), "dimension scale");
  describe(set, units, long_name);
}

std::vector<double> Hdf5Group::get(const std::string& name, std::size_t first_row, std::size_t rows) const {
  const Id set(H5Dopen2(handle_->id, name.c_str(), H5P_DEFAULT), H5Dclose, "data set");
  check_sources(set);
  const Id            space(H5Dget_space(set), H5Sclose, "data space");
  std::vector<double> values(rows * extent_of(space).columns);
  const Rows          place = rows_of(set, first_row, rows, values.size());
  check(H5Dread(set, H5T_NATIVE_DOUBLE, place.memory, place.file, H5P_DEFAULT, values.data()),
        "reading numbers");
  return values;
}

Hdf5Column Hdf5Group::packed(const std::string& name, const std::vector<std::string>& along, Kept kept,
                             const std::string& units, const std::string& long_name) const {
  constexpr hsize_t per_chunk   = 32768;  // numbers
  constexpr int     compression = 4;      // of 9; more gains some per cent and takes several times as long
  const auto [scales, extent]   = axes_of(handle_->id, along);
  const auto           rank     = static_cast<int>(extent.size());
  std::vector<hsize_t> chunk    = extent;
  // whole along the last axes, as far as there is room
  for (hsize_t room = per_chunk, i = extent.size(); i > 0; --i) {
    chunk[i - 1] = std::clamp<hsize_t>(extent[i - 1], 1, room);
    room         = std::max<hsize_t>(1, room / chunk[i - 1]);
  }
  const Id     how(H5Pcopy(creation().data_set), H5Pclose, "data set");
  const double fill = kept == Kept::numbers ? std::numeric_limits<double>::quiet_NaN() : -1.0;
  check(H5Pset_fill_value(how, H5T_NATIVE_DOUBLE, &fill), "fill value");
  check(H5Pset_chunk(how, rank, chunk.data()), "chunks");
  check(H5Pset_shuffle(how), "compression");
  check(H5Pset_deflate(how, compression), "compression");
  const Id space(H5Screate_simple(rank, extent.data(), nullptr), H5Sclose, "data space");
  Id       set(H5Dcreate2(handle_->id, name.c_str(), kept == Kept::numbers ? H5T_NATIVE_DOUBLE : H5T_STD_I8LE,
                          space, H5P_DEFAULT, how, H5P_DEFAULT),
               H5Dclose, "data set");
  for (unsigned i = 0; i < scales.size(); ++i) check(H5DSattach_scale(set, scales[i], i), "dimension scale");
  describe(set, units, long_name);
  return Hdf5Column(std::make_shared<Handle>(Handle{std::move(set)}));
}

void Hdf5Column::put(std::size_t first_row, const std::vector<double>& values) const {
  const Id   space(H5Dget_space(handle_->id), H5Sclose, "data space");
  const Rows place = rows_of(handle_->id, first_row, values.size() / extent_of(space).columns, values.size());
  check(H5Dwrite(handle_->id, H5T_NATIVE_DOUBLE, place.memory, place.file, H5P_DEFAULT, values.data()),
        "writing numbers");
}

void Hdf5Group::linked(const std::string& name, const std::vector<std::string>& along, Kept kept,
                       const std::vector<Linked>& pieces, const std::string& units,
                       const std::string& long_name) const {
  const auto [scales, extent] = axes_of(handle_->id, along);
  const auto   rank           = static_cast<int>(extent.size());
  const double fill           = kept == Kept::numbers ? std::numeric_limits<double>::quiet_NaN() : -1.0;
  const Id     how(H5Pcopy(creation().data_set), H5Pclose, "data set");
  check(H5Pset_fill_value(how, H5T_NATIVE_DOUBLE, &fill), "fill value");
  const Id whole(H5Screate_simple(rank, extent.data(), nullptr), H5Sclose, "data space");
  for (const Linked& piece : pieces) {
    std::vector<hsize_t> size = extent;
    size.front()              = piece.rows;
    const Id to(H5Scopy(whole), H5Sclose, "data space");
    const Id from(H5Screate_simple(rank, size.data(), nullptr), H5Sclose, "data space");
    choose_rows(to, extent_of(extent), piece.first_row, piece.rows);
    check(H5Pset_virtual(how, to, piece.file.c_str(), piece.path.c_str(), from), "virtual data set");
  }
  const Id set(H5Dcreate2(handle_->id, name.c_str(), kept == Kept::numbers ? H5T_NATIVE_DOUBLE : H5T_STD_I8LE,
                          whole, H5P_DEFAULT, how, H5P_DEFAULT),
               H5Dclose, "virtual data set");
  for (unsigned i = 0; i < scales.size(); ++i) check(H5DSattach_scale(set, scales[i], i), "dimension scale");
  describe(set, units, long_name);
}

void Hdf5Group::data(const std::string& name, const std::vector<double>& values, const std::string& along,
                     const std::string& units, const std::string& long_name) const {
  const Id set = write_numbers(handle_->id, name, values, kept_type(name, values));
  const Id scale(H5Dopen2(handle_->id, along.c_str(), H5P_DEFAULT), H5Dclose, "axis");
  check(H5DSattach_scale(set, scale, 0), "dimension scale");
  describe(set, units, long_name);
}

void Hdf5Group::data(const std::string& name, const std::vector<std::string>& values,
                     const std::string& along, const std::string& long_name) const {
  const Id set = write_texts(handle_->id, name, values);
  const Id scale(H5Dopen2(handle_->id, along.c_str(), H5P_DEFAULT), H5Dclose, "axis");
  check(H5DSattach_scale(set, scale, 0), "dimension scale");
  describe(set, "", long_name);
}

void Hdf5Group::data(const std::string& name, const std::vector<double>& values,
                     const std::string& along_rows, const std::string& along_columns,
                     const std::string& units, const std::string& long_name) const {
  const Id   rows(H5Dopen2(handle_->id, along_rows.c_str(), H5P_DEFAULT), H5Dclose, "axis");
  const Id   columns(H5Dopen2(handle_->id, along_columns.c_str(), H5P_DEFAULT), H5Dclose, "axis");
  const auto size_of = [](hid_t set) {
    const Id space(H5Dget_space(set), H5Sclose, "axis");
    return static_cast<hsize_t>(H5Sget_simple_extent_npoints(space));
  };
  const hsize_t extent[2] = {size_of(rows), size_of(columns)};
  if (extent[0] * extent[1] != values.size()) fail("a table does not fit its axes");
  const Id space(H5Screate_simple(2, extent, nullptr), H5Sclose, "data space");
  const Id set(H5Dcreate2(handle_->id, name.c_str(), H5T_NATIVE_DOUBLE, space, H5P_DEFAULT,
                          creation().data_set, H5P_DEFAULT),
               H5Dclose, "data set");
  if (!values.empty())
    check(H5Dwrite(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()), "writing numbers");
  check(H5DSattach_scale(set, rows, 0), "dimension scale");
  check(H5DSattach_scale(set, columns, 1), "dimension scale");
  describe(set, units, long_name);
}

Hdf5Writer::Hdf5Writer(const std::filesystem::path& path) : file_(path), root_(nullptr) {
  quiet();
  root_ = Hdf5Group(std::make_shared<Hdf5Group::Handle>(
      Hdf5Group::Handle{Id(H5Fcreate(file_.temporary().c_str(), H5F_ACC_TRUNC, creation().file, with_sums()),
                           H5Fclose, "creating the result file")}));
}

void Hdf5Writer::finish(const std::vector<std::string>& open) {
  std::vector<Span> spans;
  for (const std::string& path : open) {
    const Id set(H5Dopen2(root_.handle_->id, path.c_str(), H5P_DEFAULT), H5Dclose, "data set");
    if (const hsize_t size = H5Dget_storage_size(set); size > 0) spans.push_back({H5Dget_offset(set), size});
  }
  std::sort(spans.begin(), spans.end(), [](const Span& a, const Span& b) { return a.begin < b.begin; });
  check(H5Fflush(root_.handle_->id, H5F_SCOPE_GLOBAL), "writing the result file");
  root_.handle_->id.close("writing the result file");
  root_ = Hdf5Group(nullptr);
  seal(file_.temporary(), spans);
  file_.keep();
}

Hdf5Rows::Hdf5Rows(const std::filesystem::path& path, const std::vector<std::string>& open) : file_(path) {
  quiet();
  const auto spans = check_seal(path);
  {
    const Id file(H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT), H5Fclose, "opening the result file");
    for (const std::string& name : open) {
      const Id     set(H5Dopen2(file, name.c_str(), H5P_DEFAULT), H5Dclose, "data set");
      const Id     space(H5Dget_space(set), H5Sclose, "data space");
      const Id     type(H5Dget_type(set), H5Tclose, "type");
      const Extent extent = extent_of(space);
      const Place  place{H5Dget_offset(set), extent.rows(), extent.columns, H5Tget_size(type)};
      const Span   span{place.begin, H5Dget_storage_size(set)};
      const bool   is_known = H5Tequal(type, H5T_NATIVE_DOUBLE) > 0 || H5Tequal(type, H5T_STD_I8LE) > 0;
      if (!is_known || span.size != place.rows * place.columns * place.bytes ||
          (span.size > 0 && std::find(spans.begin(), spans.end(), span) == spans.end()))
        fail(fmt::format("{} takes no rows", name));
      places_.emplace(name, place);
    }
  }
  descriptor_ = ::open(path.c_str(), O_RDWR | O_CLOEXEC);
  if (descriptor_ < 0) cannot_write(file_, std::strerror(errno));
  had_name_ = has_name(descriptor_);
}

Hdf5Rows::~Hdf5Rows() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

const Hdf5Rows::Place& Hdf5Rows::place_of(const std::string& path, std::size_t first_row,
                                          std::size_t rows) const {
  const Place& place = places_.at(path);
  if (first_row > place.rows || rows > place.rows - first_row) fail("rows do not fit their data set");
  return place;
}

void Hdf5Rows::put(const std::string& path, std::size_t first_row, const std::vector<double>& values) const {
  const std::size_t columns = places_.at(path).columns;
  const Place&      place   = place_of(path, first_row, columns == 0 ? 0 : values.size() / columns);
  if (values.empty()) return;
  std::vector<char> bytes(values.size() * place.bytes);
  if (place.bytes == sizeof(double)) {
    std::memcpy(bytes.data(), values.data(), bytes.size());
  } else {
    std::transform(values.begin(), values.end(), bytes.begin(),
                   [](double value) { return static_cast<char>(static_cast<signed char>(value)); });
  }
  const auto begin = place.begin + first_row * place.columns * place.bytes;
  for (std::size_t at = 0; at < bytes.size();) {
    const auto done =
        ::pwrite(descriptor_, bytes.data() + at, bytes.size() - at, static_cast<off_t>(begin + at));
    if (done < 0 && errno == EINTR) continue;
    if (done <= 0) cannot_write(file_, std::strerror(errno));
    at += static_cast<std::size_t>(done);
  }
  // a file that was deleted still takes rows, which nobody would see
  if (had_name_ && !has_name(descriptor_)) cannot_write(file_, "it was deleted meanwhile");
}

std::vector<double> Hdf5Rows::get(const std::string& path, std::size_t first_row, std::size_t rows) const {
  const Place&        place = place_of(path, first_row, rows);
  std::vector<double> values(rows * place.columns);
  if (values.empty()) return values;
  std::vector<char> bytes(values.size() * place.bytes);
  const auto        begin = place.begin + first_row * place.columns * place.bytes;
  for (std::size_t at = 0; at < bytes.size();) {
    const auto done =
        ::pread(descriptor_, bytes.data() + at, bytes.size() - at, static_cast<off_t>(begin + at));
    if (done < 0 && errno == EINTR) continue;
    if (done <= 0)
      throw Error(Exit::data, {.code = "cannot-read",
                               .what = fmt::format("the result cannot be read: {}",
                                                   done < 0 ? std::strerror(errno) : "it was cut short"),
                               .file = file_.string()});
    at += static_cast<std::size_t>(done);
  }
  if (place.bytes == sizeof(double)) {
    std::memcpy(values.data(), bytes.data(), bytes.size());
  } else {
    std::transform(bytes.begin(), bytes.end(), values.begin(),
                   [](char byte) { return static_cast<double>(static_cast<signed char>(byte)); });
  }
  return values;
}

Hdf5Group Hdf5Reader::group(const std::string& name) const {
  return Hdf5Group(std::make_shared<Hdf5Group::Handle>(
      Hdf5Group::Handle{Id(H5Gopen2(handle_->id, name.c_str(), H5P_DEFAULT), H5Gclose, "group")}));
}

Hdf5Reader::Hdf5Reader(const std::filesystem::path& path) {
  quiet();
  (void)check_seal(path);
  handle_ = std::make_shared<Hdf5Group::Handle>(Hdf5Group::Handle{
      Id(H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT), H5Fclose, "opening the result file")});
  check_shares(path, note_in(handle_->id));
  if (H5Aexists_by_name(handle_->id, "/", "schema_version", H5P_DEFAULT) <= 0) return;
  if (const double version = number_attribute("/", "schema_version"); version > schema_version)
    throw Error(Exit::data,
                {.code = "newer-result",
                 .what = fmt::format("this result was written by a newer version of the program (schema "
                                     "version {:g}; this one knows up to {})",
                                     version, schema_version),
                 .next = "Read it with that version, or make the result anew with this one.",
                 .file = path.string()});
}

std::vector<std::string> Hdf5Reader::groups(const std::string& group) const {
  const Id id(H5Gopen2(handle_->id, group.c_str(), H5P_DEFAULT), H5Gclose, "group");
  return members_of(id, H5O_TYPE_GROUP);
}

std::vector<Hdf5Reader::Member> Hdf5Reader::data_sets(const std::string& group) const {
  const Id            id(H5Gopen2(handle_->id, group.c_str(), H5P_DEFAULT), H5Gclose, "group");
  std::vector<Member> members;
  for (std::string& name : members_of(id, H5O_TYPE_DATASET)) {
    Member member;
    member.name = std::move(name);
    const Id set(H5Dopen2(id, member.name.c_str(), H5P_DEFAULT), H5Dclose, "data set");
    const Id space(H5Dget_space(set), H5Sclose, "data space");
    const Id type(H5Dget_type(set), H5Tclose, "type");
    member.rank    = H5Sget_simple_extent_ndims(space);
    member.is_text = H5Tget_class(type) == H5T_STRING;
    for (const auto& [known, into] : {std::pair{"units", &member.units}, {"long_name", &member.long_name}}) {
      if (H5Aexists(set, known) > 0) *into = attribute(group + "/" + member.name, known);
    }
    members.push_back(std::move(member));
  }
  return members;
}

std::vector<Hdf5Reader::Member> Hdf5Reader::attributes(const std::string& object) const {
  const Id   id(H5Oopen(handle_->id, object.c_str(), H5P_DEFAULT), H5Oclose, "object");
  H5O_info_t info;
  check(H5Oget_info2(id, &info, H5O_INFO_NUM_ATTRS), "object");
  std::vector<Member> members;
  for (hsize_t i = 0; i < info.num_attrs; ++i) {
    const Id found(H5Aopen_by_idx(id, ".", H5_INDEX_NAME, H5_ITER_INC, i, H5P_DEFAULT, H5P_DEFAULT), H5Aclose,
                   "attribute");
    const Id type(H5Aget_type(found), H5Tclose, "type");
    const Id space(H5Aget_space(found), H5Sclose, "data space");
    Member   member;
    member.name.resize(static_cast<std::size_t>(H5Aget_name(found, 0, nullptr)));
    H5Aget_name(found, member.name.size() + 1, member.name.data());
    if (H5Sget_simple_extent_npoints(space) != 1) continue;
    if (H5Tget_class(type) == H5T_STRING && H5Tis_variable_str(type) > 0) {
      member.is_text = true;
      member.text    = attribute(object, member.name);
    } else if (H5Tget_class(type) == H5T_FLOAT || H5Tget_class(type) == H5T_INTEGER) {
      member.number = number_attribute(object, member.name);
    } else {
      continue;
    }
    members.push_back(std::move(member));
  }
  return members;
}

std::vector<double> Hdf5Reader::numbers(const std::string& path) const {
  const Id set(H5Dopen2(handle_->id, path.c_str(), H5P_DEFAULT), H5Dclose, "data set");
  check_sources(set);
  const Id            space(H5Dget_space(set), H5Sclose, "data space");
  std::vector<double> values(static_cast<std::size_t>(H5Sget_simple_extent_npoints(space)));
  if (!values.empty())
    check(H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()), "reading numbers");
  return values;
}

std::vector<std::string> Hdf5Reader::texts(const std::string& path) const {
  const Id           set(H5Dopen2(handle_->id, path.c_str(), H5P_DEFAULT), H5Dclose, "data set");
  const Id           space(H5Dget_space(set), H5Sclose, "data space");
  const Id           type = text_type();
  std::vector<char*> pointers(static_cast<std::size_t>(H5Sget_simple_extent_npoints(space)));
  if (pointers.empty()) return {};
  check(H5Dread(set, type, H5S_ALL, H5S_ALL, text_transfer(pointers.size()), pointers.data()),
        "reading text");
  std::vector<std::string> values;
  for (const char* pointer : pointers) values.emplace_back(pointer != nullptr ? pointer : "");
  check(H5Dvlen_reclaim(type, space, H5P_DEFAULT, pointers.data()), "reading text");
  return values;
}

std::string Hdf5Reader::attribute(const std::string& object, const std::string& name) const {
  const Id attribute(H5Aopen_by_name(handle_->id, object.c_str(), name.c_str(), H5P_DEFAULT, H5P_DEFAULT),
                     H5Aclose, "attribute");
  check_single(attribute);
  const Id type  = text_type();
  char*    value = nullptr;
  check(H5Aread(attribute, type, &value), "attribute");
  std::string text(value != nullptr ? value : "");
  H5free_memory(value);
  return text;
}

double Hdf5Reader::number_attribute(const std::string& object, const std::string& name) const {
  const Id attribute(H5Aopen_by_name(handle_->id, object.c_str(), name.c_str(), H5P_DEFAULT, H5P_DEFAULT),
                     H5Aclose, "attribute");
  check_single(attribute);
  double value = 0.0;
  check(H5Aread(attribute, H5T_NATIVE_DOUBLE, &value), "attribute");
  return value;
}

bool Hdf5Reader::has(const std::string& path) const {
  // every part of the path must be there before the next is asked for
  for (std::size_t end = path.find('/', 1);; end = path.find('/', end + 1)) {
    const std::string part = path.substr(0, end);
    if (H5Lexists(handle_->id, part.c_str(), H5P_DEFAULT) <= 0) return false;
    if (end == std::string::npos) return true;
  }
}

}  // namespace arris
