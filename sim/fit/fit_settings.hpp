// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "sim/fit/free_parameters.hpp"
#include "sim/laws/field.hpp"

/// `[fit]` and `[prior."PATH"]`: what a fit may change and what it assumes.
namespace arris {

struct EarlierFit;

struct FitSettings {
  std::string noise           = "log-normal";
  double      student_dof     = 4.0;
  bool        edge_effect     = true;
  bool        rate_effect     = true;
  bool        operator_effect = true;
  bool        lot_effect      = true;
  bool        day_effect      = true;
  bool        rules_of_thumb  = true;
  bool        way_effect      = true;
  bool        way_wear_effect = true;
  bool        wood_effect     = true;
  int         starts          = 16;
  int         seed            = 1;
  int         draws           = 4000;
  bool        lone_effects =
      false;  ///< effects of a kind count where there is one of them too: of readings taken out of more

  std::vector<std::string> free;     ///< paths of the free parameters
  std::vector<std::string> laws;     ///< wear laws to fit side by side; one or none: that of the model alone
  std::vector<std::string> derived;  ///< quantities to tell beside them (derived.hpp); empty: the usual ones
  std::map<std::string, Prior> priors;  ///< stated ones, by path

  std::string                       from;     ///< file of an earlier fit; empty: none
  std::vector<std::string>          anew;     ///< what that fit is not to be asked about (without_known)
  std::shared_ptr<const EarlierFit> earlier;  ///< that fit, once it is read (earlier_fit.hpp)

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("noise").says("how measurements scatter: \"log-normal\", or \"student-t\" where some are far out; an uncertainty that a row states is then the scale of its t"), s.noise...);
    v(field("student_dof").between(1, 200).estimate().says("degrees of freedom of student-t noise"), s.student_dof...);
    v(field("edge_effect").says("edges of one history differ, by a factor on the apex"), s.edge_effect...);
    v(field("rate_effect").says("edges of one history wear at rates of their own, by a factor on what the apex grows in wood; counts where edges were read in wood"),
      s.rate_effect...);
    v(field("operator_effect").says("operators differ, by a factor on the reading; counts where readings name two or more"), s.operator_effect...);
    v(field("lot_effect").says("filament lots differ, by a factor on the reading; counts where readings name two or more"),
      s.lot_effect...);
    v(field("day_effect").says("test days differ, by a factor on the reading; counts where readings name two or more"),
      s.day_effect...);
    v(field("rules_of_thumb").says("priors that are not stated heed rules of thumb of the trade together, such as what edges read off common stones"),
      s.rules_of_thumb...);
    v(field("way_effect").says("ways of sharpening (media and strops) leave edges keener or blunter than the model says, by a factor on the apex; counts where edges of two or more were read"),
      s.way_effect...);
    v(field("way_wear_effect").says("edges wear faster or slower by how they were sharpened, by a factor on what the apex grows in wood; counts where edges sharpened in two ways or more were read in wood"),
      s.way_wear_effect...);
    v(field("wood_effect").says("woods wear edges faster or slower than the model says, by a factor on what the apex grows in them; counts where edges were read in two or more"),
      s.wood_effect...);
    v(field("starts").between(1, 10000).says("starting points, the first of them the priors' medians"), s.starts...);
    v(field("seed").between(0, 2e9).says("seed of starting points and draws"), s.seed...);
    v(field("draws").between(0, 1e7).says("posterior draws to keep; 0 for none"), s.draws...);
    v(field("from").optional().says("result of an earlier fit (HDF5), whose posterior is the prior of this one, for fit, weigh and plan"), s.from...);
    // clang-format on
  }
};

}  // namespace arris
