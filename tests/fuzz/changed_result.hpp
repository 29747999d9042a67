// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <hdf5.h>

#include "sim/output/seal.hpp"

/// Result files whose contents are changed as an input says: for the targets that read them.
namespace arris::fuzz {

struct Result {
  std::string                                      bytes;
  std::vector<std::string>                         groups, sets;
  std::vector<std::pair<std::string, std::string>> attributes;  // object, name
};

inline herr_t note_attribute(hid_t /*object*/, const char* name, const H5A_info_t* /*info*/, void* into) {
  static_cast<std::vector<std::string>*>(into)->emplace_back(name);
  return 0;
}

inline herr_t note_object(hid_t at, const char* name, const H5O_info_t* info, void* into) {
  auto& result = *static_cast<Result*>(into);
  (info->type == H5O_TYPE_GROUP ? result.groups : result.sets).emplace_back(name);
  std::vector<std::string> names;
  const hid_t              object = H5Oopen(at, name, H5P_DEFAULT);
  H5Aiterate2(object, H5_INDEX_NAME, H5_ITER_INC, nullptr, &note_attribute, &names);
  H5Oclose(object);
  for (const std::string& attribute : names) result.attributes.emplace_back(name, attribute);
  return 0;
}

// files of the folder that an environment variable names
inline std::vector<Result> results_in(const char* variable) {
  H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
  std::vector<std::filesystem::path> files;
  const char*                        folder = std::getenv(variable);
  if (folder != nullptr) {
    for (const auto& entry : std::filesystem::directory_iterator(folder)) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());  // so that an input means the same in every run
  std::vector<Result> read;
  for (const std::filesystem::path& path : files) {
    Result        result;
    std::ifstream stream(path, std::ios::binary);
    result.bytes.assign(std::istreambuf_iterator<char>(stream), {});
    result.bytes.resize(result.bytes.rfind("\narris seal "));
    const hid_t file = H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT);
    if (file < 0) std::abort();
    H5Ovisit2(file, H5_INDEX_NAME, H5_ITER_INC, &note_object, &result, H5O_INFO_BASIC);
    H5Fclose(file);
    read.push_back(std::move(result));
  }
  if (read.empty()) {
    std::fprintf(stderr, "%s names no folder with results; ./dev fuzz makes one\n", variable);
    std::exit(2);
  }
  return read;
}

/// The input, taken piece by piece; zeros behind its end.
class Script {
 public:
  Script(const std::uint8_t* data, std::size_t size) : at_(data), end_(data + size) {}
  [[nodiscard]] bool more() const { return at_ < end_; }
  std::size_t        number() { return more() ? *at_++ : 0U; }
  template <class T>
  const T& one_of(const std::vector<T>& list) {
    const std::size_t high = number(), low = number();
    return list[(high * 256 + low) % list.size()];
  }
  double value() {
    static constexpr double told[] = {0.0,    1.0,  -1.0, 0.5,          1e308, -1e308,
                                      5e-324, 1e-9, 1e9,  2147483648.0, 9.3e18};
    const std::size_t       kind   = number();
    double                  any    = kind % 2 == 0 ? std::nan("") : HUGE_VAL;
    if (kind < std::size(told)) return told[kind];
    if (kind > 128) return static_cast<double>(kind - 190);
    if (kind > 64 && static_cast<std::size_t>(end_ - at_) >= sizeof any) {
      std::memcpy(&any, at_, sizeof any);
      at_ += sizeof any;
    }
    return any;
  }
  std::string text() {
    const std::size_t size = std::min(number(), static_cast<std::size_t>(end_ - at_));
    std::string       taken(reinterpret_cast<const char*>(at_), size);
    at_ += size;
    return taken;
  }

 private:
  const std::uint8_t *at_, *end_;
};

// a data set or, where there is a name, an attribute with as many numbers or texts along as many axes as the script says
inline void put(hid_t file, const std::string& object, const std::string& name, Script& script) {
  const std::size_t kind    = script.number();
  const hsize_t     size[3] = {script.number() % 40, 2, 1};
  const int         rank    = kind % 16 < 10 ? 1 : static_cast<int>(kind % 4);
  const hid_t       space   = kind % 16 == 15 ? H5Screate(H5S_NULL)
                              : rank == 0     ? H5Screate(H5S_SCALAR)
                                              : H5Screate_simple(rank, size, nullptr);
  const auto count   = static_cast<std::size_t>(std::max<hssize_t>(0, H5Sget_simple_extent_npoints(space)));
  const bool is_text = kind >= 128, is_fixed = kind >= 224;
  std::vector<double>      numbers(count);
  std::vector<std::string> texts(count);
  std::vector<const char*> pointers(count);
  std::string              fixed(count * 8, '\0');
  for (std::size_t i = 0; i < count; ++i) {
    if (!is_text) {
      numbers[i] = script.value();
    } else {
      texts[i]    = script.text();
      pointers[i] = kind % 32 == 31 ? nullptr : texts[i].c_str();
      texts[i].copy(&fixed[i * 8], 8);
    }
  }
  const hid_t text = H5Tcopy(H5T_C_S1);
  H5Tset_size(text, is_fixed ? 8 : H5T_VARIABLE);
  if (kind % 64 < 32) H5Tset_cset(text, H5T_CSET_UTF8);
  const hid_t memory = is_text ? text : H5T_NATIVE_DOUBLE;
  const hid_t type   = is_text          ? text
                       : kind % 64 < 48 ? H5T_NATIVE_DOUBLE
                       : kind % 64 < 56 ? H5T_STD_I8LE
                                        : H5T_IEEE_F32BE;
  const void* data   = is_fixed  ? static_cast<const void*>(fixed.data())
                       : is_text ? static_cast<const void*>(pointers.data())
                                 : static_cast<const void*>(numbers.data());
  if (name.empty()) {
    H5Ldelete(file, object.c_str(), H5P_DEFAULT);
    const hid_t set = H5Dcreate2(file, object.c_str(), type, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
    if (set >= 0 && count > 0) H5Dwrite(set, memory, H5S_ALL, H5S_ALL, H5P_DEFAULT, data);
    if (set >= 0) H5Dclose(set);
  } else {
    H5Adelete_by_name(file, object.c_str(), name.c_str(), H5P_DEFAULT);
    const hid_t attribute = H5Acreate_by_name(file, object.c_str(), name.c_str(), type, space, H5P_DEFAULT,
                                              H5P_DEFAULT, H5P_DEFAULT);
    if (attribute >= 0 && count > 0) H5Awrite(attribute, memory, data);
    if (attribute >= 0) H5Aclose(attribute);
  }
  H5Tclose(text);
  H5Sclose(space);
}

// one number of a data set
inline void change(hid_t file, const std::string& path, Script& script) {
  const hid_t set = H5Dopen2(file, path.c_str(), H5P_DEFAULT);
  if (set < 0) return;
  const hid_t type = H5Dget_type(set), space = H5Dget_space(set);
  const auto  count = static_cast<std::size_t>(std::max<hssize_t>(0, H5Sget_simple_extent_npoints(space)));
  if (H5Tget_class(type) == H5T_FLOAT && count > 0) {
    std::vector<double> numbers(count);
    H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, numbers.data());
    const std::size_t place = script.number(), more = script.number();
    const double      value = script.value();
    for (std::size_t i = place % count, k = 0; i < count && k <= more % 16; ++i, ++k) numbers[i] = value;
    H5Dwrite(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, numbers.data());
  }
  H5Sclose(space);
  H5Tclose(type);
  H5Dclose(set);
}

inline void apply(hid_t file, const Result& result, Script script) {
  for (int changes = 0; script.more() && changes < 30; ++changes) {
    switch (script.number() % 8) {
      case 0:
        H5Ldelete(file, script.one_of(result.sets).c_str(), H5P_DEFAULT);
        break;
      case 1:
        H5Ldelete(file, script.one_of(result.groups).c_str(), H5P_DEFAULT);
        break;
      case 2:
        change(file, script.one_of(result.sets), script);
        break;
      case 3:
        put(file, script.one_of(result.sets), "", script);
        break;
      case 4: {
        const auto& [object, name] = script.one_of(result.attributes);
        H5Adelete_by_name(file, object.c_str(), name.c_str(), H5P_DEFAULT);
        break;
      }
      case 5: {
        const auto& [object, name] = script.one_of(result.attributes);
        put(file, object, name, script);
        break;
      }
      case 6: {  // under another name, or in another group
        const auto& from =
            script.number() % 2 == 0 ? script.one_of(result.sets) : script.one_of(result.groups);
        const auto& to = script.one_of(result.groups);
        H5Lmove(file, from.c_str(), file, (to + "/" + script.text()).c_str(), H5P_DEFAULT, H5P_DEFAULT);
        break;
      }
      default: {  // one group in the place of another, in two places at once, or within itself
        const auto &from = script.one_of(result.groups), &to = script.one_of(result.groups);
        if (script.number() % 2 == 0) H5Ldelete(file, to.c_str(), H5P_DEFAULT);
        H5Lcreate_hard(file, from.c_str(), file, to.c_str(), H5P_DEFAULT, H5P_DEFAULT);
        break;
      }
    }
  }
}

inline void write(const std::string& path, std::string_view bytes) {
  std::ofstream stream(path, std::ios::binary);
  stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  stream.close();
  if (!stream) std::abort();
}

// the result with the changes of the script, sealed again
inline void write_changed(const std::string& path, const Result& result, const Script& script) {
  write(path, result.bytes);
  const hid_t opened = H5Fopen(path.c_str(), H5F_ACC_RDWR, H5P_DEFAULT);
  if (opened < 0) std::abort();
  apply(opened, result, script);
  if (H5Fclose(opened) < 0) std::abort();
  arris::seal(path);
}

}  // namespace arris::fuzz
