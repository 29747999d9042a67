// SPDX-License-Identifier: MIT
#include "sim/cli/options.hpp"

#include <algorithm>
#include <deque>
#include <map>
#include <stdexcept>
#include <string_view>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/diagnostic.hpp"
#include "sim/input/document.hpp"
#include "sim/output/provenance.hpp"
#include "sim/wording.hpp"

namespace arris::cli {
namespace {

// clang-format off
// each option on a line of its own

constexpr Option csv_option     {"csv", 0, "FILE", "write its first table as CSV; - is standard output", Completes::files};
constexpr Option json_option    {"json", 0, "FILE", "write all of it as JSON; - is standard output", Completes::files};
constexpr Option threads_option {"threads", 't', "N", "threads to use; 0 is all cores (0)"};
constexpr Option confined_option{"confined", 0, "", "the configuration may read no file outside its folder: for one that came from elsewhere"};
constexpr Option quiet_option   {"quiet", 'q', "", "print nothing but errors"};

// the options of a command of its own, then those of every command that answers a question
std::vector<Option> with_answer_options(std::vector<Option> own) {
  own.insert(own.end(), {{"out", 'o', "FILE", "write the answer as HDF5", Completes::files},
                         csv_option, json_option, threads_option, confined_option, quiet_option});
  return own;
}

// the same for a command that runs many models until their edges are dull
std::vector<Option> with_life_options(std::vector<Option> own) {
  own.insert(own.end(), {{"passes", 'p', "N", "passes to look ahead (5000)"},
                         {"fit", 'f', "FILE", "HDF5 file of a fit with draws; without it parameters vary over their priors", Completes::files},
                         {"members", 'm', "N", "members of the ensemble; 1 without a fit is the configuration itself (1000)"},
                         {"seed", 0, "N", "seed of draws and next edges (1)"}});
  return with_answer_options(std::move(own));
}

// ---- the rows of the table ----

Command simulate_command() {
  return {"simulate", &simulate,
          "what every step of a history does to an edge",
          "Runs every edge of a configuration through its steps and prints the apex radius, scratches, burr, land and the reading of the tester after each. Where the configuration names a file of readings, measured stands beside predicted.",
          {{"FILE", true, "configuration", Completes::files}},
          {{"out", 'o', "FILE", "write the result as HDF5", Completes::files},
           {"csv", 0, "FILE", "write the curves as CSV; - is standard output", Completes::files},
           {"json", 0, "FILE", "write everything as JSON; - is standard output", Completes::files},
           {"edge", 'e', "NAME", "print the steps of this edge only; several with commas between them"},
           {"brief", 'b', "", "leave the steps of each edge out"},
           {"fit", 0, "FILE", "simulate at the best values of this fit, made by arris fit --draws --out FILE", Completes::files},
           {"invent-readings", 0, "FILE", "write invented readings of every read step, with the scatter that the configuration states", Completes::files},
           {"seed", 0, "N", "seed of invented readings (1)"},
           {"operators", 0, "NAMES", "who takes invented readings, with commas between them (A,B)"},
           {"lots", 0, "NAMES", "filament lots of invented readings, with commas between them (lot 1,lot 2)"},
           threads_option, confined_option, quiet_option}};
}

Command fit_command() {
  return {"fit", &fit,
          "parameters from readings",
          "Tunes parameters of the model to the readings that a configuration names, by Levenberg-Marquardt from several starts, with exact derivatives, the scatter of readings and edges estimated along with them. Says which combinations the readings do not determine, and what measurement would. Parameters are those of [fit] free, of --free, or the usual ones.",
          {{"FILE", true, "configuration that names readings", Completes::files}},
          {{"out", 'o', "FILE", "write parameters, covariance, profiles, draws and residuals as HDF5", Completes::files},
           {"fitted", 'f', "FILE", "write a configuration with the fitted values", Completes::files},
           {"residuals", 0, "FILE", "write every measurement beside its prediction as CSV; - is standard output", Completes::files},
           {"json", 0, "FILE", "write the result as JSON; - is standard output", Completes::files},
           {"sensitivities", 0, "FILE", "write as CSV by how much each measurement moves with each parameter that has a prior, and stop; - is standard output", Completes::files},
           {"free", 0, "PATHS", "parameters to free, with commas between them"},
           {"starts", 0, "N", "starting points (that of the configuration, or 16)"},
           {"draws", 0, "N", "posterior draws to keep (0)"},
           {"seed", 0, "N", "seed of starts and draws (that of the configuration, or 1)"},
           {"no-profiles", 0, "", "leave profile intervals out"},
           {"full", 0, "", "tell effects, starts and the farthest readings too"},
           {"check-gradient", 0, "", "compare exact derivatives with differences, and stop"},
           threads_option, confined_option, quiet_option}};
}

Command weigh_command() {
  return {"weigh", &weigh,
          "rival wear laws against readings",
          "Fits each wear law to the readings that a configuration names and tells the evidence: AICc, BIC, the density of edges left out of the fit, and where each law misses. With --forward it scores forecasts instead: of each edge in turn what it read later is held back, foretold from its first readings and all other edges, and counted against the bands.",
          {{"FILE", true, "configuration that names readings", Completes::files}},
          with_answer_options({
              {"law", 'l', "NAMES", "wear laws to weigh, with commas between them or one by one (all)", Completes::nothing, true},
              {"starts", 0, "N", "starting points for each law (4)"},
              {"forward", 0, "K", "instead, score forecasts: hold back what each edge read after the first K moments since it was sharpened, and count how much of it lies in the bands of forecast --from-now; under all laws together, or that of the configuration, unless --law names some"},
              {"members", 'm', "N", "versions of the model in each forecast of --forward (400)"}})};
}

Command forecast_command() {
  return {"forecast", &forecast,
          "how many passes an edge lasts",
          "Tells after how many passes, metres and hours each edge reads more than a limit, for the mean edge and for the next one, from an ensemble of models: the draws of a fit, or draws from the priors. Each edge is sharpened by its steps up to its first cut and then goes on in that wood.",
          {{"FILE", true, "configuration", Completes::files}},
          with_life_options({
              {"edge", 'e', "NAME", "these edges only, with commas between them"},
              {"limit", 'l', "TASK", "reading that ends the life: a task such as \"shaving hair\" (arris materials limit lists them), gram-force or newtons (\"1.8 N\"); with --from-now a length too: \"0.6 µm radius\", \"5 µm recession\""},
              {"from-now", 0, "", "the one edge named by --edge as it is: passes left after its last reading, by its own readings, and what it will read next"}})};
}

Command compare_command() {
  return {"compare", &compare,
          "ways of sharpening side by side",
          "Runs every way of sharpening of a configuration (the steps of an edge before its first cut) on one tool and in one wood: reading and radius step by step, how surely one is sharper or lasts longer, strokes, minutes, steel, blade and money, and from prices what a year costs, which materials are worth keeping and whether a strop is worth its price. Where the configuration names readings it says whether routes differ in them, and what difference so many edges could have shown. With --between it sets years, months or test days against one another.",
          {{"FILE", true, "configuration", Completes::files}},
          with_life_options({
              {"edge", 'e', "NAMES", "the ways of these edges only, with commas between them; the first is the one to compare with"},
              {"tool", 0, "NAME", "tool on which all are run (that of most edges; without it, edges that are all sharpened alike are compared by their tools)"},
              {"margin", 0, "PCT", "difference of readings that does not matter, per cent (10)"},
              {"between", 0, "LENGTH", "years, months or days: instead of ways, whether readings of the same changed from one to the next; of the options, --margin alone counts then"},
              {"sharpenings", 0, "N", "sharpenings a year, for what a year costs (sharpenings_per_year of [workshop])"},
              {"limit", 'l', "TASK", "reading that ends the life: a task, or gram-force"}})};
}

Command upkeep_command() {
  return {"upkeep", &upkeep,
          "the cheapest routine of stropping, honing and grinding",
          "Finds how many passes to work between two stroppings, how often to hone instead, and when to grind anew, so that the reading stays within a limit at the least time, money or steel. What stands before the first cut of an edge is its honing, the first strop steps after it are its stropping (or else the last strop step before it), and the first cut is its work. Pace and prices are those of [workshop] and [price.NAME].",
          {{"FILE", true, "configuration", Completes::files}},
          with_answer_options({
              {"edge", 'e', "NAME", "the edge (the first that cuts wood)"},
              {"limit", 'l', "TASK", "how dull it may get: a task such as \"bench work\", or a reading in gf (reading_limit_gf)"},
              {"share", 's', "PCT", "share of the passes that are to be within the limit (100)"},
              {"least", 0, "WHAT", "what is to be least: time, money, steel or mix (time)"},
              {"minutes-per-mm", 0, "N", "for the mix: how many minutes of upkeep a millimetre of blade is worth"},
              {"stroppings", 0, "N", "most stroppings between two honings (10)"},
              {"sharpenings", 0, "N", "honings a year, for what a year costs (sharpenings_per_year of [workshop])"},
              {"fit", 0, "FILE", "posterior draws of arris fit --draws --out FILE, to tell how sure it is", Completes::files},
              {"members", 0, "N", "versions of the model, from the fit or the priors, that try the routine; 0 for none (200)"},
              {"seed", 0, "N", "seed of versions drawn from the priors (that of the configuration, or 1)"}})};
}

Command readings_command() {
  return {"readings", &readings,
          "what was read, before any model",
          "Sets the readings that a configuration names side by side: geometric means of edges with which all was done alike, moment by moment, every reading of every edge, which ways can be told apart (90 % intervals from how far edges of one way differ), edges that stand apart, edges that read less after work in wood than before. With --fit the best values of a fit stand beside them.",
          {{"FILE", true, "configuration that names readings", Completes::files}},
          with_answer_options({
              {"fit", 0, "FILE", "set what this fit says beside them, made by arris fit --draws --out FILE", Completes::files}})};
}

Command plan_command() {
  return {"plan", &plan,
          "the experiment to do next",
          "Says how many edges and readings tell routes or edges apart, at which passes and laps readings teach most, what would still be open afterwards and what would settle it. Writes a run sheet: "
          "blank readings in random order, in blocks by operator and filament lot, under codes that hide what was done to an edge; and beside it, ending in .toml, the configuration with those edges, which arris fit takes once the sheet is filled in. Scatter and uncertainty are those of --fit, else of the readings that the configuration names, else of its priors.",
          {{"FILE", true, "configuration", Completes::files}},
          with_answer_options({
              {"difference", 'd', "PCT", "difference of readings to find, per cent (10)"},
              {"power", 'p', "P", "chance to find it (0.9)"},
              {"groups", 'g', "NAMES", "routes or edges to tell apart, with commas between them (all routes; an edge of each way of sharpening where none is followed)"},
              {"sheet", 's', "FILE", "write the run sheet FILE.csv, and the configuration FILE.toml that belongs to it", Completes::files},
              {"paper", 0, "FILE", "print as PDF: labels with codes, the run sheet with boxes to write in, its key, and each route for the wall", Completes::files},
              {"edges", 0, "N", "edges per group (as many as are needed)"},
              {"replicates", 0, "N", "readings of each edge at each moment (as many as are needed)"},
              {"moments", 0, "N", "moments at which each edge is read (3)"},
              {"at", 0, "WHAT", "choose among passes or among laps only (both)"},
              {"fit", 0, "FILE", "draws and scatter of an earlier fit, written by arris fit --draws N --out FILE", Completes::files},
              {"operators", 0, "NAMES", "who reads, with commas between them (those of the readings, or A)"},
              {"lots", 0, "NAMES", "filament lots, with commas between them (those of the readings, or lot 1)"},
              {"spare", 0, "PCT", "spare filaments, per cent (10)"},
              {"false-alarm", 0, "P", "chance to find a difference where there is none (0.05)"},
              {"seed", 0, "N", "seed of order, codes and simulated experiments (1)"}})};
}

Command gauge_command() {
  return {"gauge", &gauge,
          "the tester itself, judged from readings",
          "Tells from readings how far the tester repeats and how far operators differ (crossed analysis of variance, or restricted maximum likelihood where edges were not read equally often), drift, differences of filament lots, bias against a reference edge, outliers, and how many readings make a mean good enough for a stated difference. No model of the edge is used. FILE is a configuration that names readings, or a .csv file with columns part, operator, replicate and reading_gf or reading_N, one row for each reading in the order taken.",
          {{"FILE", true, "configuration that names readings, or readings as CSV", Completes::files}},
          with_answer_options({
              {"difference", 'd', "PCT", "difference between two edges that is to be told apart, in percent (10)"},
              {"reference", 0, "EDGE", "edge whose true reading is known; with several moments: \"EDGE, MOMENT\""},
              {"value", 0, "GF", "true reading of the reference edge, in gram-force"},
              {"repeatability", 0, "", "judge repeatability alone, without comparing operators"},
              {"scale", 0, "SCALE", "log: scatter in percent of the reading; linear: in gram-force (log)"},
              {"pool", 0, "P", "pool the interaction of operators and edges with repeatability when its p is above this (0.25)"}})};
}

// how files of readings are written, where they do not say it themselves
std::vector<Option> form_options(bool with_moments) {
  std::vector<Option> options{
      {"sheet", 0, "NAME", "sheet of a workbook that holds the readings (the one with columns of readings)"},
      {"separator", 0, "WHAT", "comma, semicolon or tab between columns (as the first line shows)"},
      {"decimal", 0, "WHAT", "point or comma in numbers (as the whole column shows)"},
      {"dates", 0, "WHAT", "\"day first\", \"month first\", \"days since 1900\" or \"days since 1904\" (as the whole column shows)"},
      {"column", 0, "NAME=WHAT", "what the column NAME is: a column of a readings file, \"keep\" (in the note) or \"leave out\"", Completes::nothing, true}};
  if (with_moments)
    options.insert(options.end(),
                   {{"day", 0, "WHAT", "what of a date is the test day: date, month or year (date)"},
                    {"moment", 0, "NAME=WHAT", "the column NAME holds readings at the moment WHAT: the name of a read step, or \"60 passes\"; the table is turned so that each row is a reading", Completes::nothing, true}});
  return options;
}

Command import_command() {
  std::vector<Option> options{{"out", 'o', "FILE", "write the readings as CSV, or as a workbook where the name ends in .xlsx; - is standard output (-)", Completes::files},
                              {"config", 'c', "FILE", "take what [readings] of this configuration says of the form, and check edges and moments against it", Completes::files},
                              {"unit", 0, "UNIT", "gf or N, of readings whose column says none"}};
  for (const Option& option : form_options(true)) options.push_back(option);
  options.insert(options.end(), {confined_option, quiet_option});
  return {"import", &import_files,
          "readings as people keep them, made into a readings file",
          "Takes CSV with commas, semicolons or tabs, and workbooks (xlsx, ods); numbers with a decimal point or comma; heads with units in brackets; a column for each moment; dates in any order that the whole column settles. Other columns are kept in the note. What is guessed is said, a line each; what has two readings is an error that shows both. Of formulas the stored values are taken; nothing is worked out. A workbook that it writes has a second sheet that explains the columns.",
          {{"FILE", true, "files of readings, one or several", Completes::files, true}},
          std::move(options)};
}

Command log_command() {
  std::vector<Option> own{
      {"edge", 'e', "NAME", "edge that is read; with check: the check edge or reference filament (the only one)"},
      {"reading", 'r', "N", "add: what the tester shows"},
      {"unit", 0, "UNIT", "gf or N (gf)"},
      {"code", 0, "CODE", "add: the code of the edge on a blind run sheet"},
      {"step", 0, "NAME", "add: the read step at which it is taken"},
      {"passes", 0, "N", "add: passes that the edge has made"},
      {"replicate", 0, "N", "add: which reading of this edge at this moment (the next one)"},
      {"operator", 0, "NAME", "add: who takes it"},
      {"lot", 0, "NAME", "add: filament lot"},
      {"date", 0, "DATE", "add: year-month-day (today)"},
      {"test-day", 0, "NAME", "add: name of the test day (the date)"},
      {"note", 0, "TEXT", "add: anything else"},
      {"excluded", 0, "TEXT", "add: a reason to leave it out"},
      {"config", 'c', "FILE", "add: check edge and moment against this configuration", Completes::files},
      {"moment", 0, "NAME", "check: the moment of it, where it was read at several"},
      {"base", 0, "N", "check: so many points at the start set the limits (all)"}};
  for (const Option& option : form_options(false)) own.push_back(option);
  return {"log", &reading_log,
          "add a reading to a log, or check the tester by it",
          "arris log add FILE adds one row to a readings file, in the form that it has, and makes it where there is none: two at once wait for each other, and a kill leaves the log as it was or with the whole row. arris log check FILE draws a control chart (individuals and moving ranges) of one edge or reference filament that is read again and again, so that a tester that changes is noticed before edges are blamed.",
          {{"ACTION", true, "add or check"},
           {"FILE", true, "the log; with check files of readings, or a configuration that names them", Completes::files, true}},
          with_answer_options(std::move(own))};
}

Command sweep_command() {
  return {"sweep", &sweep,
          "inputs over ranges",
          "Simulates one edge over ranges of any inputs: numbers of the model, numbers of steps, materials, steps left out. Every value meets every other (a full factorial design); with --design the inputs fill their ranges by a Sobol sequence or a Latin hypercube, and with --rows they are those of a table. Or answers a question: soft-strop (best number of laps, softer or harder, where rounding begins and the harm of going on), bevel-angle, strokes (of each step), skip-grits, wood. With --out results go to a file as they come: a sweep that was killed goes on where it stopped when the same command is given again, and --shard I/N computes one share of it, for `arris merge` to put together.",
          {{"FILE", true, "configuration", Completes::files}},
          with_answer_options({
              {"question", 0, "NAME", "soft-strop, bevel-angle, strokes, skip-grits or wood"},
              {"over", 0, "INPUT=VALUES", "an input and its values, for each input: PATH=LOW:HIGH:POINTS, with :log behind it for equal ratios, or PATH=ONE|OTHER (a name that holds | or a comma in \"double quotes\", here and in lists of names); with --design PATH=LOW:HIGH; with --question other values for one of its inputs", Completes::nothing, true},
              {"design", 0, "NAME", "sobol or latin-hypercube: rows that fill the ranges evenly, instead of a grid"},
              {"count", 0, "N", "rows of the design; powers of two fill best by sobol (256)"},
              {"seed", 0, "N", "seed of the design; 0 is the Sobol sequence itself (1)"},
              {"rows", 0, "FILE.csv", "a table with a column for each input, its path as head, and a row for each try", Completes::files},
              {"output", 0, "NAMES", "what to record, with commas between them: columns of a simulation or passes_to_limit (reading_gf,apex_radius_um)"},
              {"edge", 'e', "NAME", "the edge (the first, or the first that the question fits)"},
              {"at", 0, "MOMENT", "when: end, \"after step K\" or \"after N passes\" (end)"},
              {"step", 0, "K", "the step that a question is about (the first that fits)"},
              {"limit", 0, "GF", "reading at which the edge is dull, or the name of a limit (that of the configuration)"},
              {"fit", 0, "FILE", "sweep at the best values of this fit, made by arris fit --draws --out FILE", Completes::files},
              {"shard", 0, "I/N", "only the I-th of N shares; needs --out"}})};
}

Command sensitivity_command() {
  return {"sensitivity", &sensitivity,
          "which input matters how much",
          "Varies several inputs at once over their ranges and shares out the variance of an answer, such as how long an edge lasts, by Sobol indices with 90 % intervals: the share that goes when an input alone is known (first order), and the share that is left when all others are known (total). For its life an edge is sharpened by its steps up to its first cut and then goes on in that wood.",
          {{"FILE", true, "configuration", Completes::files}},
          with_answer_options({
              {"over", 0, "INPUT=VALUES", "an input and its range, for each input: PATH=LOW:HIGH, with :log behind it for equal ratios, or PATH=ONE|OTHER", Completes::nothing, true},
              {"output", 0, "NAME", "the answer: a column of a simulation or passes_to_limit (passes_to_limit)"},
              {"edge", 'e', "NAME", "the edge (the first; for its life the first that cuts wood)"},
              {"at", 0, "MOMENT", "when: end, \"after step K\" or \"after N passes\" (end)"},
              {"limit", 'l', "TASK", "reading that ends the life: a task, or gram-force (that of the configuration)"},
              {"passes", 'p', "N", "passes to look ahead (5000)"},
              {"base", 'n', "N", "points of each of two designs, a power of two; N·(inputs + 2) histories are run (1024)"},
              {"seed", 0, "N", "seed of designs and intervals (1)"},
              {"fit", 0, "FILE", "at the best values of this fit, made by arris fit --draws --out FILE", Completes::files}})};
}

Command merge_command() {
  return {"merge", &merge,
          "the shares of a sweep put together",
          "Makes one file of the shares that `arris sweep --shard` wrote, into which their results are copied, block by block. With --link it holds no results itself and needs the shares where they are, unchanged; without them it is refused. Refuses shares that are missing, unfinished or of another sweep. Prints the answer of the whole.",
          {{"SHARE", true, "files of all shares", Completes::files, true}},
          {{"out", 'o', "FILE", "write the whole as HDF5, needed", Completes::files},
           {"link", 0, "", "link the shares instead of copying them: quick and small, and worth nothing without them"},
           csv_option, json_option, quiet_option}};
}

Command report_command() {
  return {"report", &report,
          "a page or a picture of results",
          "Makes one HTML file of one result or several: the answer in a sentence, the figure that shows it, how sure it is, what it rests on, what to do next, cautions, and how to repeat it. It opens from disk without a network, prints, and reads on a telephone. With --pdf the same set on sheets of A4. With --figure one picture for a slide or an article instead, as SVG, PNG or PDF; the figure poster of a simulation is a sheet of A4 on the life of one edge. RESULT is an HDF5 file that any command wrote with --out.",
          {{"RESULT", true, "result file, or several", Completes::files, true}},
          {{"out", 'o', "FILE", "write the page, or the picture (.svg, .png or .pdf); - is standard output (SVG of a picture)", Completes::files},
           {"pdf", 0, "FILE", "write the page as PDF, A4, ready to print; - is standard output", Completes::files},
           {"figure", 0, "NAME", "only this figure, such as curves, section, poster, routes, soft-strop or trade-off; an unknown name tells those there are"},
           {"width", 0, "PIXELS", "width of the picture (720); a PNG has two dots to a pixel"},
           {"edge", 'e', "NAMES", "of a simulation of many edges: draw these in any case, with commas between them"},
           {"whole", 0, "", "show every edge, row and point, however large the page gets; without it a page stays below 3 MB and says what it shows"},
           {"tables", 0, "FOLDER", "put tables that the page shows in part into this folder, whole, as CSV, with a link to each", Completes::files},
           quiet_option}};
}

Command study_command() {
  return {"study", &study,
          "the whole job on one campaign, and one report of it",
          "Checks a configuration, simulates it, judges the tester, fits the model to the readings, forecasts how long edges last, compares ways of sharpening, maps stiffness of the strop against laps and finds the routine of upkeep; then writes one report of all. What does not apply, as a fit without readings, is left out and said. Every result stays in the folder beside the report, as the command of its own would write it. A study that was stopped or killed goes on when the same command is given again: what stands is taken over as long as program, configuration, readings and options are the same.",
          {{"FILE", true, "configuration", Completes::files}},
          {{"out", 'o', "FOLDER", "folder for results and report (the name of the configuration with -study behind it)", Completes::files},
           {"draws", 0, "N", "posterior draws of the fit (1000)"},
           {"limit", 'l', "TASK", "reading that ends the life: a task, or gram-force (reading_limit_gf)"},
           {"seed", 0, "N", "seed of starts, draws and next edges (1)"},
           {"anew", 0, "", "make every stage anew, also what an earlier run left that still holds"},
           threads_option, confined_option,
           {"quiet", 'q', "", "print the path of the report only"}}};
}

Command check_command() {
  return {"check", &check,
          "is a configuration right, and what does it come to",
          "Validates a configuration and what it includes, and the readings it names. Prints every value that a simulation would use, with where it came from: a file and line, a material table, or a default and on what that rests. The output is itself a configuration. With --outline it follows the outline of each edge, a front of some 80 points to a face, through the whole history instead, and holds the reduced law that all other commands use against it: readings and the depth to flat by both, after every step, and whether to trust the reduced law there.",
          {{"FILE", true, "configuration", Completes::files}},
          {{"outline", 0, "", "hold the reduced law against the outline of the edges, step by step"},
           {"edge", 'e', "NAME", "with --outline: these edges only, with commas between them (all)"},
           confined_option,
           {"quiet", 'q', "", "print the verdict only"}}};
}

Command materials_command() {
  return {"materials", &materials,
          "the materials at hand",
          "Lists the shipped materials, and those of a configuration: steel, family (of abrasive media), grit, backing, compound, wood, filament. With one match it shows every value with its status and source.",
          {{"KIND", false, "kind of material", Completes::kinds}},
          {{"search", 's', "WORD", "only those whose name, other names or remark contain the word"},
           {"config", 'c', "FILE", "list the materials of this configuration too", Completes::files},
           confined_option,
           {"json", 0, "", "as JSON"}}};
}

Command write_documents_command() {
  return {"write-documents", &write_documents, "write man page and completions", "", {{"FOLDER", true, "where to", Completes::files}}, {}, true};
}
// clang-format on

}  // namespace

const std::vector<Command>& commands() {
  static const std::vector<Command> table = {
      import_command(), log_command(),      readings_command(),    simulate_command(),       fit_command(),
      weigh_command(),  forecast_command(), compare_command(),     upkeep_command(),         plan_command(),
      gauge_command(),  sweep_command(),    sensitivity_command(), merge_command(),          report_command(),
      study_command(),  check_command(),    materials_command(),   write_documents_command()};
  return table;
}

namespace {

// the first word that is no command or no option of it, with the one that was meant
std::optional<Diagnostic> misspelt(int argc, char** argv) {
  const Command* command = nullptr;
  for (int i = 1; i < argc; ++i) {
    const std::string word(argv[i]);
    if (word == "--") break;
    if (word.size() > 2 && word.rfind("--", 0) == 0) {
      const std::string        name = word.substr(2, word.find('=') - 2);
      std::vector<std::string> known{"help"};
      if (command == nullptr) known.emplace_back("version");
      if (command != nullptr) {
        for (const Option& o : command->options) known.emplace_back(o.name);
      }
      if (std::find(known.begin(), known.end(), name) != known.end()) continue;
      const std::string of =
          command != nullptr ? fmt::format("arris {}", command->name) : std::string("arris");
      return Diagnostic{.code    = "unknown-option",
                        .what    = fmt::format("{} has no option --{}", of, printable(name)),
                        .allowed = fmt::format("--{}", fmt::join(known, ", --")),
                        .next    = did_you_mean(name, known, {}, "--{}")};
    }
    if (command != nullptr || word.rfind('-', 0) == 0) continue;
    std::vector<std::string> known;
    for (const Command& c : commands()) {
      if (c.name == word) command = &c;
      if (!c.hidden) known.emplace_back(c.name);
    }
    if (command == nullptr) {
      return Diagnostic{.code    = "unknown-command",
                        .what    = fmt::format("there is no command \"{}\"", printable(word)),
                        .allowed = or_list(known),
                        .next    = did_you_mean(word, known, {}, "arris {}")};
    }
  }
  return std::nullopt;
}

/// One command of the table as CLI11 takes it. CLI11 writes what was said into it, so it must stay where it is.
class CommandParser {
 public:
  CommandParser(CLI::App& app, const Command& command)
      : command_(command), parser_(app.add_subcommand(command.name, command.summary)) {
    if (command.hidden) parser_->group("");
    for (const Argument& a : command.arguments) {
      auto* option = a.repeats ? parser_->add_option(a.name, several_[a.name], a.help)
                               : parser_->add_option(a.name, texts_[a.name], a.help);
      option->type_name("");
      if (a.required) option->required();
    }
    for (const Option& o : command.options) add(o);
  }
  CommandParser(const CommandParser&)            = delete;
  CommandParser& operator=(const CommandParser&) = delete;

  [[nodiscard]] bool is_meant() const { return parser_->parsed(); }

  /// What was said, where this command is meant.
  [[nodiscard]] Arguments arguments() const {
    Arguments out;
    out.command = command_.name;
    for (const Argument& a : command_.arguments) {
      if (parser_->count(a.name) == 0) continue;
      if (a.repeats) {
        out.lists[a.name] = several_.at(a.name);
      } else {
        out.values[a.name] = texts_.at(a.name);
      }
    }
    for (const Option& o : command_.options) {
      if (parser_->count(fmt::format("--{}", o.name)) == 0) continue;
      if (o.repeats) {
        out.lists[o.name] = several_.at(o.name);
      } else {
        out.values[o.name] = *o.value == '\0' ? "yes" : texts_.at(o.name);
      }
    }
    return out;
  }

 private:
  void add(const Option& o) {
    const std::string names = (o.letter != 0 ? fmt::format("-{},", o.letter) : std::string{}) + "--" + o.name;
    if (*o.value == '\0') {
      parser_->add_flag(names, switches_[o.name], o.help);
    } else if (o.repeats) {
      // one value each time, so that what follows is not taken for a second
      parser_->add_option(names, several_[o.name], o.help)->type_name(o.value)->expected(1, 1)->take_all();
    } else {
      parser_->add_option(names, texts_[o.name], o.help)->type_name(o.value);
    }
  }

  const Command&                                  command_;
  CLI::App*                                       parser_;
  std::map<std::string, std::string>              texts_;
  std::map<std::string, std::vector<std::string>> several_;
  std::map<std::string, bool>                     switches_;
};

// false where help or version was asked for, and is printed
bool parse_words(CLI::App& app, int argc, char** argv) {
  try {
    app.parse(argc, argv);
    return true;
  } catch (const CLI::CallForHelp&) {
    if (app.get_subcommands().empty()) {
      if (auto diagnostic = misspelt(argc, argv)) throw Error(Exit::usage, std::move(*diagnostic));
    }
    fmt::print("{}", app.help());  // that of the command, where there is one
    return false;
  } catch (const CLI::CallForVersion&) {
    fmt::print("{}", build_facts());
    return false;
  } catch (const CLI::ParseError& e) {
    if (auto diagnostic = misspelt(argc, argv)) throw Error(Exit::usage, std::move(*diagnostic));
    throw Error(Exit::usage,
                {.code = "usage",
                 .what = e.what(),
                 .next = "arris --help lists the commands, arris COMMAND --help the options of one."});
  }
}

}  // namespace

std::optional<Arguments> parse(int argc, char** argv) {
  CLI::App app{
      "Simulates how the edge of a hand tool is honed, stropped and worn, and what a tester reads on it.",
      "arris"};
  app.require_subcommand(0, 1);
  app.set_version_flag("--version", build_facts());
  app.footer(
      fmt::format("arris COMMAND --help tells the options of a command.\nExit codes: {}.", exit_codes));
  std::deque<CommandParser> parsers;
  for (const Command& command : commands()) parsers.emplace_back(app, command);

  if (!parse_words(app, argc, argv)) return std::nullopt;
  const auto meant =
      std::find_if(parsers.begin(), parsers.end(), [](const CommandParser& p) { return p.is_meant(); });
  if (meant == parsers.end()) {
    fmt::print("{}", app.help());
    return std::nullopt;
  }
  Arguments arguments = meant->arguments();
  for (int i = 0; i < argc; ++i) {
    arguments.line += (i > 0 ? " " : "") + shell_word(i == 0 ? "arris" : argv[i]);
  }
  return arguments;
}

const Command& command_named(const std::string& name) {
  const auto found =
      std::find_if(commands().begin(), commands().end(), [&](const Command& c) { return c.name == name; });
  if (found == commands().end()) throw std::out_of_range("no command is called " + name);
  return *found;
}

const std::vector<std::pair<std::string, std::string>>& material_kinds() {
  static const std::vector<std::pair<std::string, std::string>> kinds = {
      {"steel", "steels, by AISI grade"},
      {"family", "families of abrasive media"},
      {"grit", "grit numbers in micrometres"},
      {"backing", "what a strop or film lies on"},
      {"compound", "what a strop is charged with"},
      {"wood", "woods"},
      {"filament", "filaments of the tester"},
      {"limit", "readings at which an edge is too dull for a task"}};
  return kinds;
}

}  // namespace arris::cli
