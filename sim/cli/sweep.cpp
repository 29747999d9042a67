// SPDX-License-Identifier: MIT
#include "sim/studies/sweep/sweep.hpp"

#include <filesystem>
#include <memory>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/input/files.hpp"
#include "sim/output/file_lock.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/sweep_file.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {
namespace {

SweepShard share_asked_for(const Arguments& arguments, const SweepGrid& grid) {
  const auto text = arguments.text("shard");
  if (!text) return {};
  const auto shard = shard_of(*text);
  if (!shard || shard->count > grid.chunks()) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("--shard {} is no share of this sweep", printable(*text)),
                              .allowed = fmt::format("1/N … N/N with N up to {}", grid.chunks()),
                              .cause   = "Shares are made of whole blocks of rows."});
  }
  if (!arguments.has("out") || arguments.has("csv") || arguments.has("json")) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = "a share goes to a file of its own with --out, and has no table yet",
                              .next = "Give --out, leave --csv and --json to `arris merge`."});
  }
  return *shard;
}

std::size_t blocks_of(const SweepGrid& grid, const SweepShard& shard) {
  return (grid.chunks() - shard.index) / shard.count + 1;
}

}  // namespace

Exit sweep(const Arguments& arguments) {
  const bool     quiet    = arguments.has("quiet");
  const int      threads  = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  const Campaign campaign = load_within_limits(*arguments.text("FILE"), ask::sweep_materials(arguments));
  const Loaded&  loaded   = campaign.loaded;
  const auto     held     = hold_outputs(arguments, campaign, {"out", "csv", "json"});

  const auto                  found  = ask::sweep_study(arguments, campaign);
  const arris::Sweep&         study  = *found;
  const SweepGrid&            grid   = study.grid();
  const SweepShard            shard  = share_asked_for(arguments, grid);
  const Provenance            origin = provenance(campaign, arguments.line, "");
  const auto&                 d      = study.definition();
  std::unique_ptr<SweepStore> store;
  SweepFile*                  file = nullptr;
  if (const auto path = arguments.text("out")) {
    auto opened = std::make_unique<SweepFile>(*path, d, shard, loaded.scenario.title, origin);
    file        = opened.get();
    store       = std::move(opened);
    if (file->resumed() > 0 && !quiet && arguments.prints)
      fmt::print(stderr, "note: going on with {}.part, {} of {} blocks are done already\n", printable(*path),
                 file->resumed(), blocks_of(grid, shard));
  } else {
    ask::check_fits_memory(study, "Give --out: then they go to a file as they come.");
    store = std::make_unique<SweepMemory>();
  }
  std::size_t blocks = file != nullptr ? file->resumed() : 0;
  try {
    Progress progress("sweeping", quiet);
    study.run_into(*store, shard, threads, [&](std::size_t done, std::size_t all) {
      blocks = done;
      progress.show(done, all);
    });
  } catch (const Stopped&) {
    if (file == nullptr || !arguments.prints) throw;
    return stopped(fmt::format("{} of {} blocks are kept in {}.part; the same command goes on with them.",
                               blocks, blocks_of(grid, shard), printable(*arguments.text("out"))));
  }
  const auto    get      = [&](std::size_t chunk) { return store->get(chunk); };
  SweepFailures failures = count_failures(grid, shard, get);
  if (failures.count > 0) failures.cause = study.cause(failures.first_row, failures.first_column);
  const Answer answer = shard.is_whole() ? sweep_answer(d, failures, get) : shard_answer(d, shard, failures);
  if (file != nullptr) file->finish(answer, failures);
  print_answer(arguments, loaded.scenario.title, origin, answer);
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
  const Answer      answer = sweep_answer(shards.definition(), shards.failures(), get);
  shards.write(*out, answer, arguments.line);
  print_answer(arguments, shards.title(), shards.provenance(arguments.line), answer);
  return Exit::done;
}

}  // namespace arris::cli
