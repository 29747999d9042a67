// SPDX-License-Identifier: MIT
#include "sim/cli/delivery.hpp"

#include <functional>
#include <optional>
#include <string>

#include <fmt/format.h>

#include "sim/ask/arguments.hpp"
#include "sim/input/files.hpp"
#include "sim/output/answer_hdf5.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/output/answer_text.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/safe_file.hpp"

namespace arris::cli {
namespace {

/// Each where it is asked for.
struct AnswerTexts {
  std::optional<std::string> csv, json, terminal;
};

AnswerTexts texts_of(const Arguments& arguments, const std::string& title, const Provenance& origin,
                     const Answer& answer) {
  const auto  csv = arguments.text("csv"), json = arguments.text("json");
  const bool  piped = csv.value_or("") == "-" || json.value_or("") == "-";
  AnswerTexts texts;
  if (csv) texts.csv = answer_csv(answer);
  if (!arguments.has("quiet") && arguments.prints && !piped) texts.terminal = answer_text(answer, title);
  if (json) texts.json = answer_json(answer, title, origin);
  return texts;
}

}  // namespace

void deliver_answer(const Arguments& arguments, const Campaign& campaign, const Answer& answer,
                    const std::string& seed) {
  const Provenance   origin = provenance(campaign, arguments.line, seed, arguments.text("fit"));
  const std::string& title  = campaign.loaded.scenario.title;
  deliver(arguments, title, origin, answer, [&] {
    if (const auto path = arguments.text("out")) write_answer_hdf5(*path, answer, title, origin);
  });
}

void deliver(const Arguments& arguments, const std::string& title, const Provenance& origin,
             const Answer& answer, const std::function<void()>& write_result) {
  const AnswerTexts texts = texts_of(arguments, title, origin, answer);
  write_result();
  if (texts.csv) write_text(*arguments.text("csv"), *texts.csv);
  if (texts.json) write_text(*arguments.text("json"), *texts.json);
  if (texts.terminal) fmt::print("{}", *texts.terminal);
}

}  // namespace arris::cli
