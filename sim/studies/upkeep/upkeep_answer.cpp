// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/laws/gram_force.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/studies/laws_said.hpp"
#include "sim/studies/upkeep/upkeep.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

/// A finite number in two or three digits, as one would say it: 8.4, 37, 120, 24 000.
std::string rounded(double value) {
  if (value == 0.0) return "0";
  const int    magnitude = static_cast<int>(std::floor(std::log10(std::abs(value))));
  const double unit      = std::pow(10.0, magnitude - 1);
  if (magnitude >= 1) {
    // up to a thousand whole numbers are as easily said
    const double whole  = magnitude < 3 ? std::round(value) : std::round(value / unit) * unit;
    std::string  digits = fmt::format("{:.0f}", whole);
    for (int at = static_cast<int>(digits.size()) - 3; at > 0 && digits.size() > 4; at -= 3)
      digits.insert(static_cast<std::size_t>(at), " ");
    return digits;
  }
  return fmt::format("{:.{}f}", value, 1 - magnitude);
}

std::string ordinal(int n) {
  const int tail = n % 100;
  return fmt::format("{}{}", n,
                     tail >= 11 && tail <= 13 ? "th"
                     : n % 10 == 1            ? "st"
                     : n % 10 == 2            ? "nd"
                     : n % 10 == 3            ? "rd"
                                              : "th");
}

class AnswerWriter {
 public:
  AnswerWriter(const UpkeepResult& result, const Workshop& workshop, const UpkeepSettings& settings,
               const Ensemble& ensemble)
      : result_(result), pace_(workshop.pace), settings_(settings), ensemble_(ensemble) {}

  Answer answer() {
    Answer out;
    out.kind     = "upkeep";
    out.headline = headline();
    routines(out);
    trade_off(out);
    fronts(out);
    by_interval(out);
    caution(out);
    year(out);
    members(out);
    remarks(out);
    out.rests_on = ensemble_.rests_on;
    out.cautions = {usual_caution()};
    out.settings = {{"limit_gf", settings_.limit_gf},
                    {"share_of_passes", settings_.share},
                    {"most_stroppings", settings_.most_stroppings},
                    {"members", static_cast<double>(result_.members.size())}};
    if (has_year()) out.settings.emplace_back("sharpenings_per_year", settings_.sharpenings);
    if (settings_.least == Least::mix) out.settings.emplace_back("minutes_per_mm", settings_.minutes_per_mm);
    return out;
  }

 private:
  [[nodiscard]] std::string currency() const { return pace_.currency.empty() ? "money" : pace_.currency; }
  [[nodiscard]] std::string limit() const {
    return settings_.task.empty() ? fmt::format("{:g} gf", settings_.limit_gf)
                                  : fmt::format("{:g} gf ({})", settings_.limit_gf, settings_.task);
  }
  [[nodiscard]] bool   grinds() const { return result_.land_per_depth > 0.0; }
  [[nodiscard]] double land_mm(const Period& p) const {
    return grinds() && p.honings > 0 ? 1e-3 * result_.land_per_depth * p.depth_um : not_given;
  }
  [[nodiscard]] static bool strops(const Routine& r) { return r.stroppings > 0 || !r.hones; }

  [[nodiscard]] std::string costs(const Routine& r) const {
    std::string out = fmt::format("{} minutes", rounded(r.minutes()));
    if (result_.costs_money) out += fmt::format(", {} {}", rounded(r.money()), currency());
    return out + fmt::format(" and {} µm of blade length per 1000 passes", rounded(r.steel_um()));
  }
  [[nodiscard]] std::string what_is_least() const {
    switch (settings_.least) {
      case Least::minutes:
        return "time";
      case Least::money:
        return "money";
      case Least::steel:
        return "steel";
      case Least::mix:
        break;
    }
    return fmt::format("time, with a millimetre of blade counted as {:g} minutes", settings_.minutes_per_mm);
  }

  // who follows the cheapest routine to the letter may be above the limit half the time, so that one comes second
  [[nodiscard]] std::string headline() const {
    const Caution* sure = surest();
    if (sure == nullptr && !result_.caution.empty()) return none_is_safe();
    if (sure == nullptr || sure == &result_.caution.front()) return bold_headline() + how_surely();
    const Routine&    r    = result_.best;
    const std::string what = settings_.share >= 1.0 ? "keeps " + limit()
                                                    : fmt::format("keeps {} of the passes within {}",
                                                                  percent(settings_.share), limit());
    std::string       out  = fmt::format("Edge {} ({} in {}): ", result_.steps.edge, result_.steps.tool_name,
                                         result_.steps.work.cut);
    out += r.stroppings > 0
               ? fmt::format("strop every {} passes, and every {} time hone instead, that is every {} passes",
                             sure->passes, ordinal(r.stroppings + 1), sure->passes * (r.stroppings + 1))
               : fmt::format("hone every {} passes, without stropping in between", sure->passes);
    out += fmt::format(". That {} in {} versions of the model, and takes about {} minutes per 1000 passes",
                       what, of_all(*sure), rounded(sure->minutes));
    if (grinds() && r.period.honings > 1)
      out += fmt::format("; grind anew when the land is {} mm wide", rounded(land_mm(r.period)));
    return out + "." + keeping_by_law(*sure) +
           fmt::format(
               " Bolder, at the least {} if the model were right to the letter: {}. It keeps the limit in {} versions only.",
               what_is_least(), bold_routine(), of_all(result_.caution.front()));
  }

  // nothing to follow: what the most careful one does, and what the best values would have
  [[nodiscard]] std::string none_is_safe() const {
    const Caution &bold = result_.caution.front(), &careful = result_.caution.back();
    return fmt::format(
        "No routine that was tried keeps {0} for edge {1} ({2} in {3}) in 9 of 10 versions of the model, so that none is safe to follow: even {4} passes at a stretch do only in {5}. Read the edge at work, and sharpen it before it passes the limit.{6} The best values of the model alone would have this for the least {7}: {8}; that keeps the limit in {9} versions only.",
        limit(), result_.steps.edge, result_.steps.tool_name, result_.steps.work.cut, careful.passes,
        of_all(careful), keeping_by_law(careful), what_is_least(), bold_routine(), of_all(bold));
  }

  [[nodiscard]] std::string of_all(const Caution& c) const {
    const auto all = result_.members.size();
    return fmt::format("{:.0f} of {}", c.keeping * static_cast<double>(all), all);
  }
  // the boldest that keeps the limit in 9 of 10 versions of the model; null where none was tried or none does
  [[nodiscard]] const Caution* surest() const {
    constexpr double sure  = 0.9;
    const auto       found = std::find_if(result_.caution.begin(), result_.caution.end(),
                                          [](const Caution& c) { return c.keeping >= sure; });
    return found == result_.caution.end() ? nullptr : &*found;
  }
  // the cheapest routine, and what it takes
  [[nodiscard]] std::string bold_routine() const {
    const Routine& r = result_.best;
    return (r.stroppings > 0 ? fmt::format("{} passes at a stretch, honed every {}", r.passes,
                                           r.passes * (r.stroppings + 1))
                             : fmt::format("honed every {} passes", r.passes)) +
           ", for " + costs(r);
  }

  [[nodiscard]] std::string bold_headline() const {
    const Routine& r   = result_.best;
    std::string    out = fmt::format("Edge {} ({} in {}), at the least {}: ", result_.steps.edge,
                                     result_.steps.tool_name, result_.steps.work.cut, what_is_least());
    if (r.stroppings > 0) {
      out += fmt::format("strop every {} passes, and every {} time hone instead, that is every {} passes",
                         r.passes, ordinal(r.stroppings + 1), r.passes * (r.stroppings + 1));
    } else {
      out += fmt::format("hone every {} passes, without stropping in between", r.passes);
    }
    if (grinds()) {
      out += r.period.honings == 1 ? std::string("; grind anew before every honing")
                                   : fmt::format("; grind anew after {} honings, when the land is {} mm wide",
                                                 r.period.honings, rounded(land_mm(r.period)));
    }
    out += ". The reading then";
    out += settings_.share >= 1.0
               ? fmt::format(" never rises above {}", limit())
               : fmt::format(" is at {} or less in {} of the passes", limit(), percent(settings_.share));
    return out + fmt::format("; upkeep takes {}, beside the work itself.", costs(r));
  }

  // how far the model can be trusted belongs in the sentence
  [[nodiscard]] std::string how_surely() const {
    if (result_.caution.empty()) return {};
    const std::string kept =
        fmt::format(" In {} versions of the model this keeps the limit", of_all(result_.caution.front()));
    return kept + "." + keeping_by_law(result_.caution.front());
  }

  void remarks(Answer& out) const {
    out.remarks.push_back(flatness());
    out.remarks.push_back(effort());
    remark_what_was_searched(out);
    remark_why_honing(out);
    remark_other_ways(out);
    remark_money(out);
    if (!result_.members.empty()) out.remark(About::certainty, members_in_words());
    out.remarks.push_back(fmt::format(
        "Every honing is taken to begin on dressed media, and grinding to stop at the edge. {} pairs of stropping and honing intervals were searched, and the {} best worked out honing by honing; the search was within {:.1g} % of these.",
        result_.searched, result_.worked_out, std::max(0.1, 100.0 * result_.screening_error)));
  }

  /// What honing and stropping take, how sharp the honed edge is, and how long the blade lasts.
  [[nodiscard]] std::string effort() const {
    const Routine& r    = result_.best;
    std::string    text = fmt::format("A honing takes {} minutes on average",
                                      rounded(r.period.hone_minutes / std::max(1, r.period.honings)));
    if (!result_.steps.stropping.empty())
      text += fmt::format(", a stropping {}", rounded(result_.stropping_minutes));
    text += fmt::format("; right after honing the edge reads {:.0f} gf", result_.honed_narrow_gf);
    if (grinds() && std::abs(result_.honed_wide_gf - result_.honed_narrow_gf) >= 1.0)
      text += fmt::format(
          " on a fresh, narrow land and {:.0f} gf on one of {} mm, which the same strokes polish less",
          result_.honed_wide_gf, rounded(result_.land_limit_mm));
    const double per_pass = r.period.loss_um / r.period.passes;
    if (per_pass > 0.0)
      text += fmt::format(". At {:g} mm of usable length the blade lasts {} passes", pace_.usable_blade_mm,
                          rounded(1e3 * pace_.usable_blade_mm / per_pass));
    return text + ".";
  }

  /// What bounded the search: land, steps, and how many stroppings were allowed.
  void remark_what_was_searched(Answer& out) const {
    if (result_.limit_ends_land) {
      out.remarks.push_back(fmt::format(
          "On a land wider than {} mm this honing no longer brings the edge to the limit: that, and not the width of land at which the shop grinds, is why it is ground so early.",
          rounded(result_.land_limit_mm)));
    }
    if (!grinds())
      out.remarks.emplace_back(
          "The whole bevel is honed, so its land does not grow and nothing has to be ground.");
    if (result_.steps.stropping.empty()) {
      out.remarks.emplace_back(
          "No strop step stands in this edge's steps, so only the honing was looked at.");
    } else if (result_.steps.borrowed_strop) {
      out.remarks.emplace_back(
          "No strop step follows the first cut, so the last one before it was taken for the stropping in between.");
    }
    if (result_.at_most_stroppings) {
      out.remarks.push_back(fmt::format(
          "The search stopped at {} stroppings between two honings (--stroppings); still more would save a little more.",
          settings_.most_stroppings));
    }
  }

  /// What people may think of instead.
  void remark_other_ways(Answer& out) const {
    const Routine& r = result_.best;
    if (grinds() && !result_.limit_ends_land && land_mm(r.period) < 0.5 * result_.land_limit_mm &&
        result_.honed_wide_gf > 1.05 * result_.honed_narrow_gf) {
      out.remarks.push_back(fmt::format(
          "It pays to grind long before the land is {} mm wide, because the same strokes polish a narrow land further. Taking more strokes on a wide land would be another way; that was not searched.",
          rounded(result_.land_limit_mm)));
    }
    for (const NamedRoutine& n : result_.routines) {
      if (n.routine.hones || n.routine.minutes() > r.minutes()) continue;
      out.remarks.emplace_back(
          "In this model the strop alone would keep the limit. Do not rely on it: the land takes the shape of the pad, and a large nick has to be honed out.");
    }
  }

  /// Why it is honed at all, and what that costs the next honing.
  void remark_why_honing(Answer& out) const {
    if (!(result_.chip_um > 0.0) && !(result_.dub_depth_um > 0.0)) return;
    out.remarks.push_back(fmt::format(
        "Why hone: by then nicks and chips are {} µm deep, which adds {} gf to the reading and no strop takes out. What stropping costs the honing: the stone must take {} µm off the bevel before it meets the edge.",
        short_number(result_.chip_um), rounded(result_.chip_gf), short_number(result_.dub_depth_um)));
    out.remark(About::certainty,
               "How fast nicks come is an estimate; it decides how long stropping puts off a honing.");
  }

  void remark_money(Answer& out) const {
    if (!result_.costs_money) {
      out.remarks.emplace_back(
          "No wage and no price with a life is stated, so money is left out ([workshop] wage_per_hour, [price.\"…\"]).");
    } else if (!result_.unpriced.empty()) {
      std::string names;
      for (const std::string& name : result_.unpriced) names += (names.empty() ? "" : "; ") + name;
      out.remarks.push_back(fmt::format("Counted as free, for want of a price: {}.", names));
    }
  }

  // beside versions of the model, most of which want fewer passes, what holds at its best values only is said to do so
  [[nodiscard]] std::string of_bold(const char* alone, const std::string& beside_members) const {
    return result_.members.empty() ? alone : "If the model were right to the letter, " + beside_members;
  }

  [[nodiscard]] std::string flatness() const {
    const bool  strops = !result_.steps.stropping.empty();
    std::string text;
    if (result_.flat_from <= 0.8 * result_.flat_to) {
      text =
          fmt::format("{}: anything between {} and {} passes at a stretch costs within 5 % of it",
                      of_bold("There is no need to count closely", "there would be no need to count closely"),
                      result_.flat_from, result_.flat_to);
      if (strops && result_.flat_hone_to > result_.flat_hone_from)
        text += fmt::format(", if it is honed every {} to {} passes to suit", result_.flat_hone_from,
                            result_.flat_hone_to);
      text += ".";
    } else {
      text = fmt::format(
          "{}: fewer than {} passes at a stretch cost over 5 % more.",
          of_bold("It pays to work nearly to the limit", "it would pay to work nearly to the limit"),
          result_.flat_from);
    }
    // and what caution would cost: the interval nearest to half as many; versions of the model, where they were run, say that themselves
    if (!result_.members.empty()) return text;
    const ByInterval* half = nullptr;
    const double      want = 0.5 * result_.best.passes;
    for (const ByInterval& b : result_.by_interval) {
      if (half == nullptr || std::abs(b.passes - want) < std::abs(half->passes - want)) half = &b;
    }
    if (half != nullptr && half->passes < result_.best.passes) {
      const std::string unit = settings_.least == Least::money   ? ""
                               : settings_.least == Least::steel ? " µm"
                                                                 : " minutes";
      text +=
          fmt::format(" Working only {} passes at a stretch would cost {}{} per 1000 passes.", half->passes,
                      rounded(half->value), settings_.least == Least::money ? " " + currency() : unit);
    }
    return text;
  }

  // nine in ten of them: "13 to 14", or "about 13" where both ends are said alike
  [[nodiscard]] static std::string span_of(const std::vector<double>& values) {
    const std::string low = rounded(quantile(values, 0.05)), high = rounded(quantile(values, 0.95));
    return low == high ? "about " + low : fmt::format("{} to {}", low, high);
  }

  [[nodiscard]] std::string members_in_words() const {
    std::vector<double> minutes, steel;
    int                 keeping = 0;
    for (const MemberUpkeep& m : result_.members) {
      keeping += m.keeps ? 1 : 0;
      if (!m.ran) continue;
      minutes.push_back(1000.0 * m.period.minutes / m.period.passes);
      steel.push_back(1000.0 * m.period.loss_um / m.period.passes);
    }
    std::string out = fmt::format(
        "The routine at the least {} was run in {} versions of the model, each as likely as any other: {} keep the limit",
        what_is_least(), result_.members.size(),
        rounded(100.0 * keeping / static_cast<double>(result_.members.size())) + " %");
    if (!minutes.empty())
      out += fmt::format(", and nine in ten take {} minutes and {} µm per 1000 passes", span_of(minutes),
                         span_of(steel));
    const auto failed = result_.members.size() - minutes.size();
    if (failed > 0)
      out += fmt::format("; in {} of them the honing never gets there, which counts as not kept", failed);
    out += ".";
    if (!ensemble_.is_fitted())
      out += " Fit readings of your own, and name the fit with --fit, to narrow that.";
    return out;
  }

  /// How much it hangs on the wear law: the share that keeps the limit among the versions that have each; empty where there is one law.
  [[nodiscard]] std::string keeping_by_law(const Caution& routine) const {
    if (!ensemble_.has_laws()) return {};
    constexpr double         alike = 0.1;  // of shares
    std::vector<std::string> shares, ruled_out;
    std::size_t              left  = 0;
    double                   least = 1.0, most = 0.0;
    for (std::size_t k = 0; k < ensemble_.laws.size(); ++k) {
      const EnsembleLaw& law = ensemble_.laws[k];
      if (law.ruled_out)
        ruled_out.push_back(law.name);
      else
        ++left;
      double keep = 0.0, all = 0.0;
      for (std::size_t m = 0; m < routine.keeps.size(); ++m) {
        if (ensemble_.law_of[m] != k) continue;
        all += 1.0;
        keep += routine.keeps[m] ? 1.0 : 0.0;
      }
      if (!(all > 0.0)) continue;
      shares.push_back(fmt::format("{:.0f} of {:.0f} under {}", keep, all, law.name));
      least = std::min(least, keep / all);
      most  = std::max(most, keep / all);
    }
    if (shares.size() > 2 && most - least < alike)
      return fmt::format(" Under each of {} wear laws by itself {} to {} of the versions keep it; {}.",
                         shares.size(), percent(least), percent(most), laws_said(left, ruled_out));
    return fmt::format(" So many versions keep it, depending on the wear law: {}; {}.", and_list(shares),
                       laws_said(left, ruled_out));
  }

  /// Columns that every table of routines has.
  template <class List, class Of>
  void add_routines(AnswerTable& table, const List& list, const Of& of) const {
    const auto column = [&](auto&& f) {
      std::vector<double> out;
      for (const auto& entry : list) out.push_back(f(of(entry)));
      return out;
    };
    if (!result_.steps.stropping.empty()) {
      table.number("strop_every_passes", "1", "strop every", "passes between two stroppings",
                   column([](const Routine& r) { return strops(r) && r.passes > 0 ? r.passes : not_given; }),
                   1);
      table.number("stroppings", "1", "", "stroppings between two honings", column([](const Routine& r) {
                     return r.hones ? static_cast<double>(r.stroppings) : not_given;
                   }));
    }
    table.number("hone_every_passes", "1", "hone every", "passes between two honings",
                 column([](const Routine& r) { return r.hones ? r.between_honings() : not_given; }), 1);
    if (grinds()) {
      table.number("honings", "1", "grind after", "honings between two grindings",
                   column([](const Routine& r) { return r.hones ? r.period.honings : not_given; }), 1);
      table.number("land_mm", "mm", "", "land at which it is ground",
                   column([&](const Routine& r) { return land_mm(r.period); }));
    }
    table.number("minutes", "min", "minutes", "of upkeep, per 1000 passes",
                 column([](const Routine& r) { return r.minutes(); }));
    if (result_.costs_money)
      table.number("money", "1", currency(), "of upkeep, per 1000 passes",
                   column([](const Routine& r) { return r.money(); }));
    table.number("blade_um", "µm", "blade µm", "blade length used up, per 1000 passes",
                 column([](const Routine& r) { return r.steel_um(); }));
    table.number("mean_gf", "gf", "mean gf", "mean reading over the passes",
                 column([](const Routine& r) { return laws::in_gram_force(r.period.mean_N); }));
    table.number("worst_gf", "gf", "worst gf", "highest reading",
                 column([](const Routine& r) { return laws::in_gram_force(r.period.worst_N); }));
    table.number("within_pct", "%", settings_.share >= 1.0 ? "" : "within %",
                 "share of passes within the limit",
                 column([](const Routine& r) { return 100.0 * r.period.within; }));
  }

  void routines(Answer& out) const {
    AnswerTable table;
    table.name = "routines";
    table.says =
        "Per 1000 passes, with others to compare (every so many passes; grind after so many honings)";
    table.axis = "routine";
    std::vector<std::string> names;
    for (const NamedRoutine& n : result_.routines) {
      std::string name = n.name;
      if (n.routine.passes == 0) {
        std::string stretches;
        for (const double s : result_.steps.as_written)
          stretches += fmt::format("{}{:g}", stretches.empty() ? "" : " + ", s);
        name += fmt::format(" ({} passes)", stretches);
      }
      if (!n.keeps) name += ", breaks the limit";
      names.push_back(std::move(name));
    }
    table.text("routine", "routine", "what is done", std::move(names));
    add_routines(table, result_.routines, [](const NamedRoutine& n) -> const Routine& { return n.routine; });
    out.tables.push_back(std::move(table));
  }

  void trade_off(Answer& out) const {
    AnswerTable table;
    table.name = "trade_off";
    table.axis = "limit";
    std::vector<double> target;
    for (const TradeOff& t : result_.trade_off)
      target.push_back(settings_.share >= 1.0 ? t.target : 100.0 * t.target);
    if (settings_.share >= 1.0) {
      table.says = "What a sharper edge costs: the cheapest routine for each limit";
      table.number("limit_gf", "gf", "limit gf", "reading that is never passed", std::move(target));
    } else {
      table.says =
          fmt::format("What more passes within {} cost: the cheapest routine for each share", limit());
      table.number("share_pct", "%", "share %", "share of passes within the limit", std::move(target));
    }
    add_routines(table, result_.trade_off, [](const TradeOff& t) -> const Routine& { return t.routine; });
    for (AnswerColumn& c : table.columns) {
      if (settings_.share >= 1.0 && c.name == "worst_gf") c.head.clear();
    }
    out.tables.push_back(std::move(table));
  }

  void fronts(Answer& out) const {
    const auto front = [&](const char* name, const char* says, const std::vector<Routine>& list) {
      AnswerTable table;
      table.name        = name;
      table.says        = says;
      table.axis        = "routine";
      table.on_terminal = false;
      add_routines(table, list, [](const Routine& r) -> const Routine& { return r; });
      out.tables.push_back(std::move(table));
    };
    front("reading_front", "Routines within the limit of which none is both quicker and sharper on average",
          result_.reading_front);
    front("steel_front", "Routines within the limit of which none is both quicker and easier on the blade",
          result_.steel_front);
  }

  void by_interval(Answer& out) const {
    AnswerTable table;
    table.name        = "by_interval";
    table.says        = "The least for each number of passes between stroppings";
    table.axis        = "interval";
    table.on_terminal = false;
    std::vector<double> passes, stroppings, value;
    for (const ByInterval& b : result_.by_interval) {
      passes.push_back(b.passes);
      stroppings.push_back(b.stroppings);
      value.push_back(b.value);
    }
    table.number("passes", "1", "", "passes at a stretch", std::move(passes));
    table.number("stroppings", "1", "", "stroppings between two honings", std::move(stroppings));
    table.number("least",
                 settings_.least == Least::money   ? "1"
                 : settings_.least == Least::steel ? "µm"
                                                   : "min",
                 "", "what was made small, per 1000 passes", std::move(value));
    out.tables.push_back(std::move(table));
  }

  void caution(Answer& out) const {
    if (result_.caution.empty()) return;
    AnswerTable table;
    table.name = "caution";
    table.says = fmt::format(
        "In how many of {} versions of the model the limit is kept, with fewer passes at a stretch",
        result_.members.size());
    table.axis = "interval";
    std::vector<double> passes, keeping, minutes, money;
    for (const Caution& c : result_.caution) {
      money.push_back(c.money);
      passes.push_back(c.passes);
      keeping.push_back(100.0 * c.keeping);
      minutes.push_back(c.minutes);
    }
    table.text("edge", "", "edge that is kept up",
               std::vector<std::string>(passes.size(), result_.steps.edge));
    table.text("wood", "", "wood that it cuts",
               std::vector<std::string>(passes.size(), result_.steps.work.cut));
    table.number("passes", "1", "passes at a stretch", "passes at a stretch", std::move(passes), 1);
    table.number("keeping_pct", "%", "kept in %", "share of the versions that keep the limit",
                 std::move(keeping));
    table.number("minutes", "min", "minutes", "of upkeep per 1000 passes, median", std::move(minutes));
    if (result_.costs_money)
      table.number("money", "1", currency(), "of upkeep per 1000 passes, median", std::move(money));
    out.tables.push_back(std::move(table));
  }

  // ---- a year ----

  struct OfYear {
    std::string routine;
    double      passes = 0.0, honing_every = 0.0;  ///< at a stretch, between two honings
    double      minutes = 0.0, money = 0.0;        ///< per 1000 passes
  };

  [[nodiscard]] bool has_year() const { return !std::isnan(settings_.sharpenings); }

  // the routine of the headline first, then the others that hone
  [[nodiscard]] std::vector<OfYear> of_year() const {
    std::vector<OfYear> out;
    if (const Caution* sure = surest(); sure != nullptr && sure != &result_.caution.front())
      out.push_back({"kept in 9 of 10 versions", static_cast<double>(sure->passes),
                     static_cast<double>(sure->passes) * (result_.best.stroppings + 1), sure->minutes,
                     sure->money});
    for (const NamedRoutine& n : result_.routines) {
      if (n.routine.hones)
        out.push_back({n.name, n.routine.passes > 0 ? n.routine.passes : not_given,
                       n.routine.between_honings(), n.routine.minutes(), n.routine.money()});
    }
    return out;
  }

  // a year of so much work that the first of them is honed as often as was asked
  void year(Answer& out) const {
    const auto routines = of_year();
    if (!has_year() || routines.empty()) return;
    const double        work = settings_.sharpenings * routines.front().honing_every;
    AnswerTable         table{.name = "year",
                              .says = fmt::format("A year of {} passes, which is {} honings of the first routine",
                                                  rounded(work), rounded(settings_.sharpenings)),
                              .axis = "routine"};
    ItemColumns<OfYear> rows(table, routines);
    const auto          year = [work](double per_1000) { return 1e-3 * work * per_1000; };
    const double        wage = pace_.wage_per_hour / 60.0;
    rows.text("routine", "routine", "what is done", &OfYear::routine);
    rows.number("passes", "1", "passes at a stretch", "passes at a stretch", &OfYear::passes, 1);
    rows.number("honings", "1", "honings", "in the year",
                [work](const OfYear& r) { return work / r.honing_every; });
    rows.number("hours", "h", "hours", "of upkeep in the year",
                [&](const OfYear& r) { return year(r.minutes) / 60.0; });
    if (result_.costs_money) {
      rows.number("money", "1", currency(), "of upkeep in the year, wage included",
                  [&](const OfYear& r) { return year(r.money); });
      rows.number("time", "1", "time", "of that, wage for the hours",
                  [&](const OfYear& r) { return wage * year(r.minutes); });
      rows.number("materials", "1", "media, strops", "of that, what is used up",
                  [&](const OfYear& r) { return year(r.money - wage * r.minutes); });
    }
    out.tables.push_back(std::move(table));
    const OfYear& first = routines.front();
    std::string   text =
        fmt::format("{} honings a year by this routine go with about {} passes, and take {} hours",
                    rounded(settings_.sharpenings), rounded(work), plain(year(first.minutes) / 60.0, 2));
    if (result_.costs_money)
      text += fmt::format(" and {} {} ({} for time, {} for media, strops and flattening)",
                          plain(year(first.money), 2), currency(), plain(wage * year(first.minutes), 2),
                          plain(year(first.money - wage * first.minutes), 2));
    out.remarks.push_back(text + ".");
  }

  void members(Answer& out) const {
    if (result_.members.empty()) return;
    AnswerTable table;
    table.name        = "members";
    table.says        = "The routine in every version of the model";
    table.axis        = "version";
    table.on_terminal = false;
    std::vector<double> keeps, minutes, money, steel, worst, within;
    for (const MemberUpkeep& m : result_.members) {
      const auto number = [&](double value) { return m.ran ? value : not_given; };
      keeps.push_back(m.keeps ? 1.0 : 0.0);
      minutes.push_back(number(1000.0 * m.period.minutes / m.period.passes));
      money.push_back(number(1000.0 * m.period.money / m.period.passes));
      steel.push_back(number(1000.0 * m.period.loss_um / m.period.passes));
      worst.push_back(number(laws::in_gram_force(m.period.worst_N)));
      within.push_back(number(100.0 * m.period.within));
    }
    table.number("keeps", "1", "", "1 where the limit is kept", std::move(keeps));
    table.number("minutes", "min", "", "of upkeep, per 1000 passes", std::move(minutes));
    if (result_.costs_money) table.number("money", "1", "", "of upkeep, per 1000 passes", std::move(money));
    table.number("blade_um", "µm", "", "blade length used up, per 1000 passes", std::move(steel));
    table.number("worst_gf", "gf", "", "highest reading", std::move(worst));
    table.number("within_pct", "%", "", "share of passes within the limit", std::move(within));
    out.tables.push_back(std::move(table));
  }

  const UpkeepResult&   result_;
  const Pace&           pace_;
  const UpkeepSettings& settings_;
  const Ensemble&       ensemble_;
};

}  // namespace

Answer upkeep_answer(const UpkeepResult& result, const Workshop& workshop, const UpkeepSettings& settings,
                     const Ensemble& ensemble) {
  return AnswerWriter(result, workshop, settings, ensemble).answer();
}

}  // namespace arris
