#!/bin/sh
# SPDX-License-Identifier: MIT
# Draws the invented readings of the demonstration (readings.csv) from truth.toml, with noise, edge-to-edge, operator and
# lot scatter; the seed fixes every digit. The laws have changed a little
# since readings.csv was drawn, so that drawing anew changes it. One reading is then spoiled and marked as excluded, as happens in life.
#
#   configs/boatyard/make_readings.sh [PROGRAM]     PROGRAM: build/arris
set -eu
cd -- "$(dirname -- "$0")/../.."
program=${1:-build/arris}
"$program" simulate configs/boatyard/truth.toml --quiet --seed 20811 --operators "K,M" --lots "N-07,N-09" \
  --invent-readings build/readings.csv
awk -F, -v OFS=, '
  $1 == "B1" && $2 == "stropped" && $5 == 2 { $4 = sprintf("%.1f", $4 * 1.7); $8 = "filament slipped"; $9 = "filament slipped in the clamp" }
  { print }' build/readings.csv > configs/boatyard/readings.csv
rm build/readings.csv
