// SPDX-License-Identifier: MIT
#include "sim/output/sweep_file.hpp"

#include <algorithm>
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
#include "sim/output/root_attributes.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/shares.hpp"
#include "sim/output/sweep_definition.hpp"
#include "sim/sha1.hpp"
#include "sim/stop.hpp"

namespace arris {
namespace {

namespace fs = std::filesystem;
using Json   = nlohmann::ordered_json;

const char* const status_name = "status";
// sums of the chunks of a sweep that is not finished, in their order within the share
const char* const unfinished = "unfinished";
const char* const sums_path  = "unfinished/chunk_sum";

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

// rows side by side
struct RowSpan {
  std::size_t               first = 0, end = 0;
  [[nodiscard]] std::size_t count() const { return end - first; }
};

RowSpan rows_of_chunks(const SweepGrid& grid, std::size_t first, std::size_t end) {
  return {grid.first_row(first), std::min(grid.first_row(end), grid.rows)};
}

RowSpan rows_of(const SweepGrid& grid, const SweepShard& shard) {
  return rows_of_chunks(grid, shard.first(grid.chunks()), shard.end(grid.chunks()));
}

template <class Value>
std::vector<Value> cut_out(const std::vector<Value>& of, const RowSpan& rows) {
  return {of.begin() + static_cast<std::ptrdiff_t>(rows.first),
          of.begin() + static_cast<std::ptrdiff_t>(rows.end)};
}

void write_axis(const Hdf5Group& map, const SweepAxis& axis, const RowSpan& values) {
  if (axis.is_text()) {
    map.axis(axis.name, cut_out(axis.labels, values), axis.says);
  } else {
    map.axis(axis.name, cut_out(axis.values, values), axis.units, axis.says);
  }
}

// the axes of the rows of a share, or of the whole
void write_axes(const Hdf5Group& map, const SweepDefinition& definition, const SweepShard& shard) {
  const RowSpan rows = rows_of(SweepGrid(definition), shard);
  for (std::size_t a = 0; a < definition.axes.size(); ++a) {
    const SweepAxis& axis = definition.axes[a];
    write_axis(map, axis, static_cast<int>(a) == row_axis(definition) ? rows : RowSpan{0, axis.size()});
  }
  for (const SweepAxis& input : definition.inputs) {
    const std::string& row = definition.axes.front().name;
    if (input.is_text()) {
      map.data(input.name, cut_out(input.labels, rows), row, input.says);
    } else {
      map.data(input.name, cut_out(input.values, rows), row, input.units, input.says);
    }
  }
}

// the group of the results, with what tells whose they are
Hdf5Group map_in(const Hdf5Group& root, const SweepDefinition& definition, const std::string& text,
                 const SweepShard& shard) {
  put_sweep_attributes(root, definition, text, shard);
  Hdf5Group map = root.group("map");
  map.attribute("long_name", fmt::format("edge {}, {}", definition.edge, definition.moment.text()));
  return map;
}

void write_answer(const Hdf5Group& root, const Answer& answer, const SweepFailures& failures) {
  put_sentences(root, answer);
  put_failures(root, failures);
  for (const auto& [name, value] : answer.settings) root.attribute(name, value);
  for (const AnswerTable& table : answer.tables) {
    // what the map holds already, or a screen shows of another table, is not written twice
    if (table.name == "members" || table.name.ends_with("_shown")) continue;
    put_table(root, table);
  }
}

// the results of some chunks that lie side by side, compressed, one chunk after the other
void pack_chunks(const Hdf5Group& map, const SweepDefinition& definition, std::size_t first, std::size_t end,
                 const std::function<SweepBlock(std::size_t)>&        get,
                 const std::function<void(std::size_t, std::size_t)>& progress) {
  const SweepGrid         grid(definition);
  const auto              along = axis_names(definition);
  std::vector<Hdf5Column> columns;
  for (const SweepOutput& o : definition.outputs)
    columns.push_back(map.packed(o.name, along, Hdf5Group::Kept::numbers, o.units, o.says));
  const Hdf5Column status = map.packed(status_name, along, Hdf5Group::Kept::marks, "", sweep_status_meanings);
  for (std::size_t c = first; c < end; ++c) {
    stop_if_wished();
    const SweepBlock  block = get(c);
    const std::size_t row   = row_axis(definition) < 0 ? 0 : grid.first_row(c) - grid.first_row(first);
    for (std::size_t o = 0; o < columns.size(); ++o) columns[o].put(row, block.values[o]);
    status.put(row, block.status);
    if (progress) progress(c + 1 - first, end - first);
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
    if (key == "axes" || key == "inputs" || key == "outputs") {
      const bool axes  = key != "outputs";
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
      const std::string x = names(was), y = names(value), what = axes ? "inputs" : "outputs";
      return x != y ? fmt::format("its {} are {}, not {}", what, x, y)
                    : fmt::format("values of its {} differ: {}", what, x);
    }
    return fmt::format("its {} is {}, not {}", key, was.dump(), value.dump());
  }
  return "its definition differs";
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
  if (const auto attributes = reader.attributes("/");
      std::none_of(attributes.begin(), attributes.end(), [](const auto& a) { return a.name == "first_row"; }))
    refuse_share("old-share",
                 "an earlier version wrote this share: its rows lie in stripes, not in one block", file,
                 "Merge the shares with the version that wrote them, or run them anew.");
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

// puts the coordinates of a share, which has these values of an axis, into their places
template <class Value>
void put_coordinates(const OpenShare& share, const RowSpan& places, const std::vector<Value>& from,
                     std::vector<Value>& to) {
  if (from.size() != places.count())
    refuse_share("not-a-sweep", "the coordinates of this share do not fit its definition", share.file,
                 "Run its command anew.");
  std::copy(from.begin(), from.end(), to.begin() + static_cast<std::ptrdiff_t>(places.first));
}

// the values of the axes come from the coordinates, row by row from their shares
SweepDefinition with_values(SweepDefinition definition, const std::vector<OpenShare>& shares) {
  const SweepGrid grid(definition);
  const auto      read = [](const OpenShare& share, const RowSpan& places, SweepAxis& axis) {
    const std::string path = "map/" + axis.name;
    if (axis.is_text()) {
      put_coordinates(share, places, share.reader.texts(path), axis.labels);
    } else {
      put_coordinates(share, places, share.reader.numbers(path), axis.values);
    }
  };
  for (const OpenShare& share : shares) {
    const auto own_rows = rows_of(grid, share.number);
    for (std::size_t a = 0; a < definition.axes.size(); ++a) {
      SweepAxis& axis = definition.axes[a];
      read(share, static_cast<int>(a) == row_axis(definition) ? own_rows : RowSpan{0, axis.values.size()},
           axis);
    }
    for (SweepAxis& input : definition.inputs) read(share, own_rows, input);
  }
  for (auto* const list : {&definition.axes, &definition.inputs}) {
    for (SweepAxis& axis : *list) {
      if (axis.is_text()) std::iota(axis.values.begin(), axis.values.end(), 0.0);
    }
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
  const Json json  = Json::parse(text);
  const auto check = [&](const std::vector<SweepAxis>& axes, const char* key) {
    for (std::size_t a = 0; a < axes.size(); ++a) {
      if (hash_of(axes[a]) != json[key][a].value("sha1", ""))
        refuse_share("not-a-sweep", fmt::format("the values of {} do not fit the definition", axes[a].path),
                     first, "Run the shares anew.");
    }
  };
  check(definition.axes, "axes");
  check(definition.inputs, "inputs");
}

}  // namespace

SweepFile::SweepFile(fs::path out, const SweepDefinition& definition, const SweepShard& shard,
                     const std::string& title, const Provenance& provenance)
    : out_(std::move(out)),
      part_(out_),
      definition_(definition),
      grid_(definition),
      shard_(shard),
      title_(title),
      provenance_(provenance) {
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
  for (std::size_t c = shard_.first(grid_.chunks()); c < shard_.end(grid_.chunks()); ++c) {
    done_[c] = is_whole(c);
    resumed_ += done_[c] ? 1 : 0;
  }
}

bool SweepFile::is_whole(std::size_t chunk) const {
  const SweepBlock block = get(chunk);
  return std::all_of(block.status.begin(), block.status.end(), [](double s) { return s >= 0.0; }) &&
         rows_->get(sums_path, local_chunk(chunk), 1).front() == sum_of(block);
}

void SweepFile::create(const std::string& title, const Provenance& provenance) const {
  Hdf5Writer writer(part_);  // under another name until it is whole, so that a .part can always be read
  {
    const Hdf5Group& root = writer.root();
    put_root_attributes(root, "sweep", title, provenance);
    const Hdf5Group map = map_in(root, definition_, definition_text(definition_), shard_);
    write_axes(map, definition_, shard_);
    const auto along = axis_names(definition_);
    for (const SweepOutput& o : definition_.outputs)
      map.room(o.name, along, Hdf5Group::Kept::numbers, o.units, o.says);
    map.room(status_name, along, Hdf5Group::Kept::marks, "", sweep_status_meanings);
    const Hdf5Group sums = root.group(unfinished);
    sums.axis("chunk", shard_.end(grid_.chunks()) - shard_.first(grid_.chunks()),
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
    if (differs.empty() &&
        reader.number_attribute("/", "first_row") != static_cast<double>(rows_of(grid_, shard_).first))
      differs = "its rows are others";
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

std::size_t SweepFile::local_chunk(std::size_t chunk) const { return chunk - shard_.first(grid_.chunks()); }

std::size_t SweepFile::local_row(std::size_t chunk) const {
  return local_chunk(chunk) * grid_.rows_per_chunk;
}

void SweepFile::put(std::size_t chunk, const SweepBlock& block) {
  const std::size_t first = row_axis(definition_) < 0 ? 0 : local_row(chunk);
  const auto        paths = row_paths(definition_);
  for (std::size_t o = 0; o < block.values.size(); ++o) rows_->put(paths[o], first, block.values[o]);
  rows_->put(sums_path, local_chunk(chunk), {sum_of(block)});
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

void SweepFile::write_whole(const Answer& answer, const SweepFailures& failures) const {
  Provenance origin = provenance_;
  {
    const Hdf5Reader begun(part_);
    origin.command = begun.attribute("/", "command");
    origin.started = begun.attribute("/", "started");
  }
  Hdf5Writer whole(out_);
  {
    const Hdf5Group& root = whole.root();
    put_root_attributes(root, "sweep", title_, origin);
    const Hdf5Group map = map_in(root, definition_, definition_text(definition_), shard_);
    write_axes(map, definition_, shard_);
    pack_chunks(map, definition_, shard_.first(grid_.chunks()), shard_.end(grid_.chunks()),
                [this](std::size_t chunk) { return get(chunk); }, {});
    write_answer(root, answer, failures);
  }
  whole.finish();
}

void SweepFile::finish(const Answer& answer, const SweepFailures& failures) {
  try {
    write_whole(answer, failures);
    rows_.reset();
  } catch (const Error& fault) {
    std::error_code unknown;
    const bool      is_kept = fs::exists(part_, unknown);
    const bool is_there = fs::exists(part_.has_parent_path() ? part_.parent_path() : fs::path("."), unknown);
    // what was taken away meanwhile cannot be read again; that is not why there is no result
    const std::string why = is_kept    ? fault.diagnostics().front().what
                            : is_there ? "the result cannot be written: it was deleted meanwhile"
                                       : "the result cannot be written: there is no folder there";
    throw Error(
        is_kept ? fault.exit() : Exit::usage,
        {.code = "cannot-write",
         .what = "the sweep is done, but not in its place: " + why,
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
  const SweepGrid grid(defined);
  for (const OpenShare& share : shares)
    shares_.push_back(
        {share.file, share.reader, share.number.first(grid.chunks()), share.number.end(grid.chunks())});
  definition_      = defined;
  definition_text_ = text;
  failures_        = failures;
  title_           = shares.front().reader.attribute("/", "title");
}

SweepBlock SweepShards::get(std::size_t chunk) const {
  const SweepGrid grid(definition_);
  const auto      found =
      std::find_if(shares_.begin(), shares_.end(), [&](const Share& s) { return chunk < s.end_chunk; });
  const Share&      share = *found;
  const bool        one   = row_axis(definition_) < 0;
  const std::size_t first = one ? 0 : grid.first_row(chunk) - grid.first_row(share.first_chunk);
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

void SweepShards::copy(const fs::path& out, const Answer& answer, const std::string& command,
                       const std::function<void(std::size_t, std::size_t)>& progress) const {
  Hdf5Writer writer(out);
  {
    const Hdf5Group& root = writer.root();
    put_root_attributes(root, "sweep", title_, provenance(command));
    const Hdf5Group map = map_in(root, definition_, definition_text_, {});
    write_axes(map, definition_, {});
    pack_chunks(
        map, definition_, 0, SweepGrid(definition_).chunks(),
        [this](std::size_t chunk) { return get(chunk); }, progress);
    write_answer(root, answer, failures_);
  }
  writer.finish();
}

void SweepShards::link(const fs::path& out, const Answer& answer, const std::string& command) const {
  const SweepGrid       grid(definition_);
  std::vector<fs::path> files;
  for (const Share& share : shares_) files.push_back(share.file);
  Hdf5Writer writer(out);
  {
    const Hdf5Group& root = writer.root();
    put_root_attributes(root, "sweep", title_, provenance(command));
    root.attribute("shares", note_of_shares(out, files));
    const Hdf5Group map = map_in(root, definition_, definition_text_, {});
    write_axes(map, definition_, {});
    const auto link = [&](const std::string& name, Hdf5Group::Kept kept, const std::string& unit,
                          const std::string& says) {
      std::vector<Hdf5Group::Linked> pieces;
      for (const Share& share : shares_) {
        const RowSpan rows = row_axis(definition_) < 0
                                 ? RowSpan{0, grid.columns}
                                 : rows_of_chunks(grid, share.first_chunk, share.end_chunk);
        pieces.push_back({linked_name(out, share.file), "/map/" + name, rows.count(), rows.first});
      }
      map.linked(name, axis_names(definition_), kept, pieces, unit, says);
    };
    for (const SweepOutput& o : definition_.outputs) link(o.name, Hdf5Group::Kept::numbers, o.units, o.says);
    link(status_name, Hdf5Group::Kept::marks, "", sweep_status_meanings);
    write_answer(root, answer, failures_);
  }
  writer.finish();
}

}  // namespace arris
