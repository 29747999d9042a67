# SPDX-License-Identifier: MIT
# Hone, strop, cut by deSolve's lsoda; the equations at the head of the files in sim/laws, written down once more.
# Standard input: a list of sets of numbers, JSON. Standard output: radius, scratch, burr, dub, its depth and chips after each of the three.
suppressMessages({library(deSolve); library(jsonlite)})

histories <- fromJSON(file("stdin"), simplifyVector = FALSE)
positive <- function(x, w) if (x <= -w) 0 else if (x >= w) x else { t <- (x + w) / (2 * w); 2 * w * t^3 * (1 - t / 2) }
run <- function(rates, start, end)
  as.numeric(lsoda(start, c(0, end), function(n, y, p) list(rates(n, y)), NULL, rtol = 1e-10, atol = 1e-13, maxsteps = 1e5)[2, -1])

history <- function(p) {
  g <- function(name) p[[name]]
  beta <- g("tool.micro_bevel_deg") * pi / 180; primary <- g("tool.primary_bevel_deg") * pi / 180
  alpha <- beta / 2; width <- g("tool.width_mm") / 1000; H <- 1e9 * g("steel.hardness_GPa")
  per_depth <- sin(primary) / (sin(beta) * sin(beta - primary))
  least2 <- (g("carbide_share") * g("steel.carbide_um")^(1 / 3))^2 + g("floor_radius_um")^2
  floor_of <- function(s) sqrt((g("radius_per_scratch") * s)^2 + least2)
  own <- function(kind, pressure) {
    k <- function(name) g(paste0(kind, ".", name))
    active <- k("active_grit_fraction") * (pressure / 0.8e6)^g("active_grit_load_exponent")
    k("protrusion") * tan(k("grit_angle_deg") * pi / 180) * k("size_um") * sqrt(2 * pressure / (pi * H * active))
  }
  smallest <- function(r) r / tan(alpha) / per_depth

  # honing
  chi <- (g("medium.size_um") / g("critical_size_um"))^g("size_exponent")
  K <- g("abrasion") * g("medium.cutting_rate") / g("medium.loose_grit_divisor") * chi / (1 + chi)
  section <- K * (g("hone_N") / width) * (g("stroke_mm") / 1000) / H * 1e9      # um*mm per stroke
  rest <- g("medium.glaze_floor"); fade <- g("medium.glaze_strokes")
  h0 <- max(1000 * g("tool.land_mm") / per_depth, smallest(g("tool.apex_radius_um")))
  depth <- function(n) sqrt(h0^2 + 2 * section * 1000 / per_depth * (rest * n + (1 - rest) * fade * (1 - exp(-n / fade))))
  limit <- g("burr_limit_um") * (own("medium", 0.8e6) / 0.1)^g("burr_limit_exponent")   # what a foil can stand; none is longer at the start
  y <- run(function(n, y) {
    land <- per_depth * depth(n) / 1000                                          # mm
    a <- section / land * (rest + (1 - rest) * exp(-n / fade))
    inf <- floor_of(y[2]); sm <- own("medium", g("hone_N") / width / (land / 1000))
    open <- exp(-positive(y[1] - inf, 0.1 * inf) / inf)
    c(-0.5 * a / (1 - sin(alpha)) * (1 - (inf / y[1])^g("floor_exponent")),
      -a * (y[2] - sm) / (y[2] + sm),
      g("burr_growth") * a / sin(beta) * open * (1 - y[3] / limit))
  }, c(g("tool.apex_radius_um"), g("tool.scratch_um"), g("tool.burr_um")), g("strokes"))
  honed <- y

  # stropping: where the pad touches, in mm
  land <- 1e-3 * per_depth * max(depth(g("strokes")), smallest(y[1]))
  E <- g("backing.modulus_MPa"); t <- g("backing.thickness_mm"); line <- g("strop_N") / g("tool.width_mm")  # MPa, mm, N/mm
  touched <- max(Re(polyroot(c(-land / 2 - line / E / tan(beta - primary), 0.5 - land / t, 1 / t))))
  touched <- min(touched, g("tool.thickness_mm") / sin(primary))
  mean_p <- line / touched
  # how hard it bears at the tip, as the blade is held
  fitted <- function(name) g(paste0("outline.", name))
  tilt <- fitted("hand") * E * touched / line * (pi / 4 + touched / (2 * t))
  wobble <- sqrt((g("scatter_deg") * pi / 180)^2 + (g("backing.unevenness_um") / 1000 / land)^2) * tilt
  A <- max(1e-3, sqrt(positive(1 + g("offset_deg") * pi / 180 * tilt, 1)^2 + wobble^2)); u <- (wobble / A)^2
  along <- sqrt(land * touched)
  strength <- (A * line / (pi * E))^2 / (along * sqrt(1 + (along / (1.63 * t))^2)) * 1000   # um
  strain <- mean_p / E * sqrt(2 * A^2 / (1 + A^2))
  kappa <- g("compound.removal_nm") / 1000 / 0.04 * g("lap_mm") / 200 * 7.1e9 / H           # um per MPa and lap
  sm <- own("compound", 1e6 * mean_p); burr <- y[3]
  y <- run(function(n, y) {
    Q <- strength / (fitted("worn_in_share") * kappa * E * n + y[1]) + strain^2
    off <- kappa * E * sqrt(Q / (1 + Q))
    c(-off / (1 - sin(alpha)) * (1 - (floor_of(y[2]) / y[1])^g("floor_exponent")), -off * (y[2] - sm) / (y[2] + sm))
  }, y[1:2], g("laps"))
  # the dub where a tester meets it, and the depth to flat
  w <- kappa * E * g("laps"); at <- g("tester.contact_distance_um"); along <- 1000 * along
  steeper <- function(part, even, w)
    fitted("angle") * sqrt(part / w + (fitted("mean_share") * even)^2) / (1 + fitted("onset") * part / w) *
      log(1 + fitted("reach") * w / (1 + fitted("land_share") * w / along) / (at + fitted("even_share") * part))
  # what the hand adds comes anew in each lap
  free <- sqrt(steeper((1 - u) * strength, strain, w)^2 + steeper(u * strength, 0, 1 / (1 / w + 1 / (kappa * E)))^2)
  psi <- free / sqrt(1 + (free / (fitted("steepest") * (pi / 2 - alpha)))^2)
  dub <- g("dub_share") * at * (tan(alpha + psi) - tan(alpha)) / (tan(alpha) * (1 / sin(alpha) - 1)) *
    w / (w + y[1] * (1 / sin(alpha) - 1))                    # as far as the pad has worn in over the arc of the tip
  beside <- function(r) dub * positive(1 - r * (1 - sin(alpha)) / at, 0.25)  # what of it a tester meets
  flat <- g("dub_depth_share") * fitted("depth") * w * sqrt(strength / ((1 + w / along) * (w + fitted("depth_onset") * strength)))
  y <- c(y, burr * exp(-g("burr_loss_strop") * g("laps")))
  stropped <- y

  # cutting
  cross <- function(b) 1 / tan(b / 2) - (pi / 2 - b / 2)
  severity <- (g("wood.side_hardness_N") / 3150)^g("wood_hardness_exponent") * g("wood.extractive_factor") *
    (1 + g("silica_per_pct") * g("wood.silica_pct")) * g("steel.wear_ratio") * 7.1e9 / H * cross(pi / 6) / cross(beta)
  critical <- 1e6 * 1.5 * g("collapse_load_N_per_m") / (H / 3) * (1 + 1 / sin(alpha))
  borne <- fitted("borne") * sin(alpha) * dub * at^-0.85    # what the dub adds to the radius that the load meets
  r <- run(function(n, y) g("pass_m") * (severity * (0.5 * g("wear.parting_um2_per_m") / y[1] + g("wear.crushing_um_per_m")) +
    positive(critical - y[1], 0.1 * critical) / g("collapse_length_m")), y[1] + borne, g("passes")) - borne
  burr <- y[3] * exp(-g("passes") * g("pass_m") / g("burr_break_off_m"))
  # chips and nicks: none before the wood
  wood <- g("wood.side_hardness_N") / 6450
  deepest <- 1.5e6 * g("chip_load_N_per_m") * wood / (H / 3 * g("steel.carbide_um")^-0.25) / tan(alpha)^2
  most <- positive(deepest - g("chip_least_um"), 0.1 * g("chip_least_um"))
  chip <- run(function(n, y) g("pass_m") * (max(0, most - y[1]) / g("chip_length_m") + g("nicks_um_per_km") / 1000 * wood), 0, g("passes"))
  list(c(honed, 0, 0, 0), c(stropped, beside(stropped[1]), flat, 0), c(r, y[2], burr, beside(r), flat, chip))
}
cat(toJSON(lapply(histories, history), digits = NA))
