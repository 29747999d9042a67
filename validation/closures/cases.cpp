// SPDX-License-Identifier: MIT
#include "validation/closures/cases.hpp"

#include <algorithm>
#include <cmath>

#include "sim/laws/geometry.hpp"
#include "sim/outline/cutting.hpp"
#include "sim/outline/stropping.hpp"

namespace arris::closures {

namespace {

using laws::degree;

struct PadKind {
  const char* name;
  double      modulus_MPa, thickness_um;
};
constexpr PadKind board{"MDF", 122, 12000}, thin_hide{"thin hide", 34.6, 1000},
    thick_hide{"thick hide", 20, 2500}, firm_felt{"firm felt", 8, 3500}, felt{"felt", 3.16, 4500},
    soft_hide{"soft hide", 1.4, 4500};
constexpr std::array<PadKind, 6> pads{board, thin_hide, thick_hide, firm_felt, felt, soft_hide};

// moments at which shapes are compared
const std::vector<double> laps_seen{1, 2, 4, 8, 16, 32, 64, 128, 200};

Row on(const PadKind& pad) {
  Row row;
  row.modulus_MPa        = pad.modulus_MPa;
  row.thickness_um       = pad.thickness_um;
  row.force_N_per_m      = 200;
  row.removal_um_per_MPa = 0.075;
  row.included_deg       = 30;
  row.start_radius_um    = 0.15;
  row.floor_um           = 0.002;
  row.land_um            = 500;
  row.step_angle_deg     = 5;
  return row;
}

void add_step(Case& rows, Row row, const std::vector<double>& laps) {
  row.step = rows.empty() ? 1 : rows.back().step + 1;
  for (double n : laps) {
    row.laps = n;
    rows.push_back(row);
  }
}
void add_wood(Case& rows, const std::vector<double>& paths_m) {
  Row row         = rows.back();
  row.modulus_MPa = row.thickness_um = row.force_N_per_m = row.removal_um_per_MPa = row.laps = 0;
  row.step += 1;
  for (double path_m : paths_m) {
    row.path_m = path_m;
    rows.push_back(row);
  }
}
Case named(Case rows, std::string_view group, const std::string& name) {
  for (Row& row : rows) {
    row.group = group;
    row.name  = name;
  }
  return rows;
}

// The usual case of each pad, with one thing changed.
class OneAtATime {
 public:
  explicit OneAtATime(std::vector<Case>& to) : to_(to) {}

  template <class Change>
  void add(std::string_view group, const char* what, const std::vector<double>& values,
           const Change& change) {
    for (const PadKind& pad : pads) {
      for (double value : values) {
        Row row = on(pad);
        change(row, value);
        const bool off = row.held_deg < 0 && pad.modulus_MPa > 100;
        Case       rows;
        add_step(rows, row, laps_seen);
        to_.push_back(named(std::move(rows), off ? lifted : group,
                            fmt::format("{}, {}", pad.name, fmt::format(fmt::runtime(what), value))));
      }
    }
  }

 private:
  std::vector<Case>& to_;
};

void add_lap_histories(std::vector<Case>& to) {
  OneAtATime each(to);
  each.add("start", "from {} µm", {0.15, 0.05, 0.5}, [](Row& row, double v) { row.start_radius_um = v; });
  each.add("arc kept", "arc of {} µm kept", {0.1, 0.3, 0.6},
           [](Row& row, double v) { row.start_radius_um = row.floor_um = v; });
  each.add("angle", "{}°", {20, 25, 35, 40}, [](Row& row, double v) { row.included_deg = v; });
  each.add("force", "{} N on 50 mm", {5, 20, 30}, [](Row& row, double v) { row.force_N_per_m = v / 0.05; });
  each.add("land", "land {} mm", {0.15, 0.3, 1, 2}, [](Row& row, double v) { row.land_um = 1e3 * v; });
  each.add("land", "whole bevel, {} mm", {1}, [](Row& row, double v) {
    row.land_um        = 1e3 * v;
    row.step_angle_deg = 0;
  });
  each.add("removal", "{} µm/MPa", {0.045, 0.45, 0.75},
           [](Row& row, double v) { row.removal_um_per_MPa = v; });
  each.add("held", "held {}°", {-0.5, 0.5}, [](Row& row, double v) { row.held_deg = v; });
  each.add("scatter", "scatter {}°", {0.25, 0.5, 1}, [](Row& row, double v) { row.scatter_deg = v; });
}

void add_cycles(std::vector<Case>& to) {
  for (const PadKind& pad : pads) {
    Case rows;
    for (int cycle = 0; cycle < 10; ++cycle) {
      add_step(rows, on(pad), {20});
      add_wood(rows, {60});
    }
    to.push_back(named(std::move(rows), "cycles", fmt::format("{}, cycles", pad.name)));
  }
}

void add_wood_histories(std::vector<Case>& to) {
  for (const PadKind& pad : pads) {
    for (double included : {25, 35}) {
      for (double laps : {8, 40}) {
        Row row          = on(pad);
        row.included_deg = included;
        Case rows;
        add_step(rows, row, {laps});
        add_wood(rows, {15, 60, 240});
        to.push_back(named(std::move(rows), "wood",
                           fmt::format("{}, {} laps at {}°, then wood", pad.name, laps, included)));
      }
    }
  }
}

void add_changes(std::vector<Case>& to) {
  struct Change {
    PadKind first, then;
  };
  for (const auto& [first, then] :
       {Change{felt, thin_hide}, Change{felt, thick_hide}, Change{soft_hide, thin_hide},
        Change{soft_hide, felt}, Change{thick_hide, board}, Change{thin_hide, board}, Change{thin_hide, felt},
        Change{board, thick_hide}, Change{board, thin_hide}, Change{thick_hide, soft_hide}}) {
    Case rows;
    add_step(rows, on(first), {20});
    add_step(rows, on(then), {5, 10, 20, 40, 80});
    to.push_back(named(std::move(rows), changes, fmt::format("{}, then {}", first.name, then.name)));
  }
}

void add_unseen(std::vector<Case>& to) {
  struct Several {
    PadKind pad;
    double  newton, included_deg, land_um, removal, scatter_deg;
  };
  for (const Several& s :
       {Several{board, 20, 25, 1000, 0.15, 0.25}, Several{board, 5, 40, 300, 0.03, 0.1},
        Several{thin_hide, 20, 20, 1000, 0.2, 0.5}, Several{thin_hide, 15, 35, 250, 0.05, 0},
        Several{thick_hide, 30, 25, 1500, 0.1, 0}, Several{thick_hide, 5, 35, 200, 0.3, 0.25},
        Several{felt, 15, 25, 800, 0.1, 0}, Several{felt, 5, 35, 300, 0.2, 0.5},
        Several{soft_hide, 5, 25, 1000, 0.15, 0}, Several{soft_hide, 15, 30, 300, 0.05, 0.25}}) {
    Row row                = on(s.pad);
    row.force_N_per_m      = s.newton / 0.05;
    row.included_deg       = s.included_deg;
    row.land_um            = s.land_um;
    row.removal_um_per_MPa = s.removal;
    row.scatter_deg        = s.scatter_deg;
    Case rows;
    add_step(rows, row, laps_seen);
    to.push_back(named(std::move(rows), unseen,
                       fmt::format("{}, {} N on 50 mm, {}°, land {} mm, {} µm/MPa, scatter {}°", s.pad.name,
                                   s.newton, s.included_deg, 1e-3 * s.land_um, s.removal, s.scatter_deg)));
  }
}

// ---- the outline ----

constexpr outline::Mesh mesh{.finest_um        = 0.02,
                             .growth           = 1.15,
                             .widest_um        = 12,
                             .widest_share     = 0.05,
                             .share_of_radius  = 0.2,
                             .share_of_spacing = 0.5};
constexpr int           hands        = 8;
constexpr double        least_arc_um = 0.01;  // below, nothing is rounded

outline::Outline fresh(const Row& row) {
  const bool          whole = !(row.step_angle_deg > 0);
  const outline::Face face{
      .land_um = row.land_um, .step_angle = row.step_angle_deg * degree, .behind_um = whole ? 0.0 : 6000.0};
  return outline::Outline::fresh(row.included_deg * degree, row.start_radius_um, face, mesh);
}

// One hand's history; `see` is called at each row.
template <class See>
void follow(const Case& rows, double first_quantile, const See& see) {
  auto edge = fresh(rows.front());
  for (std::size_t first = 0; first < rows.size();) {
    const Row&          row = rows[first];
    std::vector<double> to;
    for (std::size_t i = first; i < rows.size() && rows[i].step == row.step; ++i)
      to.push_back(row.in_wood() ? rows[i].path_m : rows[i].laps);
    std::size_t at   = first;
    const auto  show = [&](double, const outline::Outline& now) { see(at++, now); };
    if (row.in_wood())
      outline::cut_wood(edge, {.crushing_MPa = maple.crushing_MPa, .parting_N_per_m = maple.parting_N_per_m},
                        maple.wear_um_per_MPa_m, to, show);
    else
      outline::strop(edge, {1e6 * row.modulus_MPa, row.thickness_um},
                     {.force_N_per_m      = row.force_N_per_m,
                      .removal_um_per_MPa = row.removal_um_per_MPa,
                      .steeper            = row.held_deg * degree,
                      .scatter            = row.scatter_deg * degree,
                      .first_quantile     = first_quantile},
                     to, show);
    first += to.size();
  }
}

}  // namespace

std::vector<Case> histories() {
  std::vector<Case> out;
  add_lap_histories(out);
  add_cycles(out);
  add_wood_histories(out);
  add_changes(out);
  add_unseen(out);
  return out;
}

void run_outline(Case& rows) {
  const bool alike =
      std::none_of(rows.begin(), rows.end(), [](const Row& row) { return row.scatter_deg > 0; });
  const int count = alike ? 1 : hands;
  for (int hand = 0; hand < count; ++hand) {
    follow(rows, (hand + 0.5) / count, [&](std::size_t i, outline::Outline now) {
      Row& row = rows[i];
      row.depth_um += now.depth_to_flat_um() / count;  // without the arc
      if (row.floor_um >= least_arc_um) now.round_tip(row.floor_um);
      row.radius_half_um += now.equivalent_radius_um(met_um[0]) / count;
      row.radius_one_um += now.equivalent_radius_um(met_um[1]) / count;
      row.radius_two_um += now.equivalent_radius_um(met_um[2]) / count;
      row.tip_um += now.tip_radius_um() / count;
    });
  }
}

}  // namespace arris::closures
