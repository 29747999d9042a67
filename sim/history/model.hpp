// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "sim/history/materials.hpp"
#include "sim/history/specimen.hpp"
#include "sim/history/tables.hpp"
#include "sim/laws/convert_table.hpp"
#include "sim/laws/tester.hpp"
#include "sim/laws/wear/held_law.hpp"

/// All numbers that an integration reads, over the number type T, and nothing else: no files, no positions.
namespace arris {

template <class T>
struct Model {
  Coefficients<T>          coefficients;
  laws::HeldWearLaw<T>     wear;
  Tester<T>                tester;
  Scatter<T>               scatter;
  std::vector<Steel<T>>    steels;
  std::vector<Medium<T>>   media;
  std::vector<Backing<T>>  backings;
  std::vector<Compound<T>> compounds;
  std::vector<Wood<T>>     woods;
  std::vector<Tool<T>>     tools;
  std::vector<int>         steel_of_tool;  ///< index into `steels`, one per tool
  /// Where specimens wear instead of edges. Tools, the steel and the tester are then stand-ins without a part in any number: a reading in
  /// newtons is wear in micrometres, a pass a metre, minute or pass of its own (`per`).
  Specimen<T>                 specimen;
  std::vector<Counterface<T>> counterfaces;
};

/// The tables of a model that hold several entries, with the name each has in a configuration.
/// `each(kind, vector)` is called once per table; pass several models to see the same table of each.
template <class F, class... M>
void for_each_table(F&& each, M&... models) {
  each("steel", models.steels...);
  each("medium", models.media...);
  each("backing", models.backings...);
  each("compound", models.compounds...);
  each("wood", models.woods...);
  each("tool", models.tools...);
  each("counterface", models.counterfaces...);
}

/// Calls `visit(path, field, number)` for every number of a model, in a fixed order; the path is the one a user writes,
/// such as "coefficients.dub_share", "tester.slope_N_per_um" or "wood.white oak.extractive_factor". Of specimens those alone that
/// act on them.
template <class T, class F>
void for_each_number(Model<T>& model, F&& visit) {
  const auto numbers_of = [&](const std::string& prefix, auto& table) {
    std::remove_reference_t<decltype(table)>::fields(
        [&](const Field& f, auto& member) {
          if constexpr (std::is_same_v<std::remove_reference_t<decltype(member)>, T>) {
            visit(prefix + std::string(f.key), f, member);
          }
        },
        table);
  };
  const bool blades = !model.specimen.in_use, built_in = model.wear.formula() == nullptr;
  if (blades) numbers_of("coefficients.", model.coefficients);
  model.wear.for_each_number([&](const Field& f, T& number) {
    visit("wear." + std::string(f.key), built_in ? wear_field(f, model.specimen) : f, number);
  });
  if (blades)
    numbers_of("tester.", model.tester);
  else
    numbers_of("specimen.", model.specimen);
  numbers_of("scatter.", model.scatter);
  for_each_table(
      [&](const char* kind, auto& table) {
        if (!blades && std::string_view(kind) != "counterface") return;
        for (auto& entry : table) numbers_of(std::string(kind) + "." + entry.name + ".", entry);
      },
      model);
}

/// The tester as the model has it.
template <class T>
[[nodiscard]] laws::TesterLaw<T> tester_law(const Tester<T>& t) {
  return {t.cut_resistance_N, t.slope_N_per_um, t.saturation_N, t.burr_share, t.wedge_share};
}

/// The same model over another number type; derivatives, if To has them, start at zero.
template <class To, class From>
[[nodiscard]] Model<To> convert(const Model<From>& from) {
  Model<To> to;
  to.coefficients = detail::convert_table<Coefficients<To>>(from.coefficients);
  to.tester       = detail::convert_table<Tester<To>>(from.tester);
  to.scatter      = detail::convert_table<Scatter<To>>(from.scatter);
  to.wear.take_over(from.wear);
  for_each_table(
      [](const char*, auto& target, const auto& source) {
        using Item = typename std::remove_reference_t<decltype(target)>::value_type;
        for (const auto& entry : source) target.push_back(detail::convert_table<Item>(entry));
      },
      to, from);
  to.steel_of_tool   = from.steel_of_tool;
  to.specimen        = detail::convert_table<Specimen<To>>(from.specimen);
  to.specimen.in_use = from.specimen.in_use;
  return to;
}

}  // namespace arris
