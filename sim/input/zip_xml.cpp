// SPDX-License-Identifier: MIT
#ifdef ARRIS_WITH_ZIP

#include "sim/input/zip_xml.hpp"

#include <array>
#include <new>

#include <expat.h>
#include <fmt/format.h>
#include <zip.h>

#include "sim/diagnostic.hpp"
#include "sim/input/workbook.hpp"
#include "sim/stop.hpp"

namespace arris {

struct ZipOfXml::Archive {
  explicit Archive(zip_t* opened) : zip(opened) {}
  Archive(const Archive&)            = delete;
  Archive& operator=(const Archive&) = delete;
  ~Archive() { zip_discard(zip); }
  zip_t* zip;
};

namespace {

/// One file of XML on its way through expat to a listener. Nothing may be thrown through the library's own functions.
class XmlFlow {
 public:
  explicit XmlFlow(XmlListener& listener) : listener_(listener), parser_(XML_ParserCreate(nullptr)) {
    if (parser_ == nullptr) throw std::bad_alloc();
    XML_SetUserData(parser_, this);
    XML_SetElementHandler(parser_, &XmlFlow::on_begin, &XmlFlow::on_end);
    XML_SetCharacterDataHandler(parser_, &XmlFlow::on_text);
    XML_SetStartDoctypeDeclHandler(parser_, &XmlFlow::on_doctype);
  }
  XmlFlow(const XmlFlow&)            = delete;
  XmlFlow& operator=(const XmlFlow&) = delete;
  ~XmlFlow() { XML_ParserFree(parser_); }

  /// False where there is a fault.
  bool take(std::string_view piece, bool is_last) {
    const auto status = XML_Parse(parser_, piece.data(), static_cast<int>(piece.size()), is_last ? 1 : 0);
    if (out_of_memory_) throw std::bad_alloc();
    if (status == XML_STATUS_ERROR && listener_.stopped().empty())
      listener_.stop(fmt::format("line {}: {}", XML_GetCurrentLineNumber(parser_),
                                 XML_ErrorString(XML_GetErrorCode(parser_))));
    return listener_.stopped().empty();
  }

 private:
  template <class Do>
  void guarded(Do&& act) {
    if (out_of_memory_ || !listener_.stopped().empty()) return;
    try {
      act();
    } catch (const std::bad_alloc&) {
      out_of_memory_ = true;
    }
    if (out_of_memory_ || !listener_.stopped().empty()) XML_StopParser(parser_, XML_FALSE);
  }
  static XmlFlow& self(void* user) { return *static_cast<XmlFlow*>(user); }
  static void     on_begin(void* user, const char* name, const char** attributes) {
        self(user).guarded([&] {
      if (++self(user).depth_ > workbook_limits::depth)
        self(user).listener_.stop("elements stand in one another without end");
      self(user).listener_.begin(without_prefix(name), attributes);
    });
  }
  static void on_end(void* user, const char* name) {
    self(user).guarded([&] {
      --self(user).depth_;
      self(user).listener_.end(without_prefix(name));
    });
  }
  static void on_text(void* user, const char* text, int length) {
    self(user).guarded([&] { self(user).listener_.text({text, static_cast<std::size_t>(length)}); });
  }
  static void on_doctype(void* user, const char*, const char*, const char*, int) {
    self(user).guarded(
        [&] { self(user).listener_.stop("it has a document type, which no spreadsheet writes"); });
  }

  XmlListener& listener_;
  XML_Parser   parser_;
  int          depth_         = 0;
  bool         out_of_memory_ = false;
};

/// A part of an archive, unpacked piece by piece.
class ZipPart {
 public:
  ZipPart(zip_t* zip, zip_uint64_t index) : part_(zip_fopen_index(zip, index, 0)) {}
  ZipPart(const ZipPart&)            = delete;
  ZipPart& operator=(const ZipPart&) = delete;
  ~ZipPart() {
    if (part_ != nullptr) zip_fclose(part_);
  }
  [[nodiscard]] bool is_open() const { return part_ != nullptr; }
  /// Bytes read; −1 after a fault.
  zip_int64_t read(char* into, std::size_t most) { return zip_fread(part_, into, most); }

 private:
  zip_file_t* part_;
};

}  // namespace

ZipOfXml::ZipOfXml(std::string file, std::string_view bytes) : file_(std::move(file)) {
  zip_error_t error;
  zip_error_init(&error);
  zip_source_t* source = zip_source_buffer_create(bytes.data(), bytes.size(), 0, &error);
  zip_t*        zip    = source == nullptr ? nullptr : zip_open_from_source(source, ZIP_RDONLY, &error);
  if (zip == nullptr) {
    if (source != nullptr) zip_source_free(source);
    const std::string why = zip_error_strerror(&error);
    zip_error_fini(&error);
    fail("not-a-workbook", fmt::format("the workbook cannot be unpacked: {}", why));
  }
  zip_error_fini(&error);
  archive_ = std::make_unique<Archive>(zip);
  if (zip_get_num_entries(zip, 0) > workbook_limits::parts)
    fail("too-large", fmt::format("the workbook has more than {} parts", workbook_limits::parts));
}

ZipOfXml::~ZipOfXml() = default;

bool ZipOfXml::has(const std::string& part) const {
  return zip_name_locate(archive_->zip, part.c_str(), 0) >= 0;
}

std::string ZipOfXml::beginning(const std::string& part) {
  const auto index = zip_name_locate(archive_->zip, part.c_str(), 0);
  if (index < 0) return {};
  ZipPart unpacked(archive_->zip, static_cast<zip_uint64_t>(index));
  if (!unpacked.is_open()) return {};
  std::array<char, 200> piece{};
  const auto            got = unpacked.read(piece.data(), piece.size());
  return got > 0 ? std::string(piece.data(), static_cast<std::size_t>(got)) : std::string{};
}

void ZipOfXml::read(const std::string& part, XmlListener& listener) {
  const auto index = zip_name_locate(archive_->zip, part.c_str(), 0);
  if (index < 0) fail("not-a-workbook", fmt::format("the workbook has no part {}", part));
  ZipPart unpacked(archive_->zip, static_cast<zip_uint64_t>(index));
  if (!unpacked.is_open())
    fail("not-a-workbook", fmt::format("{} cannot be unpacked: {}", part, zip_strerror(archive_->zip)));
  XmlFlow           flow(listener);
  std::vector<char> piece(1 << 16);
  while (true) {
    stop_if_wished();
    const auto got = unpacked.read(piece.data(), piece.size());
    if (got < 0) fail("not-a-workbook", fmt::format("{} is damaged", part));
    unpacked_ += got;
    if (unpacked_ > workbook_limits::unpacked_bytes)
      fail("too-large", fmt::format("the workbook unpacks to more than {} MB",
                                    workbook_limits::unpacked_bytes / 1'000'000));
    if (!flow.take({piece.data(), static_cast<std::size_t>(got)}, got == 0))
      fail(listener.stopped().rfind("too large: ", 0) == 0 ? "too-large" : "not-a-workbook",
           fmt::format("{}: {}", part, listener.stopped()));
    if (got == 0) return;
  }
}

}  // namespace arris

#endif
