// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/studies/gauge/gauge.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double most_readings = 100000.0;  // nobody takes more of one edge

std::string chance(double p) { return p < 0.001 ? "p < 0.001" : fmt::format("p = {:.2g}", p); }

// Numbers of the study in the units that people read: percent on the logarithmic scale, gram-force on the linear one.
class Scale {
 public:
  explicit Scale(GaugeScale scale) : log_(scale == GaugeScale::logarithm) {}

  [[nodiscard]] const char* unit() const { return log_ ? "%" : "gf"; }
  [[nodiscard]] const char* units() const { return log_ ? "percent" : "gf"; }
  [[nodiscard]] std::string named(const char* name) const {
    return fmt::format("{}_{}", name, log_ ? "pct" : "gf");
  }
  [[nodiscard]] std::string head(const char* name) const { return fmt::format("{} {}", name, unit()); }

  /// A variance as a coefficient of variation, √(exp(σ²) − 1), or as a standard deviation.
  [[nodiscard]] double scatter(double variance) const {
    return log_ ? 100.0 * std::sqrt(std::expm1(variance)) : std::sqrt(variance);
  }
  /// A difference.
  [[nodiscard]] double difference(double value) const { return log_ ? 100.0 * std::expm1(value) : value; }
  /// A reading or a mean, in gf.
  [[nodiscard]] double reading_gf(double value) const { return log_ ? std::exp(value) : value; }

  [[nodiscard]] std::string with_unit(double number) const {
    return fmt::format("{} {}", short_number(number), unit());
  }
  /// A range of scatters; the upper end may be none, or so high that it says nothing.
  [[nodiscard]] std::string range(const Interval& variance) const {
    const double low = scatter(variance.low), high = scatter(variance.high);
    if (std::isnan(variance.low)) return "no interval can be determined";
    if (std::isnan(variance.high) || (log_ && high > 1000.0))
      return fmt::format("at least {}, with no upper end that says anything", with_unit(low));
    return fmt::format("{} … {}", short_number(low), with_unit(high));
  }
  [[nodiscard]] std::string signed_told(double value) const {
    const double d = difference(value);
    return fmt::format("{}{} {}", d < 0.0 ? "−" : "+", short_number(std::abs(d)), unit());
  }
  /// In words where an end says no more than that it is far away.
  [[nodiscard]] std::string signed_range(const Interval& i) const {
    const double far = std::log(10.0);
    return fmt::format("{} … {}", log_ && i.low < -far ? "down to a tenth or less" : signed_told(i.low),
                       log_ && i.high > far ? "up to ten times or more" : signed_told(i.high));
  }

 private:
  bool log_;
};

class Writer {
 public:
  Writer(const std::vector<GaugeReading>& readings, const GaugeSettings& settings, const GaugeResult& result)
      : readings_(readings), settings_(settings), result_(result), scale_(settings.scale) {}

  Answer write() {
    answer_.kind = "gauge";
    headline();
    replicates();
    method();
    share();
    operators();
    lots();
    drift();
    bias();
    outliers();
    answer_.tables = {components_table(), replicates_table(), operators_table(),
                      lots_table(),       bias_table(),       outliers_table(),
                      drift_table(),      anova_table(),      residuals_table()};
    answer_.tables.erase(std::remove_if(answer_.tables.begin(), answer_.tables.end(),
                                        [](const AnswerTable& table) { return table.rows() == 0; }),
                         answer_.tables.end());
    answer_.rests_on = fmt::format(
        "Rests on {} in {}, taken to stand in the order in which they were taken, and on no model of an edge.",
        counted(result_.readings, "reading"), settings_.source);
    answer_.settings = {{"confidence", settings_.confidence},
                        {"risk", settings_.risk},
                        {"power", settings_.power},
                        {"pool_above", settings_.pool_above},
                        {"difference_pct", settings_.difference_pct},
                        {"is_logarithmic", settings_.scale == GaugeScale::logarithm ? 1.0 : 0.0},
                        {"readings_needed", result_.needed},
                        {"readings_needed_alone", result_.needed_alone}};
    if (!settings_.reference.empty()) answer_.settings.emplace_back("reference_gf", settings_.reference_gf);
    return std::move(answer_);
  }

 private:
  [[nodiscard]] const GaugeComponent& part(const char* name) const { return *result_.component(name); }
  void remark(std::string text, About of = About::certainty) { answer_.remark(of, std::move(text)); }
  [[nodiscard]] std::string difference() const {
    return fmt::format("{:g} %{}", settings_.difference_pct,
                       settings_.scale == GaugeScale::logarithm ? "" : " of the mean reading");
  }
  [[nodiscard]] std::string edges() const {
    if (result_.crossed || result_.cells == result_.parts) return counted(result_.parts, "edge");
    return counted(result_.cells, "edge") + " (those of each operator counted apart)";
  }

  void headline() {
    const GaugeComponent& repeatability = part("repeatability");
    answer_.headline                    = fmt::format(
                           "An edge that the same operator reads again comes out within {} of its mean two times in three (repeatability; {:.0f} % interval {}).",
                           scale_.with_unit(scale_.scatter(repeatability.variance)), 100.0 * settings_.confidence,
                           scale_.range(repeatability.interval));
    if (const GaugeComponent* c = result_.component("reproducibility"); c != nullptr) {
      answer_.headline +=
          c->variance > 0.0
              ? fmt::format(" A change of operator adds {} (reproducibility; {}).",
                            scale_.with_unit(scale_.scatter(c->variance)), scale_.range(c->interval))
              : fmt::format(" No difference between operators can be seen (reproducibility 0; {}).",
                            scale_.range(c->interval));
    }
    const std::string difference = this->difference();
    if (std::isnan(result_.needed)) return;
    if (result_.needed > most_readings) {
      answer_.headline +=
          fmt::format(" No sensible number of readings tells two edges apart that differ by {}.", difference);
      return;
    }
    answer_.headline +=
        result_.needed <= 1.0
            ? fmt::format(" One reading of each is enough to tell two edges apart that differ by {}.",
                          difference)
            : fmt::format(
                  " To tell two edges apart that differ by {}, read each {:.0f} times and compare the means.",
                  difference, result_.needed);
  }

  // how many readings, and what else bears on it
  void replicates() {
    if (std::isnan(result_.needed)) {
      remark(fmt::format(
          "How many readings tell edges apart that differ by {} cannot be determined: the mean is not above 0.",
          difference()));
      return;
    }
    if (result_.needed > most_readings) return;
    std::string text =
        fmt::format("Readings of each edge for a difference of {}: {:.0f}", difference(), result_.needed);
    if (!std::isnan(result_.needed_high) && result_.needed_high > result_.needed &&
        result_.needed_high <= most_readings)
      text += fmt::format(", or {:.0f} if repeatability lies at the upper end of its interval",
                          result_.needed_high);
    text += ". That is with the scatter known from this study";
    if (result_.needed_alone <= most_readings)
      text += fmt::format("; {:.0f} where only the readings of the two edges tell it", result_.needed_alone);
    text += fmt::format(
        ". The difference is then found {:.0f} times in 100, and where there is none a false alarm comes {:.0f} times in 100. The same operator reads both, with the same filament lot.",
        100.0 * settings_.power, 100.0 * settings_.risk);
    if (const GaugeComponent* c = result_.component("interaction"); c != nullptr && c->variance > 0.0) {
      text += fmt::format(
          " What an operator does differently on one edge than on another ({}) stays in, however often they are read.",
          scale_.with_unit(scale_.scatter(c->variance)));
    }
    remark(text);
  }

  void method() {
    std::string       text;
    const std::string on =
        settings_.scale == GaugeScale::logarithm ? "the logarithms of the readings" : "the readings";
    if (result_.balanced && result_.crossed) {
      text = fmt::format("{} × {}, each edge read {} by each: crossed analysis of variance of {}.",
                         counted(result_.parts, "edge"), counted(result_.operators, "operator"),
                         counted(result_.most_replicates, "time"), on);
    } else if (result_.balanced) {
      text = fmt::format("{}, each read {}: one-way analysis of variance of {}.", edges(),
                         counted(result_.most_replicates, "time"), on);
    } else {
      text = fmt::format(
          "{}{}, {} to {} readings of each{}: not equally often, so restricted maximum likelihood on {}.",
          edges(), result_.crossed ? fmt::format(" × {}", counted(result_.operators, "operator")) : "",
          result_.crossed && result_.cells < result_.parts * result_.operators ? 0 : result_.least_replicates,
          result_.most_replicates, result_.crossed ? " by each" : "", on);
    }
    if (std::any_of(readings_.begin(), readings_.end(),
                    [](const GaugeReading& r) { return !r.moment.empty(); }))
      text += " An edge at another moment counts as another edge.";
    if (result_.crossed) {
      if (std::isnan(result_.interaction_p)) {
        text +=
            " Whether an operator reads one edge differently than another cannot be determined, and is left out.";
      } else if (result_.interaction_kept) {
        text += fmt::format(
            " Operators differ more on some edges than on others (interaction, {}): that counts as a difference between operators.",
            chance(result_.interaction_p));
      } else {
        text += fmt::format(
            " That an operator reads one edge differently than another (interaction) does not show, {} against a limit of {:g}; its scatter is pooled with repeatability.",
            chance(result_.interaction_p), settings_.pool_above);
      }
    }
    std::vector<std::string> nothing;
    for (const GaugeComponent& c : result_.components) {
      if (c.negative) nothing.push_back(c.name);
    }
    if (!nothing.empty()) {
      text += fmt::format(" The estimate for {} came out at nothing or below and is set to 0.",
                          and_list(nothing));
    }
    text +=
        result_.balanced
            ? " Intervals: chi-square for repeatability, modified large-sample for the others (Graybill & Wang 1980; "
              "Ting et al. 1990), generalised for the share (Hamada & Weerahandi 2000)."
            : " Intervals: chi-square on Satterthwaite's degrees of freedom (1946) for repeatability, shifted chi-square for the others (Williams 1962), combined for sums (Zou & Donner 2008).";
    remark(text, About::more);
  }

  void share() {
    const double of_parts = part("part").variance;
    if (std::isnan(result_.share)) return;
    std::string text = fmt::format("The tester accounts for {} of the variance between the readings",
                                   percent(result_.share));
    if (!std::isnan(result_.share_interval.low))
      text += fmt::format(" ({} … {})", short_number(100.0 * result_.share_interval.low),
                          percent(result_.share_interval.high));
    text += fmt::format(
        ", the edges for the rest. That depends on how different these edges are: they scatter by {}.",
        scale_.with_unit(scale_.scatter(of_parts)));
    const double grades = std::floor(1.41 * std::sqrt(of_parts / part("tester").variance));
    text +=
        grades >= 2.0
            ? fmt::format(
                  " Over them a single reading tells about {:.0f} grades of sharpness apart (1.41 × scatter of edges / scatter of the tester; common practice).",
                  grades)
            : std::string(" Over them a single reading does not tell even two grades of sharpness apart.");
    remark(text);
  }

  void operators() {
    if (!result_.crossed) {
      if (!settings_.repeatability_only) {
        remark(
            "How much operators differ cannot be determined: no edge was read by two of them at the same moment, so that their differences are mixed with those of the edges.");
        answer_.cautions.emplace_back(
            "Let two or more operators read the same edges, each twice or more, before anything is cut with them.");
      }
      return;
    }
    if (!result_.operators_confounded.empty()) {
      remark(
          result_.operators_confounded +
          " What is called reproducibility here may be theirs: let each operator read with each lot on each day before operators are blamed.");
      answer_.cautions.push_back(result_.operators_confounded);
    } else if (!std::isnan(result_.operators_p)) {
      remark(result_.operators_p < settings_.risk
                 ? fmt::format("These operators read differently ({}). More readings do not take that away: "
                               "let the same operator read the edges that are compared.",
                               chance(result_.operators_p))
                 : fmt::format("That these operators differ could be chance ({}).",
                               chance(result_.operators_p)));
    }
    if (result_.operators < 4) {
      answer_.cautions.push_back(fmt::format(
          "{} say little about operators at large, which is why the interval of reproducibility is wide; it narrows with five or more.",
          result_.operators == 2 ? "Two operators" : "Three operators"));
    }
  }

  void lots() {
    if (result_.lots.size() < 2) return;
    if (std::isnan(result_.lots_p)) {
      remark(
          "Filament lots cannot be compared: none of the edges was read with two of them by the same operator. Read one edge with the old lot and the new one whenever the lot changes.");
      return;
    }
    const auto far = std::max_element(
        result_.lots.begin(), result_.lots.end(),
        [](const auto& a, const auto& b) { return std::abs(a.effect.value) < std::abs(b.effect.value); });
    remark(fmt::format(
        "Filament lots: {} reads {} from the mean of the lots ({:.0f} % interval {}); {}.",
        far->name.empty() ? "the one without a name" : far->name, scale_.signed_told(far->effect.value),
        100.0 * (1.0 - settings_.risk), scale_.signed_range(far->effect.interval),
        result_.lots_p < settings_.risk ? fmt::format("the lots differ ({})", chance(result_.lots_p))
                                        : fmt::format("that could be chance ({})", chance(result_.lots_p))));
    if (result_.lots_p < settings_.risk) {
      answer_.cautions.emplace_back(
          "Do not compare readings of different filament lots without taking their difference off. Where one operator read one edge with several lots, it is part of the repeatability above.");
    }
  }

  void drift() {
    const GaugeEffect& d = result_.drift;
    if (std::isnan(d.value)) {
      remark("Drift cannot be determined: too few readings are left beside edges, operators and lots.");
      return;
    }
    if (settings_.scale == GaugeScale::logarithm && d.interval.high - d.interval.low > 2.0 * std::log(2.0)) {
      remark(
          "Drift cannot be told from these readings: even a tester that drifts to twice its reading in 100 would not show it. It shows where all edges are read once, then all of them again.");
      return;
    }
    const std::string size =
        fmt::format("{} per 100 readings ({:.0f} % interval {})", scale_.signed_told(d.value),
                    100.0 * (1.0 - settings_.risk), scale_.signed_range(d.interval));
    if (!(d.p < settings_.risk)) {
      remark(fmt::format("Drift in the order taken: {}, which could be chance ({}).", size, chance(d.p)));
      return;
    }
    remark(fmt::format(
        "The tester drifts: readings {} in the order taken, by {}; {}. That is part of the repeatability above.",
        d.value > 0.0 ? "rise" : "fall", size, chance(d.p)));
    answer_.cautions.emplace_back(
        "Look for what changes while readings are taken (tension and feed of the filament, temperature, the edge itself that dulls on the filament), and read edges in random order until it is found.");
  }

  void bias() {
    if (result_.bias.empty()) return;
    const GaugeBias& all = result_.bias.back();
    const bool       is  = all.effect.p < settings_.risk;
    remark(fmt::format(
        "Against the reference edge {} at {:g} gf, taken as exact, the tester reads {} ({:.0f} % interval {}, for these operators); {}.",
        result_.reference, settings_.reference_gf, scale_.signed_told(all.effect.value),
        100.0 * (1.0 - settings_.risk), scale_.signed_range(all.effect.interval),
        is ? fmt::format("that is bias ({})", chance(all.effect.p))
           : fmt::format("that could be chance ({})", chance(all.effect.p))));
    if (is)
      answer_.cautions.emplace_back(
          "Calibrate the tester, or take its bias off before comparing with another tester.");
  }

  void outliers() {
    std::vector<std::string> lines;
    for (const GaugeResidual& r : result_.residuals) {
      if (r.outlier) lines.push_back(std::to_string(readings_[r.reading].line));
    }
    if (lines.empty()) {
      remark("No reading lies farther out than chance would bring.", About::more);
    } else {
      std::string text = fmt::format("Outliers, flagged and not dropped: line{} {} of the file.",
                                     lines.size() == 1 ? "" : "s", and_list(lines));
      if (!std::isnan(result_.sd_without))
        text += fmt::format(" Without {} repeatability would be {}.", lines.size() == 1 ? "it" : "them",
                            scale_.with_unit(scale_.scatter(result_.sd_without * result_.sd_without)));
      remark(text);
      answer_.cautions.emplace_back(
          "Look at the flagged readings: where the cause is known write it under excluded; where it is not, they stay in.");
    }
    if (result_.excluded > 0)
      remark(fmt::format("{} excluded in the file, with a reason: not counted anywhere.",
                         result_.excluded == 1 ? std::string("One reading is")
                                               : fmt::format("{} readings are", result_.excluded)));
  }

  // the ends of intervals; one that is so far away that it says nothing is a word where people read it
  void add_ends(AnswerTable& table, const std::vector<double>& low, const std::vector<double>& high,
                int significant) const {
    constexpr double tenth = -90.0, tenfold = 900.0;  // per cent
    const auto       is_far = [&](double end) { return end < tenth || end > tenfold; };
    const bool       words =
        settings_.scale == GaugeScale::logarithm &&
        (std::any_of(low.begin(), low.end(), is_far) || std::any_of(high.begin(), high.end(), is_far));
    table.number(scale_.named("low"), scale_.units(), words ? "" : "from", "lower end of its interval", low,
                 significant);
    table.number(scale_.named("high"), scale_.units(), words ? "" : "to", "upper end of its interval", high,
                 significant);
    if (!words) return;
    const auto said = [&](const std::vector<double>& ends) {
      std::vector<std::string> texts;
      for (const double end : ends)
        texts.push_back(std::isnan(end) ? "" : is_far(end) ? "not told" : short_number(end));
      return texts;
    };
    table.text("low_in_words", "from", "the same; \"not told\" where it is a tenth or less", said(low));
    table.text("high_in_words", "to", "the same; \"not told\" where it is tenfold or more", said(high));
  }

  AnswerTable components_table() const {
    static const std::map<std::string, std::string> words = {
        {"repeatability", "repeatability: same operator, same edge"},
        {"operator", "operators"},
        {"interaction", "operators, edge by edge"},
        {"reproducibility", "reproducibility: another operator"},
        {"tester", "the tester in all"},
        {"part", "the edges"},
        {"total", "all readings"}};
    AnswerTable table;
    table.name = "components";
    table.says = fmt::format("Where the scatter of a single reading comes from, with {:.0f} % intervals",
                             100.0 * settings_.confidence);
    table.axis = "source of scatter";
    const double             total = part("total").variance;
    std::vector<std::string> names, labels;
    std::vector<double>      sd, low, high, share, variance;
    for (const GaugeComponent& c : result_.components) {
      if (c.name == "tester" && result_.component("reproducibility") == nullptr) continue;  // the same again
      if (c.name == "operator" && result_.component("interaction") == nullptr)
        continue;  // that is reproducibility
      names.push_back(c.name);
      labels.push_back(words.at(c.name));
      sd.push_back(scale_.scatter(c.variance));
      low.push_back(scale_.scatter(c.interval.low));
      high.push_back(scale_.scatter(c.interval.high));
      share.push_back(100.0 * c.variance / total);
      variance.push_back(c.variance);
    }
    const bool log = settings_.scale == GaugeScale::logarithm;
    table.text("component", "", "stable name of the source", names);
    table.text("source", "source of scatter", "the same in words", labels);
    table.number(scale_.named("scatter"), scale_.units(), scale_.head("scatter"),
                 log ? "coefficient of variation" : "standard deviation", sd);
    add_ends(table, low, high, 3);
    table.number("share_pct", "percent", "share of variance %", "of the variance of all readings", share);
    table.number(log ? "log_variance" : "variance_gf2", log ? "1" : "gf2", "",
                 log ? "variance of the natural logarithm" : "variance", variance);
    return table;
  }

  AnswerTable replicates_table() const {
    AnswerTable table;
    table.name = "replicates";
    table.says = fmt::format(
        "The smallest difference between two edges that is found {:.0f} times in 100, with {:.0f} false alarms in 100",
        100.0 * settings_.power, 100.0 * settings_.risk);
    table.axis = "readings of each edge";
    std::vector<double> n, with, alone;
    for (const GaugeReplicates& r : result_.replicates) {
      n.push_back(r.readings_each);
      with.push_back(scale_.difference(r.detectable));
      alone.push_back(std::isnan(r.detectable_alone) ? not_given : scale_.difference(r.detectable_alone));
    }
    table.number("readings_each", "1", "readings of each", "by the same operator with the same lot", n, 1);
    table.number(scale_.named("difference"), scale_.units(), scale_.head("difference"),
                 "judged by the scatter that this study has found", with, 2);
    table.number(scale_.named("difference_alone"), scale_.units(), "judged by those readings alone",
                 "judged by the scatter of those readings alone", alone, 2);
    return table;
  }

  AnswerTable operators_table() const {
    AnswerTable table;
    table.name = "operators";
    table.axis = "operator";
    table.says = result_.crossed
                     ? fmt::format("Operators, from the mean of all on equal edges, with {:.0f} % intervals",
                                   100.0 * (1.0 - settings_.risk))
                 : settings_.repeatability_only ? std::string("Operators, not compared")
                                                : std::string("Operators, each on edges of their own");
    if (result_.operator_rows.size() < 2) return table;
    std::vector<std::string> names;
    std::vector<double>      count, mean, value, low, high, own;
    for (const GaugeOperator& o : result_.operator_rows) {
      names.push_back(o.name);
      count.push_back(o.readings);
      mean.push_back(scale_.reading_gf(o.mean));
      value.push_back(scale_.difference(o.effect.value));
      low.push_back(scale_.difference(o.effect.interval.low));
      high.push_back(scale_.difference(o.effect.interval.high));
      own.push_back(scale_.scatter(o.own_sd * o.own_sd));
    }
    const bool shown = result_.crossed;
    table.text("operator", "operator", "who read", names);
    table.number("readings", "1", "readings", "that count", count, 1);
    table.number("mean_gf", "gf", "mean gf", mean_word(), mean);
    table.number(scale_.named("difference"), scale_.units(), shown ? scale_.head("difference") : "",
                 "from the mean of all operators", value, 2);
    table.number(scale_.named("low"), scale_.units(), shown ? "from" : "", "lower end of its interval", low,
                 2);
    table.number(scale_.named("high"), scale_.units(), shown ? "to" : "", "upper end of its interval", high,
                 2);
    table.number(scale_.named("own_scatter"), scale_.units(), scale_.head("repeats within"),
                 "repeatability of this operator alone", own, 2);
    return table;
  }

  AnswerTable lots_table() const {
    AnswerTable table;
    table.name = "lots";
    table.axis = "filament lot";
    table.says = fmt::format("Filament lots, from the mean of all on equal edges, with {:.0f} % intervals",
                             100.0 * (1.0 - settings_.risk));
    table.on_terminal = !std::isnan(result_.lots_p);
    if (result_.lots.size() < 2) return table;
    std::vector<std::string> names;
    std::vector<double>      count, mean, value, low, high;
    for (const GaugeLot& l : result_.lots) {
      names.push_back(l.name);
      count.push_back(l.readings);
      mean.push_back(scale_.reading_gf(l.mean));
      value.push_back(scale_.difference(l.effect.value));
      low.push_back(scale_.difference(l.effect.interval.low));
      high.push_back(scale_.difference(l.effect.interval.high));
    }
    table.text("filament_lot", "lot", "lot as the file names it", names);
    table.number("readings", "1", "readings", "that count", count, 1);
    table.number("mean_gf", "gf", "mean gf", mean_word(), mean);
    table.number(scale_.named("difference"), scale_.units(), scale_.head("difference"),
                 "from the mean of all lots", value, 2);
    add_ends(table, low, high, 2);
    return table;
  }

  AnswerTable bias_table() const {
    AnswerTable table;
    table.name = "bias";
    table.axis = "operator";
    table.says = fmt::format("Bias against the reference edge, with {:.0f} % intervals",
                             100.0 * (1.0 - settings_.risk));
    std::vector<std::string> names;
    std::vector<double>      count, mean, value, low, high, p;
    for (const GaugeBias& b : result_.bias) {
      names.push_back(b.who.empty() ? "not named" : b.who);
      count.push_back(b.readings);
      mean.push_back(scale_.reading_gf(b.mean));
      value.push_back(scale_.difference(b.effect.value));
      low.push_back(scale_.difference(b.effect.interval.low));
      high.push_back(scale_.difference(b.effect.interval.high));
      p.push_back(b.effect.p);
    }
    if (names.empty()) return table;
    table.text("operator", "operator", "who read; all: mean of the operators", names);
    table.number("readings", "1", "readings", "of the reference edge", count, 1);
    table.number("mean_gf", "gf", "mean gf", mean_word(), mean);
    table.number(scale_.named("bias"), scale_.units(), scale_.head("bias"), "mean against the true reading",
                 value, 2);
    add_ends(table, low, high, 2);
    table.number("p", "1", "", "probability of one as large by chance", p);
    return table;
  }

  AnswerTable drift_table() const {
    AnswerTable table;
    table.name = "drift";
    table.axis = "trend";
    table.says =
        fmt::format("Drift in the order taken, with its {:.0f} % interval", 100.0 * (1.0 - settings_.risk));
    table.on_terminal    = false;
    const GaugeEffect& d = result_.drift;
    if (std::isnan(d.value)) return table;
    table.number(scale_.named("per_100_readings"), scale_.units(), "per 100", "change over 100 readings",
                 {scale_.difference(d.value)});
    table.number(scale_.named("low"), scale_.units(), "from", "lower end of its interval",
                 {scale_.difference(d.interval.low)});
    table.number(scale_.named("high"), scale_.units(), "to", "upper end of its interval",
                 {scale_.difference(d.interval.high)});
    table.number("p", "1", "p", "probability of one as large by chance", {d.p});
    return table;
  }

  AnswerTable outliers_table() const {
    AnswerTable table;
    table.name = "outliers";
    table.axis = "reading";
    table.says = "Readings that stand out, and those that the file excludes";
    std::vector<double>      line, reading, others, t, p;
    std::vector<std::string> part_name, who, why;
    for (const GaugeResidual& r : result_.residuals) {
      if (!r.excluded && !r.outlier) continue;
      const GaugeReading& row = readings_[r.reading];
      line.push_back(row.line);
      reading.push_back(row.reading_gf);
      others.push_back(scale_.reading_gf(r.others));
      t.push_back(r.studentised);
      p.push_back(r.p);
      part_name.push_back(row.part());
      who.push_back(row.operator_name);
      why.push_back(reason(r));
    }
    if (line.empty()) return table;
    table.number("line", "1", "line", "of the file", line, 1);
    table.text("part", "edge", "what was read", part_name);
    table.text("operator", "operator", "who read", who);
    table.number("reading_gf", "gf", "gf", "reading", reading);
    table.number("others_gf", "gf", "others say gf",
                 "what the readings that count, this one left out, let expect", others);
    table.number("studentised", "1", "", "externally studentised residual", t);
    table.number("p", "1", "", "after Bonferroni's correction", p);
    table.text("reason", "reason", "why it is listed", why);
    return table;
  }

  std::string reason(const GaugeResidual& r) const {
    const GaugeReading& row = readings_[r.reading];
    if (r.excluded) return "excluded: " + row.excluded;
    const auto twin =
        [&] {  // the only other reading of the same edge by the same operator, when it is flagged too
          int n = 0, flagged = 0;
          for (const GaugeResidual& other : result_.residuals) {
            const GaugeReading& o = readings_[other.reading];
            if (other.excluded || std::isnan(o.reading_gf) || o.part() != row.part() ||
                o.operator_name != row.operator_name)
              continue;
            ++n;
            flagged += other.outlier ? 1 : 0;
          }
          return n == 2 && flagged == 2;
        };
    const std::string how =
        std::isnan(r.studentised)
            ? std::string("flagged: the other readings do not scatter at all")
            : fmt::format("flagged: {:.1f} times its scatter off, {}", std::abs(r.studentised), chance(r.p));
    return twin() ? how + "; which of the two is wrong cannot be determined" : how;
  }

  AnswerTable anova_table() const {
    AnswerTable table;
    table.name        = "anova";
    table.axis        = "source";
    table.says        = "Analysis of variance";
    table.on_terminal = false;
    std::vector<std::string> names;
    std::vector<double>      df, ss, ms, f, p;
    for (const GaugeSource& s : result_.anova) {
      names.push_back(s.name);
      df.push_back(s.df);
      ss.push_back(s.sum_squares);
      ms.push_back(s.mean_square);
      f.push_back(s.F);
      p.push_back(s.p);
    }
    if (names.empty()) return table;
    const char* unit = settings_.scale == GaugeScale::logarithm ? "1" : "gf2";
    table.text("source", "source", "of variance", names);
    table.number("df", "1", "df", "degrees of freedom", df);
    table.number("sum_of_squares", unit, "SS", "sum of squares", ss);
    table.number("mean_square", unit, "MS", "mean square", ms);
    table.number("F", "1", "F",
                 "edges and operators against the interaction where it is kept, else against what is pooled; "
                 "it against repeatability",
                 f);
    table.number("p", "1", "p", "probability of one as large by chance", p);
    return table;
  }

  AnswerTable residuals_table() const {
    AnswerTable table;
    table.name        = "residuals";
    table.axis        = "reading";
    table.says        = "Every reading, in the order taken";
    table.on_terminal = false;
    std::vector<double>      line, order, replicate, reading, fitted, residual, t;
    std::vector<std::string> edge, moment, who, lot, status;
    for (const GaugeResidual& r : result_.residuals) {
      const GaugeReading& row = readings_[r.reading];
      line.push_back(row.line);
      order.push_back(static_cast<double>(r.reading) + 1.0);
      replicate.push_back(row.replicate > 0 ? row.replicate : not_given);
      reading.push_back(row.reading_gf);
      fitted.push_back(scale_.reading_gf(r.fitted));
      residual.push_back(scale_.difference(r.residual));
      t.push_back(r.studentised);
      edge.push_back(row.edge);
      moment.push_back(row.moment);
      who.push_back(row.operator_name);
      lot.push_back(row.filament_lot);
      status.emplace_back(r.excluded ? "excluded" : r.outlier ? "outlier" : "");
    }
    table.number("line", "1", "line", "of the file", line, 1);
    table.number("order", "1", "order", "in which it was taken, from 1", order, 1);
    table.text("edge", "edge", "what was read", edge);
    table.text("moment", "moment", "when", moment);
    table.text("operator", "operator", "who read", who);
    table.number("replicate", "1", "replicate", "as the file numbers it", replicate, 1);
    table.text("filament_lot", "lot", "filament lot", lot);
    table.number("reading_gf", "gf", "gf", "reading", reading);
    table.number("fitted_gf", "gf", "fitted gf", "mean for this edge and operator; missing where excluded",
                 fitted);
    table.number(scale_.named("residual"), scale_.units(), scale_.head("residual"),
                 "reading against fitted; where excluded, against the mean of those that count", residual);
    table.number("studentised", "1", "studentised", "externally studentised residual", t);
    table.text("status", "status", "excluded, outlier, or empty", status);
    return table;
  }

  [[nodiscard]] const char* mean_word() const {
    return settings_.scale == GaugeScale::logarithm ? "geometric mean" : "mean";
  }

  const std::vector<GaugeReading>& readings_;
  const GaugeSettings&             settings_;
  const GaugeResult&               result_;
  Scale                            scale_;
  Answer                           answer_;
};

}  // namespace

Answer gauge_answer(const std::vector<GaugeReading>& readings, const GaugeSettings& settings,
                    const GaugeResult& result) {
  return Writer(readings, settings, result).write();
}

}  // namespace arris
