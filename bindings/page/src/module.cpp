// SPDX-License-Identifier: MIT
// The one door of the module: arris_call(what, request as JSON) gives JSON, {"answer": …} or {"errors": [ … ]}.
#include <optional>
#include <string>

#include <emscripten.h>

#include "page.hpp"

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
  if (what == "fit") return fit(request, told);
  if (what == "compare" || what == "forecast") return answer(what, request, draws, told);
  if (what == "hold") {  // the result of a fit; null lets it go
    held().reset();
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
