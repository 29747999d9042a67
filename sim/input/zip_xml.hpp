// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// The two layers of which workbooks are made: a zip archive (libzip), and XML in it (expat), read piece by piece. The page has a reader
/// of its own for both (bindings/page/src/workbook.cpp).
namespace arris {

/// Hears what stands in an XML file. Names come without the prefix of their namespace.
class XmlListener {
 public:
  virtual ~XmlListener() = default;
  /// `attributes` are name, value, name, value …, nullptr.
  virtual void begin(std::string_view name, const char** attributes) = 0;
  virtual void end(std::string_view name)                            = 0;
  virtual void text(std::string_view text)                           = 0;

  /// Ends the reading, with a reason for people.
  void stop(std::string why) {
    if (stopped_.empty()) stopped_ = std::move(why);
  }
  [[nodiscard]] const std::string& stopped() const { return stopped_; }

 private:
  std::string stopped_;
};

/// A name without the prefix of its namespace.
[[nodiscard]] std::string_view without_prefix(std::string_view name);

/// The value of an attribute, its name without prefix; nullptr where there is none.
[[nodiscard]] const char* attribute(const char** attributes, std::string_view name);

class ZipOfXml {
 public:
  /// `bytes` must outlive it. Throws Error (Exit::data, "not-a-workbook", "too-large").
  ZipOfXml(std::string file, std::string_view bytes);
  ZipOfXml(const ZipOfXml&)            = delete;
  ZipOfXml& operator=(const ZipOfXml&) = delete;
  ~ZipOfXml();

  [[nodiscard]] bool has(const std::string& part) const;
  /// The first bytes of a part, at most 200; empty where there is none.
  [[nodiscard]] std::string beginning(const std::string& part);
  /// Reads a part. Throws Error (Exit::data): "not-a-workbook" where it is damaged, has a document type, or is nested without end;
  /// "too-large" beyond workbook_limits; and what the listener stopped with.
  void read(const std::string& part, XmlListener& listener);

  /// Throws the fault of the file.
  [[noreturn]] void fail(std::string code, std::string what) const;

 private:
  struct Archive;
  std::string              file_;
  std::unique_ptr<Archive> archive_;
  long long                unpacked_ = 0;
};

}  // namespace arris
