// SPDX-License-Identifier: MIT
#include "sim/studies/sweep/sweep.hpp"

#include <filesystem>
#include <memory>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/delivery.hpp"
#include "sim/cli/earlier_fit.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/output_files.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/sweep_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/stop.hpp"
#include "sim/text.hpp"

namespace arris::cli {
namespace {

void check_share_has_file(const Arguments& arguments) {
  if (!arguments.has("shard")) return;
  if (arguments.has("out") && !arguments.has("csv") && !arguments.has("json")) return;
  throw Error(Exit::usage, {.code = "bad-option",
                            .what = "a share goes to a file of its own with --out, and has no table yet",
                            .next = "Give --out, leave --csv and --json to `arris merge`."});
}

std::size_t blocks_of(const SweepGrid& grid, const SweepShard& shard) {
  return shard.end(grid.chunks()) - shard.first(grid.chunks());
}

}  // namespace

Exit sweep(const Arguments& arguments) {
  check_share_has_file(arguments);
  const bool     quiet   = arguments.has("quiet");
  const int      threads = ask::threads_of(arguments);
  const Campaign campaign =
      at_earlier_fit(arguments, load_within_limits(arguments, ask::sweep_materials(arguments)));
  const auto held = hold_outputs(arguments, campaign, {"out", "csv", "json"});

  const std::string&          title  = campaign.loaded.scenario.title;
  const auto                  study  = ask::sweep_study(arguments, campaign);
  const SweepDefinition&      d      = study->definition();
  const SweepShard            shard  = ask::share_of(arguments, study->grid());
  const std::size_t           all    = blocks_of(study->grid(), shard);
  const Provenance            origin = provenance(campaign, arguments.line, "", arguments.text("fit"));
  std::unique_ptr<SweepStore> store;
  SweepFile*                  file = nullptr;
  std::string                 unfinished;  // where blocks are kept meanwhile
  if (const auto path = arguments.text("out")) {
    auto opened = std::make_unique<SweepFile>(*path, d, shard, title, origin);
    unfinished  = printable(*path) + ".part";
    file        = opened.get();
    store       = std::move(opened);
    if (file->resumed() > 0 && !quiet && arguments.prints)
      tell(fmt::format("note: going on with {}, {} of {} blocks are done already\n", unfinished,
                       file->resumed(), all));
  } else {
    ask::check_fits_memory(*study, shard, "Give --out: then they go to a file as they come.");
    store = std::make_unique<SweepMemory>();
  }
  SweepFailures failures;
  std::size_t   blocks = file != nullptr ? file->resumed() : 0;
  try {
    Progress progress("sweeping", quiet);
    failures            = study->run_into(*store, shard, threads, [&](std::size_t done, std::size_t of) {
      blocks = done;
      progress.show(done, of);
    });
    const auto   get    = [&](std::size_t chunk) { return store->get(chunk); };
    const Answer answer = sweep_answer(d, shard, failures, get);
    deliver(arguments, title, origin, answer, [&] {
      if (file != nullptr) file->finish(answer, failures);
    });
  } catch (const Stopped&) {
    if (file == nullptr || !arguments.prints) throw;
    throw Stopped(fmt::format("{} of {} blocks are kept in {}; the same command goes on with them.", blocks,
                              all, unfinished));
  }
  return failures.count < failures.members ? Exit::done : Exit::integration;
}

Exit merge(const Arguments& arguments) {
  const auto out = arguments.text("out");
  if (!out)
    throw Error(Exit::usage,
                {.code = "bad-option", .what = "the whole needs a file", .next = "Give --out FILE."});
  std::vector<std::filesystem::path> files;
  for (const std::string& file : arguments.texts("SHARE")) {
    std::error_code error;
    if (std::filesystem::equivalent(file, *out, error) && !error)
      throw Error(Exit::usage, {.code = "would-overwrite",
                                .what = "--out would overwrite a share",
                                .next = "Give the whole another name.",
                                .file = *out});
    files.emplace_back(file);
  }
  const auto        held = hold_output(arguments, *out);
  const SweepShards shards(files);
  const auto        get    = [&](std::size_t chunk) { return shards.get(chunk); };
  const Answer      answer = sweep_answer(shards.definition(), {}, shards.failures(), get);
  deliver(arguments, shards.title(), shards.provenance(arguments.line), answer, [&] {
    if (arguments.has("link")) return shards.link(*out, answer, arguments.line);
    Progress progress("merging", arguments.has("quiet"));
    shards.copy(*out, answer, arguments.line,
                [&](std::size_t done, std::size_t of) { progress.show(done, of); });
  });
  return Exit::done;
}

}  // namespace arris::cli
