// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes.hpp"

#include "sim/integrate/lanes_run.hpp"

namespace arris {

const lanes::KernelSet* lanes::kernels_of(InstructionSet set) {
  static const InstructionSet best = instruction_sets().back();
#ifdef ARRIS_WITH_LANES
  switch (set == InstructionSet::best ? best : set) {
    case InstructionSet::sse2:
      return &lanes::kernels_sse2();
    case InstructionSet::avx2:
      return &lanes::kernels_avx2();
    case InstructionSet::avx512:
      return &lanes::kernels_avx512();
    case InstructionSet::best:
    case InstructionSet::none:
      break;
  }
#else
  (void)set, (void)best;
#endif
  return nullptr;
}

template void run_batch(HistoryBatch&, const Tolerances&, std::vector<LaneResult>&, InstructionSet);

std::vector<InstructionSet> instruction_sets() {
  std::vector<InstructionSet> out{InstructionSet::none};
#ifdef ARRIS_WITH_LANES
  out.push_back(InstructionSet::sse2);
  if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) {
    out.push_back(InstructionSet::avx2);
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512cd") &&
        __builtin_cpu_supports("avx512bw") && __builtin_cpu_supports("avx512dq") &&
        __builtin_cpu_supports("avx512vl"))
      out.push_back(InstructionSet::avx512);
  }
#endif
  return out;
}

std::string_view name_of(InstructionSet set) {
  switch (set) {
    case InstructionSet::sse2:
      return "SSE2";
    case InstructionSet::avx2:
      return "AVX2";
    case InstructionSet::avx512:
      return "AVX-512";
    case InstructionSet::none:
      return "none";
    case InstructionSet::best:
      break;
  }
  return "best";
}

}  // namespace arris
