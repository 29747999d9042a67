// SPDX-License-Identifier: MIT
#include "sim/output/sweep_file.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <map>
#include <sstream>
#include <stdexcept>
#include <system_error>

#include <boost/crc.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/diagnostic.hpp"
#include "sim/input/document.hpp"
#include "sim/output/answer_output.hpp"
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
    const bool shown = table.name.size() > 6 && table.name.compare(table.name.size() - 6, 6, "_shown") == 0;
    if (table.name == "members" || shown) continue;
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
  // "at the end", "after step 5", "after 100 passes": only told again
  if (moment.rfind("after step ", 0) == 0) {
    d.moment = {SweepMoment::Kind::after_step, std::stoi(moment.substr(11)) - 1, 0.0};
  } else if (moment.rfind("after ", 0) == 0) {
    d.moment = {SweepMoment::Kind::after_passes, -1, std::stod(moment.substr(6))};
  }
  if (d.axes.empty()) throw std::invalid_argument("it has no inputs");
  return d;
}

std::string facts(const Provenance& p) { return p.version + " (" + p.commit + ")"; }

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
  if (!there) return;
  for (std::size_t c = shard_.index - 1; c < grid_.chunks(); c += shard_.count) {
    const SweepBlock block = get(c);
    done_[c] = std::all_of(block.status.begin(), block.status.end(), [](double s) { return s >= 0.0; }) &&
               rows_->get(sums_path, c / shard_.count, 1).front() == sum_of(block);
    resumed_ += done_[c] ? 1 : 0;
  }
}

void SweepFile::create(const std::string& title, const Provenance& provenance) const {
  Hdf5Writer writer(part_);  // under another name until it is whole, so that a .part can always be read
  {
    const Hdf5Group& root = writer.root();
    write_root_attributes(root, "sweep", title, provenance);
    root.attribute("definition", definition_text(definition_));
    root.attribute("shard", shard_.text());
    root.attribute("rows_per_chunk", static_cast<double>(grid_.rows_per_chunk));
    const Hdf5Group map = root.group("map");
    map.attribute("long_name", fmt::format("edge {}, {}", definition_.edge, definition_.moment.text()));
    const auto rows = rows_of(grid_, shard_);
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
    const std::string build = reader.attribute("/", "version") + " (" + reader.attribute("/", "commit") + ")";
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
  const auto refuse = [](const char* code, const std::string& what, const fs::path& file,
                         const std::string& next) {
    throw Error(Exit::data, {.code = code, .what = what, .next = next, .file = file.string()});
  };
  std::map<std::size_t, Share> found;
  std::size_t                  count = 0;
  std::string                  configuration, build;
  fs::path                     first;
  for (const fs::path& file : files) {
    std::error_code error;
    if (!fs::exists(file, error)) {
      fs::path part = file;
      part += ".part";
      const bool begun = fs::exists(part, error);
      refuse(begun ? "unfinished-share" : "no-such-file",
             begun ? "this share is not finished" : "there is no such file", file,
             begun ? "Run its command once more: it goes on where it stopped."
                   : "Name the files of all shares.");
    }
    if (file.extension() == ".part")
      refuse("unfinished-share", "this share is not finished", file,
             "Run its command once more: it goes on where it stopped.");
    Share                     share{file, Hdf5Reader(file), 0};
    std::optional<SweepShard> number;
    try {
      number = shard_of(share.reader.attribute("/", "shard"));
    } catch (const Error&) {  // no such attribute: said below
    }
    if (!number || share.reader.attribute("/", "kind") != "sweep")
      refuse("not-a-sweep", "this is no share of a sweep", file,
             "Name files that `arris sweep --shard I/N` wrote.");
    const std::string definition = share.reader.attribute("/", "definition");
    const std::string made_by =
        share.reader.attribute("/", "version") + " (" + share.reader.attribute("/", "commit") + ")";
    const std::string resolved = share.reader.attribute("/", "configuration");
    if (found.empty()) {
      definition_text_ = definition;
      configuration    = resolved;
      build            = made_by;
      count            = number->count;
      first            = file;
    }
    std::string differs = definition_difference(definition, definition_text_);
    if (differs.empty() && number->count != count)
      differs = fmt::format("it is one of {} shares, not of {}", number->count, count);
    if (differs.empty() && resolved != configuration)
      differs = "the configuration differs: " + first_difference(resolved, configuration);
    if (differs.empty() && made_by != build)
      differs = fmt::format("it was made by arris {}, the other by {}", made_by, build);
    if (!differs.empty())
      refuse("sweep-differs",
             fmt::format("this share belongs to another sweep than {}: {}", first.string(), differs), file,
             "Name only shares of one sweep.");
    const auto [other, is_new] = found.emplace(number->index, std::move(share));
    if (!is_new)
      refuse("share-twice",
             fmt::format("share {} is given twice, also by {}", number->index, other->second.file.string()),
             file, "Name each share once.");
  }
  std::string missing;
  for (std::size_t i = 1; i <= count; ++i) {
    if (found.count(i) == 0) missing += fmt::format("{}{}/{}", missing.empty() ? "" : ", ", i, count);
  }
  if (!missing.empty())
    refuse("share-missing", fmt::format("not all shares are here; missing: {}", missing), first,
           "Name the files of all shares; run what is missing with `arris sweep --shard`.");
  for (auto& [index, share] : found) shares_.push_back(std::move(share));

  // the values come from the coordinates, row by row from their shares
  try {
    definition_ = definition_in(definition_text_);
  } catch (const Json::exception& fault) {
    refuse("not-a-sweep", fmt::format("its definition cannot be read: {}", printable(fault.what())), first,
           "Run the shares anew.");
  } catch (const std::logic_error& fault) {
    refuse("not-a-sweep", fmt::format("its definition cannot be read: {}", fault.what()), first,
           "Run the shares anew.");
  }
  title_ = shares_.front().reader.attribute("/", "title");
  const SweepGrid grid(definition_);
  for (std::size_t s = 0; s < shares_.size(); ++s) {
    const auto rows = rows_of(grid, {s + 1, shares_.size()});
    shares_[s].rows = rows.size();
    for (std::size_t a = 0; a < definition_.axes.size(); ++a) {
      SweepAxis&        axis = definition_.axes[a];
      const std::string path = "map/" + axis.name;
      const bool        part = static_cast<int>(a) == row_axis(definition_);
      const auto        take = [&](const auto& from, auto& to) {
        if (from.size() != (part ? rows.size() : to.size()))
          refuse("not-a-sweep", "the coordinates of this share do not fit its definition", shares_[s].file,
                        "Run its command anew.");
        for (std::size_t i = 0; i < from.size(); ++i) to[part ? rows[i] : i] = from[i];
      };
      if (axis.is_text()) {
        take(shares_[s].reader.texts(path), axis.labels);
      } else {
        take(shares_[s].reader.numbers(path), axis.values);
      }
    }
    const double failed = shares_[s].reader.number_attribute("/", "failed");
    if (failed > 0.0) {
      const auto row = static_cast<std::size_t>(shares_[s].reader.number_attribute("/", "first_failure_row"));
      const auto column =
          static_cast<std::size_t>(shares_[s].reader.number_attribute("/", "first_failure_column"));
      if (failures_.count == 0 || row < failures_.first_row) {
        failures_.first_row    = row;
        failures_.first_column = column;
        failures_.cause        = shares_[s].reader.attribute("/", "first_failure_cause");
      }
      failures_.count += static_cast<std::size_t>(failed);
    }
  }
  failures_.members = grid.members();
  const Json json   = Json::parse(definition_text_);
  for (std::size_t a = 0; a < definition_.axes.size(); ++a) {
    SweepAxis& axis = definition_.axes[a];
    if (axis.is_text()) {
      for (std::size_t i = 0; i < axis.values.size(); ++i) axis.values[i] = static_cast<double>(i);
    }
    if (hash_of(axis) != json["axes"][a].value("sha1", ""))
      refuse("not-a-sweep", fmt::format("the values of {} do not fit the definition", axis.path), first,
             "Run the shares anew.");
  }
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
    root.attribute("definition", definition_text_);
    root.attribute("shard", "1/1");
    root.attribute("rows_per_chunk", static_cast<double>(grid.rows_per_chunk));
    const Hdf5Group map = root.group("map");
    map.attribute("long_name", fmt::format("edge {}, {}", definition_.edge, definition_.moment.text()));
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
