// SPDX-License-Identifier: MIT
// The one door of the module: arris_call(what, request as JSON) gives JSON, {"answer": …} or {"errors": [ … ]}.
#include <deque>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include <emscripten.h>

#include "page.hpp"
#include "sim/sha1.hpp"

using namespace arris;        // NOLINT(google-build-using-namespace)
using namespace arris::page;  // NOLINT(google-build-using-namespace)

// progress goes to a function that the page has put on the module
EM_JS(void, tell_progress, (const char* stage, double done, double all), {
  if (Module['told']) Module['told'](UTF8ToString(stage), done, all);
});

namespace {

// draws of a fit that the bench works with, between calls
std::optional<FittedDraws>& held() {
  static std::optional<FittedDraws> draws;
  return draws;
}

/// Results that were worked out, so that a report need not work them out again; the last first.
struct Kept {
  std::string key;
  Result      result;
};
std::deque<Kept>& kept() {
  static std::deque<Kept> results;
  return results;
}

// which fit is held, as part of what a result depends on
std::string& held_name() {
  static std::string name;
  return name;
}

const Result& result_of(const std::string& what, const Json& request, const Progress& told) {
  constexpr std::size_t most = 12;
  // a fit rests on no other fit
  std::string key = what + (what == "fit" ? std::string() : held_name()) + request.dump();
  for (const Kept& k : kept()) {
    if (k.key == key) return k.result;
  }
  const FittedDraws* const draws = held() ? &*held() : nullptr;
  kept().push_front({std::move(key), what == "fit" ? fit(request, told) : study(what, request, draws, told)});
  if (kept().size() > most) kept().pop_back();
  return kept().front().result;
}

// {of: [[study, request], …]}: those that are not at hand are made
Json report(const Json& request, const Progress& told) {
  std::vector<StoredResult> results;
  for (const Json& one : request.at("of")) {
    const Result& result = result_of(one.at(0).get<std::string>(), one.at(1), told);
    if (result.stored) results.push_back(*result.stored);
  }
  std::vector<const StoredResult*> all;
  for (const StoredResult& result : results) all.push_back(&result);
  return report_of(all);
}

Json call(const std::string& what, const Json& request) {
  const Progress told = [](const std::string& stage, std::size_t done, std::size_t all) {
    tell_progress(stage.c_str(), static_cast<double>(done), static_cast<double>(all));
  };
  const FittedDraws* const draws = held() ? &*held() : nullptr;
  if (what == "describe") return describe();
  if (what == "style") return style();
  if (what == "read") return read(request);
  if (what == "write") return write(request);
  if (what == "bench") return bench(request, draws);
  if (what == "simulate") return simulate(request);
  if (what == "moments") return moments(request);
  if (what == "import") return import_files(request);
  if (what == "heads") return heads(request);
  if (what == "export") return export_rows(request);
  if (what == "sheets") return sheets(request);
  if (what == "report") return report(request, told);
  static const std::set<std::string> studies{"fit",     "readings", "check", "forecast",
                                             "compare", "upkeep",   "plan"};
  if (studies.count(what) > 0) return result_of(what, request, told).answer;
  if (what == "hold") {  // the result of a fit; null lets it go
    held().reset();
    held_name() = request.is_object() ? sha1(request.dump()) : std::string();
    if (request.is_object()) held() = draws_of(request);
    return nullptr;
  }
  throw Error(Exit::usage, {.code = "unknown-call", .what = "the module does not know \"" + what + "\""});
}

}  // namespace

/// The text stays until the next call.
extern "C" EMSCRIPTEN_KEEPALIVE const char* arris_call(const char* what, const char* request) {
  static std::string text;
  Json               out = Json::object();
  try {
    out["answer"] = call(what, Json::parse(request));
  } catch (const Error& error) {
    out["errors"] = Json::array();
    for (const Diagnostic& d : error.diagnostics()) out["errors"].push_back(diagnostic_json(d));
  }
  text = out.dump(-1, ' ', false, Json::error_handler_t::replace);
  return text.c_str();
}
