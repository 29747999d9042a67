// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "sim/laws/field.hpp"

/// The steps of a history, as a tool goes through them. Each is one inline table in a list of steps; its first key
/// says what is done and names what it is done with: `{ hone = "soft waterstone, JIS #1000", strokes = 20 }`.
/// Steps are events: nothing is smoothed over their borders. The indices point into the model that loaded them.
namespace arris {

/// Usual forces in N per mm of edge, where a step gives none: estimates, alike for a narrow chisel and a wide iron.
namespace usual_force {
inline constexpr double honing    = 0.4;
inline constexpr double back      = 0.3;
inline constexpr double stropping = 0.2;
}  // namespace usual_force

/// Honing the bevel on a rigid medium.
struct HoneStep {
  static constexpr const char* verb = "hone";
  std::string                  hone;
  double                       strokes           = not_given;
  bool                         after_burr        = false;
  double                       max_strokes       = 2000.0;
  double                       force_N           = not_given;
  double                       stroke_mm         = 100.0;
  double                       angle_scatter_deg = 0.0;
  std::string                  note;
  int                          medium = -1;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("hone").says("medium under the bevel"), s.hone...);
    v(field("strokes").between(0, 1e6).says("number of strokes"), s.strokes...);
    v(field("after_burr").says("count the strokes from when a burr has been raised; where half of the edge has one, a stroke counts half"), s.after_burr...);
    v(field("max_strokes").between(1, 1e6).says("give up raising a burr after so many strokes"), s.max_strokes...);
    v(field("force_N").between(0.1, 500).derived().rests_on("estimate, 0.4 N per mm of edge").says("force on the blade"),
      s.force_N...);
    v(field("stroke_mm").between(1, 1000).estimate().says("length of a stroke"), s.stroke_mm...);
    v(field("angle_scatter_deg").between(0, 5).estimate()
          .says("standard deviation of the angle from stroke to stroke: 0 with a guide, 0.5 to 1 by hand"),
      s.angle_scatter_deg...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// Honing the back: takes the burr off, touches the back face.
struct BackStep {
  static constexpr const char* verb = "back";
  std::string                  back;
  double                       strokes   = not_given;
  double                       force_N   = not_given;
  double                       stroke_mm = 60.0;
  std::string                  note;
  int                          medium = -1;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("back").says("medium under the back"), s.back...);
    v(field("strokes").between(0, 1e6).says("number of strokes"), s.strokes...);
    v(field("force_N").between(0.1, 500).derived().rests_on("estimate, 0.3 N per mm of edge").says("force on the blade"),
      s.force_N...);
    v(field("stroke_mm").between(1, 1000).estimate().says("length of a stroke"), s.stroke_mm...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// Stropping on a compliant backing.
struct StropStep {
  static constexpr const char* verb = "strop";
  std::string                  strop;
  std::string                  compound          = "none";
  double                       laps              = not_given;
  double                       force_N           = not_given;
  double                       stroke_mm         = 200.0;
  double                       angle_offset_deg  = 0.0;
  double                       angle_scatter_deg = 0.25;
  std::string                  note;
  int                          backing        = -1;
  int                          compound_index = -1;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("strop").says("backing of the strop"), s.strop...);
    v(field("compound").says("what the strop is charged with"), s.compound...);
    v(field("laps").between(0, 1e6).says("number of laps"), s.laps...);
    v(field("force_N").between(0.1, 500).derived().rests_on("estimate, 0.2 N per mm of edge").says("force on the blade"),
      s.force_N...);
    v(field("stroke_mm").between(1, 2000).estimate().says("length of a lap"), s.stroke_mm...);
    v(field("angle_offset_deg").between(-5, 5).estimate()
          .says("how much steeper than the micro-bevel the blade is held; below 0: lower"), s.angle_offset_deg...);
    v(field("angle_scatter_deg").between(0, 5).estimate()
          .says("standard deviation of the angle from lap to lap"), s.angle_scatter_deg...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// Cutting wood.
struct CutStep {
  static constexpr const char* verb = "cut";
  std::string                  cut;
  double                       passes     = not_given;
  double                       pass_m     = 0.6;
  double                       shaving_um = not_given;
  std::string                  note;
  int                          wood   = -1;         ///< index into the woods, or counterfaces
  double                       load_N = not_given;  ///< on a specimen
  std::string per;  ///< what the passes of a specimen are: metre, minute or pass; empty: an edge in wood

  [[nodiscard]] bool wears_specimen() const { return !per.empty(); }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("cut").says("wood"), s.cut...);
    v(field("passes").between(0, 1e7).says("number of passes"), s.passes...);
    v(field("pass_m").between(0.001, 100).estimate().says("path in the wood per pass, the length planed"),
      s.pass_m...);
    v(field("shaving_um").between(0.1, 10000).optional().says("thickness of the shaving"), s.shaving_um...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// Reading the edge on the tester.
/// A specimen wears (specimen.hpp). A history has it as a cut, each pass of which is what `per` says, and a metre of path.
struct WearStep {
  static constexpr const char* verb = "wear";
  std::string                  wear;
  double                       metres  = not_given;
  double                       minutes = not_given;
  double                       passes  = not_given;
  double                       load_N  = not_given;
  std::string                  note;

  /// Which of the three ways counts, by what a specimen's `per` says.
  [[nodiscard]] double WearStep::*way(std::string_view per) const {
    return per == "minute" ? &WearStep::minutes : per == "pass" ? &WearStep::passes : &WearStep::metres;
  }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("wear").says("counterface that a specimen wears on"), s.wear...);
    v(field("metres").between(0, 1e9).optional().says("way that it slides or cuts, where [specimen] per = \"metre\""), s.metres...);
    v(field("minutes").between(0, 1e9).optional().says("time that it wears, where per = \"minute\""), s.minutes...);
    v(field("passes").between(0, 1e9).optional().says("passes that it makes, where per = \"pass\""), s.passes...);
    v(field("load_N").between(1e-6, 1e6).optional().says("load on the specimen; the reference load where it is left out"), s.load_N...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// The step as a history has it, and back.
[[nodiscard]] inline CutStep as_cut(const WearStep& step, const std::string& per) {
  CutStep cut;
  cut.cut    = step.wear;
  cut.passes = step.*step.way(per);
  cut.pass_m = 1.0;
  cut.note   = step.note;
  cut.load_N = step.load_N;
  cut.per    = per;
  return cut;
}
[[nodiscard]] inline WearStep as_wear(const CutStep& cut) {
  WearStep step;
  step.wear               = cut.cut;
  step.*step.way(cut.per) = cut.passes;
  step.load_N             = cut.load_N;
  step.note               = cut.note;
  return step;
}

struct ReadStep {
  static constexpr const char* verb = "read";
  std::string                  read;
  int                          replicates = 1;
  std::string                  note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("read").says("name of this moment, as the readings file calls it"), s.read...);
    v(field("replicates").between(1, 1000).says("readings taken"), s.replicates...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// Dressing a medium: its surface is fresh again.
struct DressStep {
  static constexpr const char* verb = "dress";
  std::string                  dress;
  std::string                  note;
  int                          medium = -1;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("dress").says("medium that is dressed"), s.dress...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

using Step = std::variant<HoneStep, BackStep, StropStep, CutStep, ReadStep, DressStep>;

/// One edge: a tool and what is done with it, in order.
struct EdgePlan {
  std::string       name;
  std::string       tool_name;
  std::string       route;  ///< route it follows first, empty when it follows none
  std::string       code;   ///< under which a run sheet hides its name, may be empty
  int               tool        = -1;
  int               route_steps = 0;  ///< how many of its first steps are those of the route
  std::vector<Step> steps;
};

[[nodiscard]] inline const char* verb_of(const Step& step) {
  if (const auto* cut = std::get_if<CutStep>(&step); cut != nullptr && cut->wears_specimen())
    return WearStep::verb;
  return std::visit([](const auto& s) { return s.verb; }, step);
}

/// Strokes, laps or passes of a step; 0 for a reading or a dressing.
[[nodiscard]] inline double count_of(const Step& step) {
  struct Count {
    double operator()(const HoneStep& s) const { return s.strokes; }
    double operator()(const BackStep& s) const { return s.strokes; }
    double operator()(const StropStep& s) const { return s.laps; }
    double operator()(const CutStep& s) const { return s.passes; }
    double operator()(const ReadStep&) const { return 0.0; }
    double operator()(const DressStep&) const { return 0.0; }
  };
  return std::visit(Count{}, step);
}

/// What a step works with: the medium, backing, wood, or the name of a reading.
[[nodiscard]] inline const std::string& subject_of(const Step& step) {
  struct Subject {
    const std::string& operator()(const HoneStep& s) const { return s.hone; }
    const std::string& operator()(const BackStep& s) const { return s.back; }
    const std::string& operator()(const StropStep& s) const { return s.strop; }
    const std::string& operator()(const CutStep& s) const { return s.cut; }
    const std::string& operator()(const ReadStep& s) const { return s.read; }
    const std::string& operator()(const DressStep& s) const { return s.dress; }
  };
  return std::visit(Subject{}, step);
}

}  // namespace arris
