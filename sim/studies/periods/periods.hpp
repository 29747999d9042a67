// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/forecast/forecast.hpp"

/// This year against last: did readings of the same thing change from one year, month or test day to the next?
///
///     log reading = kind at a moment + period + operator + lot + edge + noise
///
/// by restricted maximum likelihood. Edges are of one kind at a moment where all that was done with them before is the same, on the same
/// tool (read_campaign.hpp). Kinds, periods, operators and filament lots are fixed effects, edges a random one. A period is held against
/// the first one, where kinds, operators and lots that both have in common leave that to be told; a change may be one of the tester, of
/// its filaments, of the hand or of the steel: the readings of a campaign cannot say which.
/// Source: Patterson & Thompson 1971; degrees of freedom after Satterthwaite 1946 (from memory).
namespace arris {

enum class PeriodLength { year, month, day };

/// "years", "months", "days"; throws Error (Exit::usage, "bad-option") for another word.
[[nodiscard]] PeriodLength       period_length(const std::string& word);
[[nodiscard]] const std::string& name_of(PeriodLength length);

/// Readings of one period, held against those of the first.
struct ReadPeriod {
  std::string name;                     ///< "2026", "2026-05", a test day
  int         readings = 0, edges = 0;  ///< that count
  int         kinds = 0;                ///< at a moment, that the first period has too
  Band        ratio{not_given, not_given,
             not_given};  ///< to readings of the same in the first period; 90 % interval
  double      p = not_given;     ///< probability value of no change
  std::string confounded;        ///< why it cannot be told, a sentence; empty where it can
};

struct PeriodComparison {
  PeriodLength            length = PeriodLength::year;
  std::vector<ReadPeriod> periods;  ///< in their order
  std::vector<std::string>
         allowed_for;     ///< "operators", "filament lots": what else differs and is in the model
  int    undated    = 0;  ///< readings that count and have no date
  double edge_sd    = not_given,
         reading_sd = not_given;  ///< standard deviations of the logs; NaN where too little was read
};

/// Throws Error: Exit::data, "no-dates" where no reading has a date, "one-period" where all are of one.
[[nodiscard]] PeriodComparison compare_periods(const Scenario& scenario, const std::vector<Reading>& readings,
                                               PeriodLength length);

/// In sentences and a table. A change of less than `margin` (a share) does not matter.
[[nodiscard]] Answer periods_answer(const PeriodComparison& comparison, double margin);

}  // namespace arris
