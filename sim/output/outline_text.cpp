// SPDX-License-Identifier: MIT
#include "sim/output/outline_text.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/history/steps.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/output/terminal.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

/// What the outline reads more than the reduced law, over that.
double outline_excess(const OutlinePoint& p) { return p.outline.reading_N / p.reduced.reading_N - 1.0; }

/// The step after which the two are farthest apart.
struct Farthest {
  const FollowedEdge* edge   = nullptr;
  std::size_t         step   = 0;
  double              excess = 0.0;

  [[nodiscard]] bool trusted() const { return std::abs(excess) <= trusted_apart; }
};

Farthest farthest_of(const FollowedEdge& edge) {
  Farthest f{&edge, 0, 0.0};
  for (std::size_t i = 0; i < edge.history.steps.size(); ++i) {
    const double excess = outline_excess(edge.history.steps[i].back());
    if (std::abs(excess) > std::abs(f.excess)) f = {&edge, i, excess};
  }
  return f;
}

/// "edge A1, step 8, cut teak: 110 gf in the place of 141 gf".
std::string where(const Farthest& f) {
  const Step&         step = f.edge->plan->steps[f.step];
  const OutlinePoint& p    = f.edge->history.steps[f.step].back();
  return fmt::format("edge {}, step {}, {}: {} gf in the place of {} gf", f.edge->plan->name, f.step + 1,
                     step_said(verb_of(step), subject_of(step)),
                     short_number(laws::in_gram_force(p.outline.reading_N)),
                     short_number(laws::in_gram_force(p.reduced.reading_N)));
}

/// "edge A1", "edges A1 and A2", "9 edges".
std::string edges_named(const std::vector<const FollowedEdge*>& edges) {
  constexpr std::size_t named = 6;
  if (edges.size() > named) return counted(static_cast<long long>(edges.size()), "edge");
  std::vector<std::string> names;
  for (const FollowedEdge* e : edges) names.push_back(e->plan->name);
  return (names.size() == 1 ? "edge " : "edges ") + and_list(names);
}

/// The first sentence.
std::string trust(const std::vector<FollowedEdge>& edges) {
  std::vector<const FollowedEdge*> near, far;
  Farthest                         worst;
  for (const FollowedEdge& e : edges) {
    if (!e.history.status.usable()) continue;
    const Farthest f = farthest_of(e);
    (f.trusted() ? near : far).push_back(&e);
    if (worst.edge == nullptr || std::abs(f.excess) > std::abs(worst.excess)) worst = f;
  }
  if (worst.edge == nullptr) return "No edge could be followed by its outline; see below.";
  if (far.empty())
    return fmt::format(
        "By its outline {} {} within {} of what the reduced law says, after every step: trust the reduced law for {}.",
        edges_named(near), near.size() == 1 ? "reads" : "read",
        percent(std::max(0.001, std::abs(worst.excess))),
        near.size() == 1 ? "this history" : "these histories");
  std::string text =
      fmt::format("By its outline the edge reads up to {} {} than by the reduced law ({}): ",
                  percent(std::abs(worst.excess)), worst.excess < 0.0 ? "less" : "more", where(worst));
  if (!near.empty()) text += fmt::format("trust the reduced law for {}, and ", edges_named(near));
  return text + fmt::format("claim less for {}, in the steps that are marked.", edges_named(far));
}

}  // namespace

std::string outline_answer(const std::vector<FollowedEdge>& edges) {
  int  points  = 0;
  long presses = 0;
  for (const FollowedEdge& e : edges) {
    points = std::max(points, e.history.points);
    presses += e.history.presses;
  }
  std::string text =
      trust(edges) + fmt::format(" An outline has up to {} on a face", counted(points, "point"));
  if (presses > 0) text += fmt::format(" and was pressed on pads {}", counted(presses, "time"));
  return text + "; scratches, burr and chips are those of the reduced law.";
}

std::string outline_table(const FollowedEdge& edge) {
  TextTable table({"", "step", "count", "gf", "outline gf", "ratio", "radius µm", "outline µm", "to flat µm",
                   "outline µm", ""},
                  {true, false, true, true, true, true, true, true, true, true, false});
  for (std::size_t i = 0; i < edge.history.steps.size(); ++i) {
    const Step& step = edge.plan->steps[i];
    if (std::holds_alternative<DressStep>(step)) continue;
    const OutlinePoint& p      = edge.history.steps[i].back();
    const bool          counts = !std::holds_alternative<ReadStep>(step);
    table.add({std::to_string(i + 1), step_said(verb_of(step), subject_of(step)),
               counts ? decimals(p.count) : "", decimals(laws::in_gram_force(p.reduced.reading_N)),
               decimals(laws::in_gram_force(p.outline.reading_N)), decimals(1.0 + outline_excess(p), 2),
               digits(p.reduced.met_radius_um), digits(p.outline.met_radius_um),
               digits(p.reduced.depth_to_flat_um, 2), digits(p.outline.depth_to_flat_um, 2),
               std::abs(outline_excess(p)) <= trusted_apart ? "" : "claim less"});
  }
  std::string out =
      wrapped(fmt::format("Edge {}, by the reduced law and beside it by its outline", edge.plan->name)) +
      table.text(2);
  if (!edge.history.message.empty()) out += wrapped("Stopped: " + edge.history.message, text_width(), 2);
  return out;
}

}  // namespace arris
