// SPDX-License-Identifier: MIT
#include "sim/studies/compare/worth_answer.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

#include <fmt/format.h>

#include "sim/laws/gram_force.hpp"
#include "sim/studies/compare/by_readings.hpp"
#include "sim/studies/compare/worth.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

class WorthWriter {
 public:
  WorthWriter(const Comparing& c, const Workshop& workshop)
      : c_(c),
        pace_(workshop.pace),
        year_(c.settings.sharpenings),
        money_(!std::isnan(c.ways.front().money)),
        has_year_(!std::isnan(year_)) {}

  void add_to(Answer& answer) const {
    answer.tables.push_back(costs());
    answer.tables.push_back(used_up());
    answer.tables.push_back(materials());
    if (!c_.strops.empty()) answer.tables.push_back(strops());
    if (has_year_) answer.remarks.push_back(year_sentence());
    answer.remarks.push_back(keeping_sentence());
    for (std::size_t i = 0; i < c_.strops.size(); ++i) {
      if (i == 0 || c_.strops[i].strop != c_.strops[i - 1].strop)
        answer.remarks.push_back(strop_sentences(c_.strops[i].strop));
    }
  }

 private:
  [[nodiscard]] std::string currency() const { return pace_.currency.empty() ? "money" : pace_.currency; }
  [[nodiscard]] bool        has_spread() const { return c_.members > 1; }
  /// "12 EUR"; without a currency "12 of money".
  [[nodiscard]] std::string sum(double money) const {
    return fmt::format("{} {}", plain(money, 2), pace_.currency.empty() ? "of money" : pace_.currency);
  }
  // what one pays: money where anything has a price, else minutes
  [[nodiscard]] double      price_of(const Way& w) const { return money_ ? w.money : w.minutes; }
  [[nodiscard]] std::string head(const std::string& text) const { return money_ ? text : ""; }

  [[nodiscard]] AnswerTable costs() const {
    AnswerTable      table{.name        = "costs",
                           .says        = has_year_
                                              ? fmt::format("What a sharpening takes, and a year of {}", plain(year_))
                                              : std::string("What a sharpening takes"),
                           .axis        = "way",
                           .on_terminal = has_year_};
    ItemColumns<Way> ways(table, c_.ways);
    const double     wage = pace_.wage_per_hour / 60.0;
    ways.text("way", "way", "route and strops", &Way::name);
    ways.number("working_min", "min", "strokes min", "minutes of strokes and laps, of one sharpening",
                [](const Way& w) { return w.parts.working_min; });
    ways.number("handling_min", "min", "handling min",
                "minutes to begin, take up, soak, clean and change, of one sharpening",
                [](const Way& w) { return w.parts.handling_min; });
    ways.number("flatten_min", "min", "flattening min", "minutes of flattening, of one sharpening",
                [](const Way& w) { return w.parts.flatten_min; });
    ways.number(
        "media", "1", head("media"), "stones, plates and film used up, of one sharpening",
        [](const Way& w) { return w.parts.media; }, 2);
    ways.number(
        "strops", "1", head("strops"), "strops and compounds used up, of one sharpening",
        [](const Way& w) { return w.parts.strops; }, 2);
    ways.number("flatten", "1", "", "what flattening uses up, of one sharpening",
                [](const Way& w) { return w.parts.flatten; });
    ways.number(
        "time", "1", wage > 0.0 ? head("time") : "", "wage for the minutes, of one sharpening",
        [wage](const Way& w) { return wage * w.minutes; }, 2);
    ways.number("money", "1", head("all " + currency()), "all of it, of one sharpening", &Way::money, 3);
    if (!has_year_) return table;
    ways.number("hours_per_year", "h", "hours/year", "hours of sharpening in a year",
                [this](const Way& w) { return year_ * w.minutes / 60.0; });
    ways.number("money_per_year", "1", head(currency() + "/year"),
                "cost of a year of sharpening, wage included",
                [this](const Way& w) { return year_ * w.money; });
    return table;
  }

  [[nodiscard]] AnswerTable used_up() const {
    struct Row {
      std::string way;
      WayMaterial of;
    };
    std::vector<Row> rows;
    for (const Way& way : c_.ways) {
      for (const WayMaterial& material : way.materials) rows.push_back({way.name, material});
    }
    AnswerTable table{
        .name = "used_up", .says = "What each way uses up", .axis = "material", .on_terminal = false};
    ItemColumns<Row> columns(table, rows);
    columns.text("way", "way", "route and strops", &Row::way);
    columns.text("material", "material", "medium, backing or compound",
                 [](const Row& r) { return r.of.name; });
    columns.number("count", "1", "strokes", "strokes or laps of one sharpening",
                   [](const Row& r) { return r.of.count; });
    columns
        .number("sharpenings", "1", "lasts for sharpenings", "that one of it is good for",
                [](const Row& r) { return r.of.pieces > 0.0 ? 1.0 / r.of.pieces : not_given; })
        .places = 0;
    columns.number("pieces", "1", "", "share of one that a sharpening uses up",
                   [](const Row& r) { return r.of.pieces; });
    columns.number("money", "1", head(currency()), "of one sharpening",
                   [](const Row& r) { return r.of.money; });
    if (!has_year_) return table;
    columns.number("pieces_per_year", "1", "pieces/year", "used up in a year",
                   [this](const Row& r) { return year_ * r.of.pieces; });
    columns.number("money_per_year", "1", head(currency() + "/year"), "what these cost in a year",
                   [this](const Row& r) { return year_ * r.of.money; });
    return table;
  }

  [[nodiscard]] AnswerTable materials() const {
    using M = MaterialWorth;
    AnswerTable    table{.name = "materials",
                         .says = "What is worth keeping: the sharpest way with it against the sharpest without",
                         .axis        = "materials",
                         .on_terminal = false};
    ItemColumns<M> rows(table, c_.materials);
    rows.text("materials", "materials", "used by the same ways",
              [](const M& m) { return and_list(m.materials); });
    rows.text("verdict", "verdict", "whether they are worth keeping",
              [this](const M& m) { return keeping_verdict(m, has_spread(), c_.settings.margin); });
    rows.text("with", "sharpest with", "way", &M::with);
    rows.number("with_gf", "gf", "gf", "its reading ready for work",
                [](const M& m) { return laws::in_gram_force(m.with_N); });
    rows.text("without", "sharpest without", "way; empty where every way uses them", &M::without);
    rows.number("without_gf", "gf", "gf", "its reading ready for work",
                [](const M& m) { return laws::in_gram_force(m.without_N); });
    rows.number("needed", "1", "",
                "probability that it reads more than the margin above; missing where readings do not tell",
                [](const M& m) { return m.claim.above; });
    rows.number("money_with", "1", head(currency()), "of one sharpening with them", &M::money_with);
    rows.number("money_without", "1", head(currency()), "of one sharpening without", &M::money_without);
    return table;
  }

  [[nodiscard]] AnswerTable strops() const {
    using S = StropWorth;
    AnswerTable table{
        .name        = "strops",
        .says        = "Strops, against the same without them or with the finest medium in their place",
        .axis        = "pair",
        .on_terminal = false};
    ItemColumns<S> rows(table, c_.strops);
    rows.text("strop", "strop", "backing and compound", &S::strop);
    rows.text("way", "in", "way of sharpening", &S::way);
    rows.text("instead", "instead", "medium in its place",
              [](const S& s) { return s.instead.empty() ? "nothing" : s.instead; });
    rows.text("verdict", "with the strop", "reading with the strop against that with the other",
              [this](const S& s) { return strop_verdict(s, has_spread(), c_.settings.margin); });
    rows.number("with_gf", "gf", "gf", "reading with the strop",
                [](const S& s) { return laws::in_gram_force(s.with_N); });
    rows.number("instead_gf", "gf", "gf instead", "reading with the other",
                [](const S& s) { return laws::in_gram_force(s.instead_N); });
    rows.number("ratio", "1", "", "reading with the strop over that with the other",
                [](const S& s) { return s.ratio.middle; });
    rows.number("ratio_low", "1", "", "lower end of its band", [](const S& s) { return s.ratio.low; });
    rows.number("ratio_high", "1", "", "upper end of its band", [](const S& s) { return s.ratio.high; });
    rows.number(
        "minutes_more", "min", "min more",
        "minutes of a sharpening with the strop, less those with the other",
        [](const S& s) { return s.minutes_with - s.minutes_instead; }, 2);
    rows.number(
        "money_more", "1", head(currency() + " more"),
        "cost of a sharpening with the strop, less that with the other",
        [](const S& s) { return s.money_with - s.money_instead; }, 2);
    if (has_year_)
      rows.number(
          "money_more_per_year", "1", head(currency() + "/year more"), "the same in a year",
          [this](const S& s) { return year_ * (s.money_with - s.money_instead); }, 2);
    return table;
  }

  [[nodiscard]] std::string year_sentence() const {
    const auto [least, most] =
        std::minmax_element(c_.ways.begin(), c_.ways.end(),
                            [this](const Way& a, const Way& b) { return price_of(a) < price_of(b); });
    return fmt::format("At {} sharpenings a year {} costs least, {}; {} costs most, {}.", plain(year_),
                       least->name, year_of(*least), most->name, year_of(*most));
  }

  // "812 EUR (750 for time, 40 for media and 22 for strops) and 33 hours"
  [[nodiscard]] std::string year_of(const Way& w) const {
    std::string hours = fmt::format("{} hours", plain(year_ * w.minutes / 60.0, 2));
    if (!money_) return hours;
    std::vector<std::string> parts;
    const auto               part = [&](double money, const char* what) {
      if (money > 0.0) parts.push_back(fmt::format("{} {}", plain(year_ * money, 2), what));
    };
    part(pace_.wage_per_hour / 60.0 * w.minutes, "for time");
    part(w.parts.media, "for media");
    part(w.parts.strops, "for strops");
    part(w.parts.flatten, "for flattening");
    return fmt::format("{} ({}) and {}", sum(year_ * w.money), and_list(parts), hours);
  }

  [[nodiscard]] std::string keeping_sentence() const {
    std::vector<std::string> keep, go, open, all;
    for (const MaterialWorth& m : c_.materials) {
      const std::string verdict = keeping_verdict(m, has_spread(), c_.settings.margin),
                        names   = and_list(m.materials);
      if (m.without.empty())
        all.push_back(names);
      else if (verdict.rfind("worth", 0) == 0)
        keep.push_back(names);
      else if (verdict.rfind("could", 0) == 0)
        go.push_back(names);
      else
        open.push_back(names);
    }
    std::string text = fmt::format(
        "Which materials are worth keeping, one by one, if a reading that is over {} higher without them counts as a loss.",
        percent(c_.settings.margin));
    const auto list = [&](const char* before, const std::vector<std::string>& names) {
      if (!names.empty()) text += fmt::format(" {}: {}.", before, fmt::join(names, "; "));
    };
    list("Worth keeping", keep);
    list(go.size() == 1 ? "Could go" : "Each could go by itself, not all of them together", go);
    list("Not known", open);
    list("Used by every way, so that these ways do not tell", all);
    return text;
  }

  // of backing and compound those without a price
  [[nodiscard]] std::vector<std::string> unpriced_of_strop(const StropWorth& s) const {
    std::vector<std::string> out;
    std::copy_if(
        c_.unpriced.begin(), c_.unpriced.end(), std::back_inserter(out), [&](const std::string& name) {
          const std::string of_compound = " with " + name;
          return s.strop == name + ", bare" || s.strop.rfind(name + " with ", 0) == 0 ||
                 (s.strop.size() > of_compound.size() &&
                  s.strop.compare(s.strop.size() - of_compound.size(), std::string::npos, of_compound) == 0);
        });
    return out;
  }
  [[nodiscard]] bool is_unpriced(const std::string& material) const {
    return std::find(c_.unpriced.begin(), c_.unpriced.end(), material) != c_.unpriced.end();
  }

  // "1.4 minutes more and 0.57 EUR more a sharpening (114 EUR more a year)"
  [[nodiscard]] std::string difference_of_costs(const StropWorth& s) const {
    const auto   more    = [](double by) { return by < 0.0 ? "less" : "more"; };
    const double minutes = s.minutes_with - s.minutes_instead, money = s.money_with - s.money_instead;
    std::string  text = fmt::format("{} minutes {}", plain(std::abs(minutes), 2), more(minutes));
    if (money_) text += fmt::format(" and {} {}", sum(std::abs(money)), more(money));
    text += " a sharpening";
    if (money_ && has_year_)
      text += fmt::format(" ({} {} a year)", sum(year_ * std::abs(money)), more(money));
    std::vector<std::string> unpriced = unpriced_of_strop(s);
    if (is_unpriced(s.instead)) unpriced.push_back(s.instead);
    if (money_ && !unpriced.empty()) text += ", without a price for " + and_list(unpriced);
    return text;
  }

  // whether it pays, where that can be said without asking what sharpness is worth
  [[nodiscard]] std::string whether_it_pays(const StropWorth& s) const {
    const bool   surely  = !has_spread();
    const bool   same    = surely ? std::abs(std::log(s.ratio.middle)) <= std::log1p(c_.settings.margin)
                                  : s.claim.within >= likely_from;
    const bool   sharper = !same && (surely ? s.ratio.middle < 1.0 : s.claim.below >= likely_from);
    const bool   blunter = !same && (surely ? s.ratio.middle > 1.0 : s.claim.below <= 1.0 - likely_from);
    const double cost    = money_ ? s.money_with - s.money_instead : s.minutes_with - s.minutes_instead;
    // a price that nobody stated could turn it round
    if (cost > 0.0 && (same || blunter) && !(money_ && is_unpriced(s.instead)))
      return " By its reading the strop is not worth its price.";
    if (cost <= 0.0 && (same || sharper) && !(money_ && !unpriced_of_strop(s).empty()))
      return " The strop is the better buy.";
    return {};
  }

  // one strop, against all that was put in its place
  [[nodiscard]] std::string strop_sentences(const std::string& strop) const {
    std::string text;
    for (const StropWorth& s : c_.strops) {
      if (s.strop != strop) continue;
      text += text.empty() ? fmt::format("{}, as in {}, by the model. Against", s.strop, s.way) : " Against";
      text += fmt::format(" {} in its place: {}, at {}.{}", s.instead.empty() ? "nothing" : s.instead,
                          strop_verdict(s, has_spread(), c_.settings.margin), difference_of_costs(s),
                          whether_it_pays(s));
    }
    return text;
  }

  const Comparing& c_;
  const Pace&      pace_;
  double           year_;
  bool             money_, has_year_;
};

}  // namespace

void add_worth(const Comparing& comparing, const Workshop& workshop, Answer& answer) {
  WorthWriter(comparing, workshop).add_to(answer);
}

}  // namespace arris
