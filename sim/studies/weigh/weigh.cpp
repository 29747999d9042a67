// SPDX-License-Identifier: MIT
#include "sim/studies/weigh/weigh.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "sim/statistics/stacking.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

std::vector<Misfit> misfits_of(const CampaignModel& model, const FitPoint& fit) {
  Eigen::VectorXd f;
  model.observe(model.apex(fit.u, false), Eigen::VectorXd::Zero(model.effect_count()), f, nullptr, nullptr);
  std::map<std::string, Misfit> by_moment;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o = model.observations()[static_cast<std::size_t>(i)];
    const Reading&     r = model.readings()[static_cast<std::size_t>(o.reading)];
    Misfit&            m = by_moment[r.moment_name];
    m.moment             = r.moment_name;
    if (o.is_below) continue;  // how far it is off is not known
    m.mean += (o.log_value - f[i]) * (model.is_additive() ? model.typical_um() : 1.0);
    ++m.count;
  }
  std::vector<Misfit> out;
  for (auto& [name, m] : by_moment) {
    if (m.count == 0) continue;
    m.mean /= m.count;
    out.push_back(m);
  }
  std::sort(out.begin(), out.end(),
            [](const Misfit& a, const Misfit& b) { return std::abs(a.mean) > std::abs(b.mean); });
  return out;
}

WeighedLaw weighed(const LawFit& fit) {
  WeighedLaw law;
  static_cast<LawFit&>(law) = fit;
  if (!law.usable) return law;
  const double n = static_cast<double>(law.model->size()), k = law.parameters;
  law.aicc    = n - k - 1.0 > 0.0 ? -2.0 * law.log_likelihood + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)
                                  : not_given;
  law.bic     = -2.0 * law.log_likelihood + k * std::log(n);
  law.misfits = misfits_of(*law.model, law.best);
  law.elpd_se = standard_error_of_sum(law.elpd_by_edge);
  if (!law.elpd_by_edge.empty()) return law;
  law.elpd = law.difference = law.difference_se = not_given;
  return law;
}

}  // namespace

std::vector<WeighedLaw> weigh(const Scenario& scenario, const std::vector<Reading>& readings,
                              const FitSettings& settings, const std::vector<std::string>& laws, int threads,
                              const std::function<void(std::size_t, std::size_t)>& progress) {
  std::vector<WeighedLaw> out;
  for (const LawFit& law : fit_laws(scenario, readings, settings, laws, threads, progress).laws)
    out.push_back(weighed(law));
  return out;
}

namespace {

/// The laws beside the best, by what the readings say of them.
struct Rivals {
  std::vector<std::string> equal, ruled_out;
  [[nodiscard]] bool       empty() const { return equal.empty() && ruled_out.empty(); }
};

Rivals rivals_of(const std::vector<WeighedLaw>& laws) {
  Rivals out;
  for (std::size_t i = 1; i < laws.size(); ++i) {
    if (laws[i].usable) (laws[i].ruled_out ? out.ruled_out : out.equal).push_back(laws[i].name);
  }
  return out;
}

// where no edge can be left out
std::string headline_of_one_edge(const Rivals& rivals) {
  const std::string start =
      "Only one edge has readings, so no law can be tried on an edge that it has not seen; ";
  if (rivals.ruled_out.empty()) return start + "on this one all of them are possible.";
  return start +
         fmt::format("its own readings are more than 150 times less likely under {} than under the best.",
                     or_list(rivals.ruled_out));
}

// those that have no part in an answer of several; empty where all have
std::string unfitted_of(const std::vector<WeighedLaw>& laws) {
  std::vector<std::string> out;
  for (const WeighedLaw& law : laws) {
    if (!law.usable) out.push_back(law.name);
  }
  if (out.empty() || laws.size() - out.size() < 2) return {};
  return fmt::format(" {} could not be fitted, and {} no part in this.", and_list(out),
                     out.size() == 1 ? "has" : "have");
}

std::string headline_of(const std::vector<WeighedLaw>& laws) {
  const WeighedLaw& best = laws.front();
  if (!best.usable) return "None of the laws could be fitted.";
  if (laws.size() == 1) return best.name + " was fitted alone; name a second law to weigh it against.";
  const Rivals rivals = rivals_of(laws);
  if (rivals.empty())
    return "Only " + best.name + " could be fitted, so there is nothing to weigh it against.";
  if (best.elpd_by_edge.empty()) return headline_of_one_edge(rivals);
  const bool  few = best.elpd_by_edge.size() < 6;
  std::string out = best.name + " predicts edges that it has not seen ";
  if (rivals.equal.empty())
    return out + (few ? "better than the others: each edge is at least 20 times less likely under them."
                      : "better than the others, by more than chance explains.");
  out += "best, but these readings cannot tell it from " + or_list(rivals.equal);
  if (!rivals.ruled_out.empty()) out += "; they speak against " + and_list(rivals.ruled_out);
  return out + ".";
}

// what can be said with so many edges
std::string how_sure(std::size_t edges) {
  const std::string in_turn =
      edges > most_folds
          ? fmt::format("the edges are left out of the fit in {} groups, one after another, and their",
                        most_folds)
          : "each edge in turn is left out of the fit, and its";
  const std::string meaning =
      "AICc and BIC say how well a law fits, less a fine for each of its parameters: smaller is better. elpd says how well it foretells: " +
      in_turn +
      " readings are predicted from all others; larger is better. The weights are those with which the laws together foretell best that the readings do not speak against, where each counts as if one edge had spoken for it alone. ";
  if (edges == 0)
    return meaning + "None of that can be had from one edge, so all possible laws weigh the same.";
  if (edges >= 6)
    return meaning +
           "By chance is how often edges that favour either law alike would favour the best so much; 5 % or more is no evidence, nor is a difference of less than 3, which is odds of 20 to 1 over all edges.";
  const auto one_side = std::size_t{1} << (edges - 1);
  return meaning +
         fmt::format(
             "With {} edges chance alone puts all of them on one side once in {} times, so that no test can tell laws apart: a law counts as refuted only if each edge is at least 20 times less likely under it than under the best.{}",
             edges, one_side,
             edges < few_edges
                 ? " The weights are equal for the laws that are left, since one edge would decide them."
                 : "");
}

// the laws, best first, with all that weighs them
AnswerTable table_of_laws(const std::vector<WeighedLaw>& laws) {
  std::vector<std::string> name, failure;
  const auto               column = [&](auto&& value) {
    std::vector<double> out;
    for (const WeighedLaw& law : laws) out.push_back(law.usable ? value(law) : not_given);
    return out;
  };
  std::vector<double> usable;
  for (const WeighedLaw& law : laws) {
    name.push_back(law.name);
    failure.push_back(law.failure);
    usable.push_back(law.usable ? 1.0 : 0.0);
  }
  AnswerTable table{"laws", "", "law, best first", {}};
  table.text("law", "wear law", "name of the law", name);
  table.number("usable", "1", "", "1 where it could be fitted, 0 where not", usable);
  const auto number = [&](const char* key, const char* head, const char* says, int places, auto&& value) {
    table.number(key, "1", head, says, column(value));
    table.columns.back().places = places;
  };
  using L = WeighedLaw;
  number("parameters", "parameters", "parameters and standard deviations that were fitted", 0,
         [](const L& l) { return static_cast<double>(l.parameters); });
  number("log_likelihood", "log L", "log likelihood at the fit, effects of edges integrated out", 1,
         [](const L& l) { return l.log_likelihood; });
  number("aicc", "AICc", "Akaike's criterion, corrected for few readings; smaller is better", 1,
         [](const L& l) { return l.aicc; });
  number("bic", "BIC", "Schwarz's criterion; smaller is better", 1, [](const L& l) { return l.bic; });
  number("weight", "weight", "how far it is believed in forecasts: the weights together foretell best", 2,
         [](const L& l) { return l.weight; });
  number("elpd", "elpd",
         "log density of the readings of each edge, predicted from all others; larger is better", 1,
         [](const L& l) { return l.elpd; });
  number("elpd_se", "± s.e.", "its standard error", 1, [](const L& l) { return l.elpd_se; });
  number("difference", "below the best", "elpd less that of the best", 1,
         [](const L& l) { return l.difference; });
  number("difference_se", "± s.e.", "standard error of the difference", 1,
         [](const L& l) { return l.difference_se; });
  number("by_chance", "by chance", "how often chance alone would speak so much against it", 3,
         [](const L& l) { return l.elpd_by_edge.empty() ? not_given : l.by_chance; });
  number("ruled_out", "", "1 where the readings speak against it", 0,
         [](const L& l) { return l.ruled_out ? 1.0 : 0.0; });
  table.text("failure", "", "why it could not be fitted", failure);
  return table;
}

// of which campaign the laws are: whether of specimens, whose readings may scatter by micrometres
bool weighs(const std::vector<WeighedLaw>& laws, bool (*of)(const CampaignModel&)) {
  return std::any_of(laws.begin(), laws.end(), [&](const WeighedLaw& law) {
    return law.usable && law.model != nullptr && of(*law.model);
  });
}
bool are_specimens(const CampaignModel& model) { return model.scenario().model.specimen.in_use; }
bool are_additive(const CampaignModel& model) { return model.is_additive(); }

// sentences on edges, said of specimens
std::string of_specimens(std::string text) {
  for (std::size_t at = text.find("edge"); at != std::string::npos; at = text.find("edge", at + 8))
    text.replace(at, 4, "specimen");
  return text;
}

AnswerTable table_of_misfits(const std::vector<WeighedLaw>& laws) {
  std::vector<std::string> of, moment;
  std::vector<double>      count, mean;
  for (const WeighedLaw& law : laws) {
    if (!law.usable) continue;
    for (const Misfit& m : law.misfits) {
      of.push_back(law.name);
      moment.push_back(m.moment);
      count.push_back(m.count);
      mean.push_back(m.mean);
    }
  }
  AnswerTable misfits{"misfits", "Where each law is off", "law and moment, largest first", {}, false};
  misfits.text("law", "", "name of the law", of);
  misfits.text("moment", "", "when the measurements were taken", moment);
  misfits.number("count", "1", "", "measurements there", count);
  if (weighs(laws, &are_additive))
    misfits.number("mean_um", "µm", "", "mean of measured less predicted, luck of the specimens left out",
                   mean);
  else
    misfits.number("mean_log_ratio", "1", "",
                   "mean log of measured over predicted, luck of the edges left out", mean);
  return misfits;
}

}  // namespace

Answer weigh_answer(const std::vector<WeighedLaw>& laws, const std::string& readings) {
  Answer answer;
  answer.kind     = "weigh";
  answer.headline = headline_of(laws) + unfitted_of(laws);
  answer.rests_on = fmt::format("Rests on: {} and the priors of the parameters.", readings);
  answer.tables   = {table_of_laws(laws), table_of_misfits(laws)};
  answer.remark(About::certainty, how_sure(laws.front().elpd_by_edge.size()));
  for (const WeighedLaw& law : laws) {
    if (!law.usable) {
      answer.remarks.push_back(law.name + " could not be fitted: " + law.failure + ".");
      continue;
    }
    std::string text = law.name + " misses most";
    for (std::size_t i = 0; i < std::min<std::size_t>(3, law.misfits.size()); ++i) {
      const Misfit& m = law.misfits[i];
      text += fmt::format("{} {} (measured {} against predicted, {})", i > 0 ? "," : "", m.moment,
                          law.model->is_additive() ? fmt::format("{:+.2g} µm", m.mean)
                                                   : fmt::format("{:+.0f} %", 100.0 * std::expm1(m.mean)),
                          counted(m.count, "measurement"));
    }
    answer.remarks.push_back(text + ".");
  }
  if (!weighs(laws, &are_specimens)) return answer;
  answer.headline = of_specimens(std::move(answer.headline));
  for (std::string& remark : answer.remarks) remark = of_specimens(std::move(remark));
  return answer;
}

}  // namespace arris
