// SPDX-License-Identifier: MIT
#include "sim/output/sweep_file.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numeric>
#include <optional>
#include <sstream>
#include <stdexcept>
#include <system_error>
#include <utility>

#include <boost/crc.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/diagnostic.hpp"
#include "sim/input/document.hpp"
#include "sim/output/answer_hdf5.hpp"
#include "sim/output/answer_text.hpp"
#include "sim/output/safe_file.hpp"

namespace arris {
namespace {

namespace fs = std::filesystem;
using Json   = nlohmann::ordered_json;

const char* const status_name = "status";
// sums of the chunks of a sweep that is not finished, in their order within the share
const char* const unfinished = "unfinished";
const char* const sums_path  = "unfinished/chunk_sum";

std::string hash_of(const SweepAxis& axis) {
  std::string bytes(axis.values.size() * sizeof(double), '\0');
  if (!axis.values.empty()) std::memcpy(bytes.data(), axis.values.data(), bytes.size());
  for (const std::string& label : axis.labels) bytes += label + '\n';
  for (const auto& set : axis.sets) {
    for (const int step : set) bytes += std::to_string(step) + ' ';
    bytes += '\n';
  }
  return sha1(bytes);
}

// null stands for NaN
Json   number(double value) { return std::isnan(value) ? Json(nullptr) : Json(value); }
double number(const Json& value) { return value.is_null() ? not_given : value.get<double>(); }

std::vector<std::string> axis_names(const SweepDefinition& definition) {
  std::vector<std::string> names;
  for (const SweepAxis& axis : definition.axes) names.push_back(axis.name);
  return names;
}

// data sets that are filled row by row
std::vector<std::string> row_paths(const SweepDefinition& definition) {
  std::vector<std::string> paths;
  for (const SweepOutput& o : definition.outputs) paths.push_back("map/" + o.name);
  paths.push_back(std::string("map/") + status_name);
  return paths;
}

std::vector<std::string> open_paths(const SweepDefinition& definition) {
  auto paths = row_paths(definition);
  paths.emplace_back(sums_path);
  return paths;
}

// CRC-32 of the numbers and the status of a chunk
double sum_of(const SweepBlock& block) {
  boost::crc_32_type sum;
  for (const auto& values : block.values) sum.process_bytes(values.data(), values.size() * sizeof(double));
  sum.process_bytes(block.status.data(), block.status.size() * sizeof(double));
  return static_cast<double>(sum.checksum());
}

// the axis along which rows lie; −1 where there is only one row, read off one history
int row_axis(const SweepDefinition& d) { return d.axes.size() == 1 && d.row_is_one_history ? -1 : 0; }

std::vector<std::size_t> rows_of(const SweepGrid& grid, const SweepShard& shard) {
  std::vector<std::size_t> rows;
  for (std::size_t c = shard.index - 1; c < grid.chunks(); c += shard.count) {
    for (std::size_t r = 0; r < grid.rows_in(c); ++r) rows.push_back(grid.first_row(c) + r);
  }
  return rows;
}

void write_axis(const Hdf5Group& map, const SweepAxis& axis, const std::vector<std::size_t>* rows) {
  if (axis.is_text()) {
    std::vector<std::string> labels = axis.labels;
    if (rows != nullptr) {
      labels.clear();
      for (const std::size_t r : *rows) labels.push_back(axis.labels[r]);
    }
    map.axis(axis.name, labels, axis.says);
    return;
  }
  std::vector<double> values = axis.values;
  if (rows != nullptr) {
    values.clear();
    for (const std::size_t r : *rows) values.push_back(axis.values[r]);
  }
  map.axis(axis.name, values, axis.units, axis.says);
}

// the group of the results, with what tells whose they are
Hdf5Group map_in(const Hdf5Group& root, const SweepDefinition& definition, const std::string& text,
                 const SweepShard& shard) {
  root.attribute("definition", text);
  root.attribute("shard", shard.text());
  root.attribute("rows_per_chunk", static_cast<double>(SweepGrid(definition).rows_per_chunk));
  const Hdf5Group map = root.group("map");
  map.attribute("long_name", fmt::format("edge {}, {}", definition.edge, definition.moment.text()));
  return map;
}

// an earlier run may have been killed while it wrote its answer, so what is there is written anew
void write_answer(const Hdf5Group& root, const Answer& answer, const SweepFailures& failures) {
  const auto text = [&](const char* name, const std::string& value) {
    root.forget(name);
    root.attribute(name, value);
  };
  const auto count = [&](const std::string& name, double value) {
    root.forget(name);
    root.attribute(name, value);
  };
  for (const char* name : {"headline", "remarks", "remarks_about", "cautions"}) root.forget(name);
  write_sentences(root, answer);
  text("first_failure_cause", failures.cause);
  count("first_failure_row", static_cast<double>(failures.first_row));
  count("first_failure_column", static_cast<double>(failures.first_column));
  for (const auto& [name, value] : answer.settings) count(name, value);
  for (const AnswerTable& table : answer.tables) {
    // what the map holds already, or a screen shows of another table, is not written twice
    if (table.name == "members" || table.name.ends_with("_shown")) continue;
    root.forget(table.name);
    put_table(root, table);
  }
}

// the first line in which two texts part, for a message
std::string first_difference(const std::string& before, const std::string& now) {
  std::istringstream a(before), b(now);
  std::string        x, y;
  while (true) {
    const bool more_a = static_cast<bool>(std::getline(a, x)), more_b = static_cast<bool>(std::getline(b, y));
    if (!more_a && !more_b) return {};
    if (more_a && more_b && x == y) continue;
    return fmt::format("\"{}\" before, \"{}\" now", more_a ? printable(x) : "", more_b ? printable(y) : "");
  }
}

// what parts two definitions, in words; empty where they are the same
std::string definition_difference(const std::string& before, const std::string& now) {
  if (before == now) return {};
  const Json a = Json::parse(before, nullptr, false), b = Json::parse(now, nullptr, false);
  if (a.is_discarded() || b.is_discarded()) return "its definition cannot be read";
  for (const auto& [key, value] : b.items()) {
    const Json was = a.value(key, Json(nullptr));
    if (was == value) continue;
    if (key == "axes" || key == "outputs") {
      const bool axes  = key == "axes";
      const auto names = [axes](const Json& list) {
        std::string out;
        for (const Json& item : list) {
          out += (out.empty() ? "" : ", ") + item.value(axes ? "path" : "name", std::string{});
          if (axes && item.contains("count"))
            out += fmt::format(" ({} values from {} to {})", item["count"].dump(), item["first"].dump(),
                               item["last"].dump());
        }
        return out;
      };
      const std::string x = names(was), y = names(value), what = key == "axes" ? "inputs" : "outputs";
      return x != y ? fmt::format("its {} are {}, not {}", what, x, y)
                    : fmt::format("values of its {} differ: {}", what, x);
    }
    return fmt::format("its {} is {}, not {}", key, was.dump(), value.dump());
  }
  return "its definition differs";
}

// a definition back from its text, but for the values of its axes. Throws nlohmann::json::exception, std::logic_error.
SweepDefinition definition_in(const std::string& text) {
  SweepDefinition d;
  const Json      json     = Json::parse(text);
  d.edge                   = json["edge"];
  d.question               = json["question"];
  d.about                  = json["about"];
  d.limit_gf               = number(json["limit_gf"]);
  d.row_is_one_history     = json["row_is_one_history"];
  d.rests_on               = json["rests_on"];
  const std::string moment = json["moment"];
  for (const Json& item : json["outputs"]) {
    SweepOutput output{item["name"], item["units"], item["says"], {}};
    if (!item["life"].get<bool>()) output.value = [](const TrackPoint&) { return not_given; };
    d.outputs.push_back(std::move(output));
  }
  for (const Json& item : json["axes"]) {
    SweepAxis axis;
    axis.path  = item["path"];
    axis.name  = item["name"];
    axis.units = item["units"];
    axis.says  = item["says"];
    axis.head  = item["head"];
    axis.own   = number(item["own"]);
    if (item.contains("amounts")) axis.amounts = item["amounts"].get<std::vector<double>>();
    if (item.contains("sets")) axis.sets = item["sets"].get<std::vector<std::vector<int>>>();
    axis.values.resize(item["count"].get<std::size_t>());
    if (item["text"].get<bool>()) axis.labels.resize(axis.values.size());
    d.axes.push_back(std::move(axis));
  }
  // "at the end", "after step 5", "after 100 passes": only to be shown again
  if (moment.rfind("after step ", 0) == 0) {
    d.moment = {SweepMoment::Kind::after_step, std::stoi(moment.substr(11)) - 1, 0.0};
  } else if (moment.rfind("after ", 0) == 0) {
    d.moment = {SweepMoment::Kind::after_passes, -1, std::stod(moment.substr(6))};
  }
  if (d.axes.empty()) throw std::invalid_argument("it has no inputs");
  return d;
}

std::string facts(const Provenance& p) { return p.version + " (" + p.commit + ")"; }

std::string build_of(const Hdf5Reader& reader) {
  return reader.attribute("/", "version") + " (" + reader.attribute("/", "commit") + ")";
}

// ---- merging: a step each from files to what they hold together ----

[[noreturn]] void refuse_share(const char* code, const std::string& what, const fs::path& file,
                               const std::string& next) {
  throw Error(Exit::data, {.code = code, .what = what, .next = next, .file = file.string()});
}

void check_finished(const fs::path& file) {
  const auto unfinished_share = [&] {
    refuse_share("unfinished-share", "this share is not finished", file,
                 "Run its command once more: it goes on where it stopped.");
  };
  std::error_code error;
  if (!fs::exists(file, error)) {
    fs::path part = file;
    part += ".part";
    if (fs::exists(part, error)) unfinished_share();
    refuse_share("no-such-file", "there is no such file", file, "Name the files of all shares.");
  }
  if (file.extension() == ".part") unfinished_share();
}

// a share with what tells which sweep it belongs to
struct OpenShare {
  fs::path    file;
  Hdf5Reader  reader;
  SweepShard  number;
  std::string definition, build, configuration;
};

OpenShare opened_share(const fs::path& file) {
  check_finished(file);
  const Hdf5Reader          reader(file);
  std::optional<SweepShard> number;
  try {
    number = shard_of(reader.attribute("/", "shard"));
  } catch (const Error&) {  // no such attribute: refused below
  }
  if (!number || reader.attribute("/", "kind") != "sweep")
    refuse_share("not-a-sweep", "this is no share of a sweep", file,
                 "Name files that `arris sweep --shard I/N` wrote.");
  return {file,
          reader,
          *number,
          reader.attribute("/", "definition"),
          build_of(reader),
          reader.attribute("/", "configuration")};
}

void check_same_sweep(const OpenShare& share, const OpenShare& first) {
  std::string differs = definition_difference(share.definition, first.definition);
  if (differs.empty() && share.number.count != first.number.count)
    differs = fmt::format("it is one of {} shares, not of {}", share.number.count, first.number.count);
  if (differs.empty() && share.configuration != first.configuration)
    differs = "the configuration differs: " + first_difference(share.configuration, first.configuration);
  if (differs.empty() && share.build != first.build)
    differs = fmt::format("it was made by arris {}, the other by {}", share.build, first.build);
  if (!differs.empty())
    refuse_share("sweep-differs",
                 fmt::format("this share belongs to another sweep than {}: {}", first.file.string(), differs),
                 share.file, "Name only shares of one sweep.");
}

// as the files are named, each share once
std::vector<OpenShare> shares_of_one_sweep(const std::vector<fs::path>& files) {
  std::vector<OpenShare> shares;
  for (const fs::path& file : files) {
    OpenShare share = opened_share(file);
    if (!shares.empty()) check_same_sweep(share, shares.front());
    const auto other = std::find_if(shares.begin(), shares.end(),
                                    [&](const OpenShare& s) { return s.number.index == share.number.index; });
    if (other != shares.end())
      refuse_share(
          "share-twice",
          fmt::format("share {} is given twice, also by {}", share.number.index, other->file.string()), file,
          "Name each share once.");
    shares.push_back(std::move(share));
  }
  return shares;
}

// shares by their numbers, with none missing
std::vector<OpenShare> in_order(std::vector<OpenShare> shares) {
  const std::string next = "Name the files of all shares; run what is missing with `arris sweep --shard`.";
  if (shares.empty()) refuse_share("share-missing", "no share is named", {}, next);
  const fs::path first = shares.front().file;
  std::sort(shares.begin(), shares.end(),
            [](const OpenShare& a, const OpenShare& b) { return a.number.index < b.number.index; });
  const std::size_t count = shares.front().number.count;
  std::string       missing;
  auto              share = shares.begin();
  for (std::size_t i = 1; i <= count; ++i) {
    if (share != shares.end() && share->number.index == i) {
      ++share;
    } else {
      missing += fmt::format("{}{}/{}", missing.empty() ? "" : ", ", i, count);
    }
  }
  if (!missing.empty())
    refuse_share("share-missing", fmt::format("not all shares are here; missing: {}", missing), first, next);
  return shares;
}

// without the values of its axes
SweepDefinition definition_of_shares(const std::string& text, const fs::path& first) {
  const std::string what = "its definition cannot be read: ", next = "Run the shares anew.";
  try {
    return definition_in(text);
  } catch (const Json::exception& fault) {
    refuse_share("not-a-sweep", what + printable(fault.what()), first, next);
  } catch (const std::logic_error& fault) {
    refuse_share("not-a-sweep", what + fault.what(), first, next);
  }
}

// puts the coordinates of a share, which has these rows, into their places along an axis
template <class Value>
void put_coordinates(const OpenShare& share, const std::vector<std::size_t>* rows,
                     const std::vector<Value>& from, std::vector<Value>& to) {
  if (from.size() != (rows != nullptr ? rows->size() : to.size()))
    refuse_share("not-a-sweep", "the coordinates of this share do not fit its definition", share.file,
                 "Run its command anew.");
  for (std::size_t i = 0; i < from.size(); ++i) to[rows != nullptr ? (*rows)[i] : i] = from[i];
}

// the values of the axes come from the coordinates, row by row from their shares
SweepDefinition with_values(SweepDefinition definition, const std::vector<OpenShare>& shares) {
  const SweepGrid grid(definition);
  for (const OpenShare& share : shares) {
    const auto own_rows = rows_of(grid, share.number);
    for (std::size_t a = 0; a < definition.axes.size(); ++a) {
      SweepAxis&        axis = definition.axes[a];
      const std::string path = "map/" + axis.name;
      const auto* const rows = static_cast<int>(a) == row_axis(definition) ? &own_rows : nullptr;
      if (axis.is_text()) {
        put_coordinates(share, rows, share.reader.texts(path), axis.labels);
      } else {
        put_coordinates(share, rows, share.reader.numbers(path), axis.values);
      }
    }
  }
  for (SweepAxis& axis : definition.axes) {
    if (axis.is_text()) std::iota(axis.values.begin(), axis.values.end(), 0.0);
  }
  return definition;
}

SweepFailures failures_in(const std::vector<OpenShare>& shares, const SweepGrid& grid) {
  SweepFailures out;
  out.members = grid.members();
  for (const OpenShare& share : shares) {
    const auto count = [&](const char* name) {
      return static_cast<std::size_t>(share.reader.number_attribute("/", name));
    };
    const double failed = share.reader.number_attribute("/", "failed");
    if (!(failed > 0.0)) continue;
    const std::size_t row = count("first_failure_row"), column = count("first_failure_column");
    if (out.count == 0 || row < out.first_row) {
      out.first_row    = row;
      out.first_column = column;
      out.cause        = share.reader.attribute("/", "first_failure_cause");
    }
    out.count += static_cast<std::size_t>(failed);
  }
  return out;
}

// against the sums that stand in the text of the definition
void check_values(const SweepDefinition& definition, const std::string& text, const fs::path& first) {
  const Json json = Json::parse(text);
  for (std::size_t a = 0; a < definition.axes.size(); ++a) {
    const SweepAxis& axis = definition.axes[a];
    if (hash_of(axis) != json["axes"][a].value("sha1", ""))
      refuse_share("not-a-sweep", fmt::format("the values of {} do not fit the definition", axis.path), first,
                   "Run the shares anew.");
  }
}

}  // namespace

std::string definition_text(const SweepDefinition& d) {
  Json out{{"edge", d.edge},
           {"question", d.question},
           {"about", d.about},
           {"moment", d.moment.text()},
           {"limit_gf", number(d.limit_gf)}};
  for (const SweepAxis& a : d.axes) {
    Json axis{
        {"path", a.path},          {"name", a.name},       {"units", a.units},  {"says", a.says},
        {"head", a.head},          {"text", a.is_text()},  {"count", a.size()}, {"first", a.values.front()},
        {"last", a.values.back()}, {"own", number(a.own)}, {"sha1", hash_of(a)}};
    if (!a.amounts.empty()) axis["amounts"] = a.amounts;
    if (!a.sets.empty()) axis["sets"] = a.sets;
    out["axes"].push_back(std::move(axis));
  }
  for (const SweepOutput& o : d.outputs)
    out["outputs"].push_back({{"name", o.name}, {"units", o.units}, {"says", o.says}, {"life", !o.value}});
  out["row_is_one_history"] = d.row_is_one_history;
  out["rests_on"]           = d.rests_on;
  return out.dump();
}

SweepFile::SweepFile(fs::path out, const SweepDefinition& definition, const SweepShard& shard,
                     const std::string& title, const Provenance& provenance)
    : out_(std::move(out)), part_(out_), definition_(definition), grid_(definition), shard_(shard) {
  part_ += ".part";
  done_.assign(grid_.chunks(), false);
  {  // before anything is worked out: can the result be put there at all?
    const SafeFile probe(out_);
  }
  std::error_code error;
  const bool      there = fs::exists(part_, error);
  if (there) {
    compare(provenance);
  } else {
    create(title, provenance);
  }
  rows_ = std::make_unique<Hdf5Rows>(part_, open_paths(definition_));
  if (there) find_done();
}

void SweepFile::find_done() {
  for (std::size_t c = shard_.index - 1; c < grid_.chunks(); c += shard_.count) {
    done_[c] = is_whole(c);
    resumed_ += done_[c] ? 1 : 0;
  }
}

bool SweepFile::is_whole(std::size_t chunk) const {
  const SweepBlock block = get(chunk);
  return std::all_of(block.status.begin(), block.status.end(), [](double s) { return s >= 0.0; }) &&
         rows_->get(sums_path, chunk / shard_.count, 1).front() == sum_of(block);
}

void SweepFile::create(const std::string& title, const Provenance& provenance) const {
  Hdf5Writer writer(part_);  // under another name until it is whole, so that a .part can always be read
  {
    const Hdf5Group& root = writer.root();
    write_root_attributes(root, "sweep", title, provenance);
    const Hdf5Group map  = map_in(root, definition_, definition_text(definition_), shard_);
    const auto      rows = rows_of(grid_, shard_);
    for (std::size_t a = 0; a < definition_.axes.size(); ++a)
      write_axis(map, definition_.axes[a], static_cast<int>(a) == row_axis(definition_) ? &rows : nullptr);
    const auto along = axis_names(definition_);
    for (const SweepOutput& o : definition_.outputs)
      map.room(o.name, along, Hdf5Group::Kept::numbers, o.units, o.says);
    map.room(status_name, along, Hdf5Group::Kept::marks, "", sweep_status_meanings);
    const Hdf5Group sums = root.group(unfinished);
    sums.axis("chunk", (grid_.chunks() - shard_.index + shard_.count) / shard_.count,
              "chunks of this share, from 0");
    sums.room("chunk_sum", {"chunk"}, Hdf5Group::Kept::numbers, "1",
              "CRC-32 of the numbers and the status of a chunk");
  }
  writer.finish(open_paths(definition_));
}

void SweepFile::compare(const Provenance& provenance) const {
  std::string differs;
  try {
    const Hdf5Reader  reader(part_);
    const std::string shard = shard_.text();
    differs = definition_difference(reader.attribute("/", "definition"), definition_text(definition_));
    const std::string build = build_of(reader);
    if (differs.empty() && reader.attribute("/", "shard") != shard)
      differs = fmt::format("it is share {}, not {}", reader.attribute("/", "shard"), shard);
    if (differs.empty() && reader.attribute("/", "configuration") != provenance.configuration)
      differs = "the configuration has changed: " +
                first_difference(reader.attribute("/", "configuration"), provenance.configuration);
    if (differs.empty() && build != facts(provenance))
      differs = fmt::format("it was begun by arris {}, and this is {}", build, facts(provenance));
  } catch (const Error& error) {
    const Diagnostic& fault = error.diagnostics().front();
    throw Error(Exit::data, {.code  = fault.code,
                             .what  = "the unfinished sweep cannot be read: " + fault.what,
                             .cause = fault.cause,
                             .next  = "Delete the file to begin anew.",
                             .file  = part_.string()});
  }
  if (differs.empty()) return;
  throw Error(Exit::usage, {.code = "sweep-differs",
                            .what = "there is an unfinished sweep here, and it is another one: " + differs,
                            .next = "Delete the file to begin anew, or give --out another name.",
                            .file = part_.string()});
}

std::size_t SweepFile::local_row(std::size_t chunk) const {
  return chunk / shard_.count * grid_.rows_per_chunk;
}

void SweepFile::put(std::size_t chunk, const SweepBlock& block) {
  const std::size_t first = row_axis(definition_) < 0 ? 0 : local_row(chunk);
  const auto        paths = row_paths(definition_);
  for (std::size_t o = 0; o < block.values.size(); ++o) rows_->put(paths[o], first, block.values[o]);
  rows_->put(sums_path, chunk / shard_.count, {sum_of(block)});
  rows_->put(paths.back(), first, block.status);
  done_[chunk] = true;
}

SweepBlock SweepFile::get(std::size_t chunk) const {
  const bool        one   = row_axis(definition_) < 0;
  const std::size_t first = one ? 0 : local_row(chunk), rows = one ? grid_.columns : grid_.rows_in(chunk);
  const auto        paths = row_paths(definition_);
  SweepBlock        block;
  for (std::size_t o = 0; o < definition_.outputs.size(); ++o)
    block.values.push_back(rows_->get(paths[o], first, rows));
  block.status = rows_->get(paths.back(), first, rows);
  return block;
}

void SweepFile::finish(const Answer& answer, const SweepFailures& failures) {
  rows_.reset();
  // the answer changes the file's own order, and half of that would spoil it: so it goes into a copy
  try {
    SafeFile        whole(out_);
    std::error_code error;
    fs::copy_file(part_, whole.temporary(), fs::copy_options::overwrite_existing, error);
    if (error) {
      // the library calls it an input/output error where the room ran out half way
      std::error_code unknown;
      const auto      room = fs::space(whole.temporary().parent_path() / ".", unknown).available;
      cannot_write(out_, !unknown && room < fs::file_size(part_, unknown)
                             ? std::make_error_code(std::errc::no_space_on_device).message()
                             : error.message());
    }
    Hdf5Editor copy(whole.temporary());
    copy.root().forget(unfinished);
    write_answer(copy.root(), answer, failures);
    copy.finish();
    whole.keep();
  } catch (const Error& fault) {
    std::error_code unknown;
    const bool      is_kept = fs::exists(part_, unknown);
    throw Error(
        fault.exit(),
        {.code = "cannot-write",
         .what = "the sweep is done, but not in its place: " + fault.diagnostics().front().what,
         .next =
             is_kept
                 ? fmt::format(
                       "All of it is kept in {}: make room for it once more, and give the same command again.",
                       part_.string())
                 : fmt::format(
                       "{} is no longer where it was: bring it back, if it was moved, and give the same command again.",
                       part_.string()),
         .file = out_.string()});
  }
  std::error_code unimportant;
  fs::remove(part_, unimportant);
}

SweepShards::SweepShards(const std::vector<fs::path>& files) {
  const auto            shares   = in_order(shares_of_one_sweep(files));
  const std::string&    text     = shares.front().definition;
  const SweepDefinition defined  = with_values(definition_of_shares(text, files.front()), shares);
  const SweepFailures   failures = failures_in(shares, SweepGrid(defined));
  check_values(defined, text, files.front());
  for (const OpenShare& share : shares)
    shares_.push_back({share.file, share.reader, rows_of(SweepGrid(defined), share.number).size()});
  definition_      = defined;
  definition_text_ = text;
  failures_        = failures;
  title_           = shares.front().reader.attribute("/", "title");
}

SweepBlock SweepShards::get(std::size_t chunk) const {
  const SweepGrid   grid(definition_);
  const Share&      share = shares_[chunk % shares_.size()];
  const bool        one   = row_axis(definition_) < 0;
  const std::size_t first = one ? 0 : chunk / shares_.size() * grid.rows_per_chunk;
  const std::size_t rows  = one ? grid.columns : grid.rows_in(chunk);
  const Hdf5Group   map   = share.reader.group("map");
  SweepBlock        block;
  for (const SweepOutput& o : definition_.outputs) block.values.push_back(map.get(o.name, first, rows));
  block.status = map.get(status_name, first, rows);
  return block;
}

Provenance SweepShards::provenance(const std::string& command) const {
  const auto& reader = shares_.front().reader;
  Provenance  p      = command_provenance(command);
  p.configuration    = reader.attribute("/", "configuration");
  p.numerics         = reader.attribute("/", "numerics");
  p.rests_on         = reader.attribute("/", "rests_on");
  for (const Share& share : shares_)
    p.inputs.emplace_back(share.file.string(), sha1(share.reader.attribute("/", "inputs")));
  return p;
}

void SweepShards::write(const fs::path& out, const Answer& answer, const std::string& command) const {
  const SweepGrid grid(definition_);
  const fs::path  folder = fs::absolute(out).parent_path();
  Hdf5Writer      writer(out);
  {
    const Hdf5Group& root = writer.root();
    write_root_attributes(root, "sweep", title_, provenance(command));
    const Hdf5Group map = map_in(root, definition_, definition_text_, {});
    for (const SweepAxis& axis : definition_.axes) write_axis(map, axis, nullptr);
    const bool one    = row_axis(definition_) < 0;
    const auto chunk  = one ? grid.columns : grid.rows_per_chunk;
    const auto gather = [&](const std::string& name, Hdf5Group::Kept kept, const std::string& unit,
                            const std::string& says) {
      std::vector<Hdf5Group::Gathered> pieces;
      for (std::size_t s = 0; s < shares_.size(); ++s) {
        const fs::path file = fs::absolute(shares_[s].file).lexically_normal();
        fs::path       near = file.lexically_relative(folder.lexically_normal());
        pieces.push_back({(near.empty() ? file : near).string(), "/map/" + name,
                          one ? grid.columns : shares_[s].rows, s * chunk, shares_.size() * chunk});
      }
      map.gathered(name, axis_names(definition_), kept, pieces, chunk, unit, says);
    };
    for (const SweepOutput& o : definition_.outputs)
      gather(o.name, Hdf5Group::Kept::numbers, o.units, o.says);
    gather(status_name, Hdf5Group::Kept::marks, "", sweep_status_meanings);
    write_answer(root, answer, failures_);
  }
  writer.finish();
}

}  // namespace arris
