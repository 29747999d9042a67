// SPDX-License-Identifier: MIT
#include "sim/input/workbook.hpp"

#include <optional>

#include <fmt/format.h>

#include "json.hpp"
#include "sim/input/zip_xml.hpp"

/// Workbooks in the page. The browser has unpacked them and read their XML (web/workbook.js), and what it found comes here in the place
/// of the file's bytes: the mark of a zip archive, then JSON,
///   {parts: {name: part}} or {fault, is_too_large},
/// where a part is the beginning of its text, {fault}, or a list of what is heard of its XML: [name, attribute, value, …] where an element
/// begins, 0 where it ends, and texts. What sheets and cells are made of it, the readers of the program say (sim/input).
namespace arris {

using page::Json;

struct ZipOfXml::Archive {
  Json parts;
};

ZipOfXml::ZipOfXml(std::string file, std::string_view bytes) : file_(std::move(file)) {
  constexpr std::size_t mark = 4;
  Json                  all  = Json::parse(bytes.substr(mark));
  if (all.contains("fault"))
    fail(all.value("is_too_large", false) ? "too-large" : "not-a-workbook", all.at("fault"));
  archive_ = std::make_unique<Archive>(Archive{std::move(all.at("parts"))});
}

ZipOfXml::~ZipOfXml() = default;

bool ZipOfXml::has(const std::string& part) const { return archive_->parts.contains(part); }

std::string ZipOfXml::beginning(const std::string& part) {
  const auto found = archive_->parts.find(part);
  return found != archive_->parts.end() && found->is_string() ? found->get<std::string>() : std::string();
}

void ZipOfXml::read(const std::string& part, XmlListener& listener) {
  const auto found = archive_->parts.find(part);
  if (found == archive_->parts.end())
    fail("not-a-workbook", fmt::format("the workbook has no part {}", part));
  if (!found->is_array())
    fail("not-a-workbook",
         fmt::format("{}: {}", part, found->is_object() ? found->at("fault").get<std::string>() : "no XML"));
  std::vector<std::string> open;
  for (const Json& heard : *found) {
    if (heard.is_string()) {
      listener.text(heard.get_ref<const std::string&>());
    } else if (heard.is_array()) {
      std::vector<const char*> attributes;
      for (std::size_t i = 1; i < heard.size(); ++i)
        attributes.push_back(heard[i].get_ref<const std::string&>().c_str());
      attributes.push_back(nullptr);
      open.push_back(heard.at(0).get<std::string>());
      if (open.size() > static_cast<std::size_t>(workbook_limits::depth))
        listener.stop("elements stand in one another without end");
      listener.begin(open.back(), attributes.data());
    } else if (!open.empty()) {
      listener.end(open.back());
      open.pop_back();
    }
    if (!listener.stopped().empty())
      fail(listener.stopped().rfind("too large: ", 0) == 0 ? "too-large" : "not-a-workbook",
           fmt::format("{}: {}", part, listener.stopped()));
  }
}

}  // namespace arris
