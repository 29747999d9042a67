// SPDX-License-Identifier: MIT
#include "sim/studies/compare/worth.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

#include <fmt/format.h>

#include "sim/certainty.hpp"
#include "sim/studies/compare/by_readings.hpp"
#include "sim/studies/compare/way_names.hpp"
#include "sim/studies/confounded_with.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

std::string name_of_strop(const StropStep& s) {
  return s.compound == "none" ? s.strop + ", bare" : s.strop + " with " + s.compound;
}

bool is_this_strop(const Step& step, const StropStep& strop) {
  const auto* s = std::get_if<StropStep>(&step);
  return s != nullptr && s->backing == strop.backing && s->compound_index == strop.compound_index;
}

bool uses_medium(const Way& way, int medium) {
  return std::any_of(way.plan.steps.begin(), way.plan.steps.end(), [&](const Step& s) {
    const auto* hone = std::get_if<HoneStep>(&s);
    return hone != nullptr && hone->medium == medium;
  });
}

// of the media under a bevel in these ways; −1 where none is used
int finest_medium(const Model<double>& model, const std::vector<Way>& ways) {
  int finest = -1;
  for (const Way& way : ways) {
    for (const Step& step : way.plan.steps) {
      const auto* hone = std::get_if<HoneStep>(&step);
      if (hone == nullptr) continue;
      const auto size = [&](int m) { return model.media[static_cast<std::size_t>(m)].size_um; };
      if (finest < 0 || size(hone->medium) < size(finest)) finest = hone->medium;
    }
  }
  return finest;
}

// the hone and back steps of a medium in the first way that uses it, none of which waits for a burr
std::vector<Step> steps_on(int medium, const std::vector<Way>& ways) {
  std::vector<Step> out;
  const auto        way =
      std::find_if(ways.begin(), ways.end(), [&](const Way& w) { return uses_medium(w, medium); });
  for (Step step : way->plan.steps) {
    auto*       hone = std::get_if<HoneStep>(&step);
    const auto* back = std::get_if<BackStep>(&step);
    if (hone != nullptr) hone->after_burr = false;
    if ((hone != nullptr && hone->medium == medium) || (back != nullptr && back->medium == medium))
      out.push_back(std::move(step));
  }
  return out;
}

// the plan of a way with `instead` in the place of a strop
EdgePlan with_instead(const EdgePlan& plan, const StropStep& strop, const std::vector<Step>& instead) {
  EdgePlan out = plan;
  out.steps.clear();
  bool placed = false;
  for (const Step& step : plan.steps) {
    if (!is_this_strop(step, strop)) {
      out.steps.push_back(step);
    } else if (!placed) {
      out.steps.insert(out.steps.end(), instead.begin(), instead.end());
      placed = true;
    }
  }
  return out;
}

// the index of these steps among the ways and the others behind them; they are added where they are new
std::size_t place_of(EdgePlan plan, const std::vector<Way>& ways, std::vector<Way>& others) {
  const auto is_same = [&](const Way& w) { return same_steps(w.plan.steps, plan.steps); };
  if (const auto way = std::find_if(ways.begin(), ways.end(), is_same); way != ways.end())
    return static_cast<std::size_t>(way - ways.begin());
  const auto other = std::find_if(others.begin(), others.end(), is_same);
  const auto place = ways.size() + static_cast<std::size_t>(other - others.begin());
  if (other == others.end()) {
    Way way;
    way.plan      = std::move(plan);
    way.plan.name = fmt::format("other {}", others.size() + 1);
    others.push_back(std::move(way));
  }
  return place;
}

// materials in the order in which the ways use them, those that the same ways use together
std::vector<std::pair<std::vector<std::string>, std::vector<bool>>> used_together(
    const std::vector<Way>& ways) {
  std::vector<std::pair<std::vector<std::string>, std::vector<bool>>> out;
  std::vector<std::string>                                            seen;
  for (const Way& first : ways) {
    for (const WayMaterial& material : first.materials) {
      if (std::find(seen.begin(), seen.end(), material.name) != seen.end()) continue;
      seen.push_back(material.name);
      std::vector<bool> users;
      for (const Way& way : ways)
        users.push_back(std::any_of(way.materials.begin(), way.materials.end(),
                                    [&](const WayMaterial& m) { return m.name == material.name; }));
      const auto same =
          std::find_if(out.begin(), out.end(), [&](const auto& g) { return g.second == users; });
      if (same == out.end()) {
        out.push_back({{material.name}, users});
      } else {
        same->first.push_back(material.name);
      }
    }
  }
  return out;
}

// the sharpest way of those that do, or do not, use a material; the number of ways where there is none
std::size_t sharpest(const std::vector<Way>& ways, const std::vector<bool>& users, bool use) {
  std::size_t best = ways.size();
  for (std::size_t w = 0; w < ways.size(); ++w) {
    if (users[w] == use && (best == ways.size() || ways[w].reading_N.middle < ways[best].reading_N.middle))
      best = w;
  }
  return best;
}

}  // namespace

MemberRatio member_ratio(const EdgeForecast& own, const EdgeForecast& other,
                         const CompareSettings& settings) {
  const double        margin = std::log1p(settings.margin);
  MemberRatio         out;
  std::vector<double> ratios;
  for (std::size_t i = 0; i < own.member_fresh_N.size(); ++i) {
    const double ratio = own.member_fresh_N[i] / other.member_fresh_N[i];
    if (std::isnan(ratio)) continue;
    ratios.push_back(ratio);
    out.below += ratio < 1.0 ? 1.0 : 0.0;
    out.within += std::abs(std::log(ratio)) <= margin ? 1.0 : 0.0;
    out.above += std::log(ratio) > margin ? 1.0 : 0.0;
  }
  out.members = ratios.size();
  if (ratios.empty()) return out;
  const auto n = static_cast<double>(ratios.size());
  out.below /= n;
  out.within /= n;
  out.above /= n;
  // that of the two readings as they stand beside it
  const double middle = own.fresh_N.middle / other.fresh_N.middle;
  out.ratio           = {std::min(middle, quantile(ratios, 0.5 - 0.5 * settings.life.share)), middle,
                         std::max(middle, quantile(ratios, 0.5 + 0.5 * settings.life.share))};
  return out;
}

bool states_minutes(const Workshop& workshop) {
  return std::any_of(workshop.prices.begin(), workshop.prices.end(), [](const Price& p) {
    return p.soak_min > 0.0 || p.clean_min > 0.0 || p.change_min > 0.0 ||
           !std::isnan(p.flatten_every_strokes);
  });
}

StropPairs strop_pairs(const Model<double>& model, const std::vector<Way>& ways) {
  StropPairs               out;
  const int                finest = finest_medium(model, ways);
  std::vector<std::string> seen;
  for (std::size_t w = 0; w < ways.size(); ++w) {
    for (const Step& step : ways[w].plan.steps) {
      const auto* strop = std::get_if<StropStep>(&step);
      if (strop == nullptr || std::find(seen.begin(), seen.end(), name_of_strop(*strop)) != seen.end())
        continue;
      seen.push_back(name_of_strop(*strop));
      out.pairs.push_back(
          {seen.back(), {}, w, place_of(with_instead(ways[w].plan, *strop, {}), ways, out.others)});
      if (finest < 0 || uses_medium(ways[w], finest)) continue;
      out.pairs.push_back(
          {seen.back(), model.media[static_cast<std::size_t>(finest)].name, w,
           place_of(with_instead(ways[w].plan, *strop, steps_on(finest, ways)), ways, out.others)});
    }
  }
  return out;
}

std::vector<StropWorth> worth_of_strops(const ReadyReadings& read, const StropPairs& pairs,
                                        const std::vector<Way>& run, const std::vector<EdgeForecast>& lives,
                                        const CompareSettings& settings) {
  std::vector<StropWorth> out;
  for (const StropPair& pair : pairs.pairs) {
    const Way &       with = run[pair.way], &other = run[pair.other];
    const MemberRatio ratio = member_ratio(lives[pair.way], lives[pair.other], settings);
    out.push_back({.strop           = pair.strop,
                   .way             = with.name,
                   .instead         = pair.instead,
                   .with_N          = with.reading_N.middle,
                   .instead_N       = other.reading_N.middle,
                   .ratio           = ratio.ratio,
                   .claim           = read.claim(with, other, ratio),
                   .minutes_with    = with.minutes,
                   .minutes_instead = other.minutes,
                   .money_with      = with.money,
                   .money_instead   = other.money});
  }
  return out;
}

std::vector<MaterialWorth> worth_of_materials(const ReadyReadings& read, const std::vector<Way>& ways,
                                              const std::vector<EdgeForecast>& lives,
                                              const CompareSettings&           settings) {
  std::vector<MaterialWorth> out;
  for (auto& [materials, users] : used_together(ways)) {
    const std::size_t with = sharpest(ways, users, true), without = sharpest(ways, users, false);
    MaterialWorth     worth{.materials  = std::move(materials),
                            .with       = ways[with].name,
                            .with_N     = ways[with].reading_N.middle,
                            .money_with = ways[with].money};
    if (without < ways.size()) {
      const MemberRatio ratio = member_ratio(lives[without], lives[with], settings);
      worth.without           = ways[without].name;
      worth.without_N         = ways[without].reading_N.middle;
      worth.money_without     = ways[without].money;
      worth.ratio             = ratio.ratio;
      worth.claim             = read.claim(ways[without], ways[with], ratio);
    }
    out.push_back(std::move(worth));
  }
  return out;
}

std::string why_not_known(const Claim& claim) {
  if (claim.evidence == Evidence::confounded)
    return "the readings cannot tell, as the two were read " + read_differently(claim.with);
  if (claim.evidence == Evidence::contradicted)
    return fmt::format("the model and the readings disagree, as it was read {} {}",
                       percent(std::abs(claim.read_ratio - 1.0)), claim.read_ratio < 1.0 ? "less" : "more");
  return {};
}

std::string strop_verdict(const StropWorth& worth, bool has_spread, double margin) {
  const std::string by = percent(std::abs(worth.ratio.middle - 1.0));
  if (!has_spread) {
    if (std::abs(std::log(worth.ratio.middle)) <= std::log1p(margin)) return "no difference that matters";
    return fmt::format("{} {}", by, worth.ratio.middle < 1.0 ? "sharper" : "less sharp");
  }
  const Claim& claim = worth.claim;
  if (const std::string why = why_not_known(claim); !why.empty()) return "not known: " + why;
  if (claim.within >= likely_from)
    return fmt::format("no difference that matters, {}", likelihood(claim.within));
  if (claim.below >= likely_from) return fmt::format("{} sharper, {}", by, likelihood(claim.below));
  if (claim.below <= 1.0 - likely_from)
    return fmt::format("{} less sharp, {}", by, likelihood(1.0 - claim.below));
  return "which is sharper is not known";
}

std::string keeping_verdict(const MaterialWorth& worth, bool has_spread, double margin) {
  if (worth.without.empty()) return "every way uses it";
  if (!has_spread) return worth.ratio.middle > 1.0 + margin ? "worth keeping" : "could go";
  const double needed = worth.claim.above;
  if (needed >= likely_from) return fmt::format("worth keeping, {}", likelihood(needed));
  if (needed <= 1.0 - likely_from) return fmt::format("could go, {}", likelihood(1.0 - needed));
  return "not known";
}

}  // namespace arris
