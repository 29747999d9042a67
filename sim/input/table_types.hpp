// SPDX-License-Identifier: MIT
#pragma once

#include <type_traits>

#include "sim/fit/fit_settings.hpp"
#include "sim/history/computer.hpp"
#include "sim/history/materials.hpp"
#include "sim/history/scenario.hpp"
#include "sim/input/given_fields.hpp"
#include "sim/studies/workshop.hpp"

/// The tables of a configuration and the steps of a history, each as a type with its `fields`: what bindings make objects and
/// controls of.
namespace arris {

/// Calls visit(class name, kind of table, one sentence, defaults) for each of them; the kind of a step is "step".
template <class Visit>
void for_each_table_type(Visit&& visit) {
  // clang-format off
  visit("Steel",        "steel",        "A steel.",                                                        Steel<double>{});
  visit("Family",       "family",       "What media of one kind have in common, whatever their grit.",     Family<double>{});
  visit("Medium",       "medium",       "An abrasive medium: a family at one grit.",                       Medium<double>{});
  visit("Backing",      "backing",      "What a strop or film lies on.",                                   Backing<double>{});
  visit("Compound",     "compound",     "What a strop is charged with.",                                   Compound<double>{});
  visit("Wood",         "wood",         "A wood.",                                                         Wood<double>{});
  visit("Filament",     "filament",     "A filament of the tester.",                                       Filament<double>{});
  visit("Tool",         "tool",         "A blade as it is before the history begins.",                     Tool<double>{});
  visit("Specimen",     "specimen",     "What specimens wear by, and how that is read.",                   Specimen<double>{});
  visit("Counterface",  "counterface",  "What specimens wear on.",                                         Counterface<double>{});
  visit("Tester",       "tester",       "The tester: force to part a filament on an edge.",                Tester<double>{});
  visit("Scatter",      "scatter",      "How readings and edges scatter.",                                 Scatter<double>{});
  visit("Coefficients", "coefficients", "Coefficients of the laws that belong to no material.",            Coefficients<double>{});
  visit("Numerics",     "numerics",     "How finely histories are integrated.",                            Numerics{});
  visit("Output",       "output",       "What is recorded.",                                               Output{});
  visit("Computer",     "computer",     "How much of the computer one run may take.",                      Computer{});
  visit("Fit",          "fit",          "What a fit assumes.",                                             FitSettings{});
  visit("Workshop",     "workshop",     "How fast people work, and what an hour and a grinding cost.",     Pace{});
  visit("Price",        "price",        "What a medium, backing or compound costs and takes to keep.",     Price{});
  visit("Limit",        "limit",        "The reading at which an edge is too dull for a task.",            Limit{});
  visit("hone",         "step",         "Step: hone the bevel on a rigid medium.",                         HoneStep{});
  visit("back",         "step",         "Step: hone the back, which takes the burr off.",                  BackStep{});
  visit("strop",        "step",         "Step: strop on a compliant backing.",                             StropStep{});
  visit("cut",          "step",         "Step: cut wood.",                                                 CutStep{});
  visit("wears",        "step",         "Step: a specimen wears on a counterface.",                        WearStep{});
  visit("read",         "step",         "Step: read the edge on the tester.",                              ReadStep{});
  visit("dress",        "step",         "Step: dress a medium, so that it cuts as when new.",              DressStep{});
  // clang-format on
}

/// The fields of one of these tables as data. `Put` is called with the field and its default: a number, a text, whether, or
/// nothing (nullptr) where it has no default.
template <class S, class Put>
void for_each_default(const S& defaults, Put&& put) {
  S::fields(
      [&]<class M>(const Field& field, const M& member) {
        const char* const type = std::is_same_v<M, double> ? "float"
                                 : std::is_same_v<M, int>  ? "int"
                                 : std::is_same_v<M, bool> ? "bool"
                                                           : "str";
        if (is_given(member)) {
          put(field, type, member);
        } else {
          put(field, type, nullptr);
        }
      },
      defaults);
}

}  // namespace arris
