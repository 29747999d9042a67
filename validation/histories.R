# SPDX-License-Identifier: MIT
# Hone, strop, cut by deSolve's lsoda; the equations at the head of the files in sim/laws, written down once more.
# Standard input: a list of sets of numbers, JSON. Standard output: radius, scratch and burr after each of the three.
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
  least2 <- (g("carbide_share") * g("steel.carbide_um"))^2 + g("floor_radius_um")^2
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
  y <- run(function(n, y) {
    land <- per_depth * depth(n) / 1000                                          # mm
    a <- section / land * (rest + (1 - rest) * exp(-n / fade))
    inf <- floor_of(y[2]); sm <- own("medium", g("hone_N") / width / (land / 1000))
    open <- exp(-positive(y[1] - inf, 0.1 * inf) / inf)
    c(-0.5 * a / (1 - sin(alpha)) * (1 - (inf / y[1])^g("floor_exponent")),
      -a * (y[2] - sm) / (y[2] + sm),
      g("burr_growth") * a / sin(beta) * open - g("burr_loss_one_sided") * y[3])
  }, c(g("tool.apex_radius_um"), g("tool.scratch_um"), 0), g("strokes"))
  honed <- y

  # stropping: the pad sinks by delta under a contact of length l + delta/tan(step)
  land <- 1e-6 * per_depth * max(depth(g("strokes")), smallest(y[1]))
  load <- g("strop_N") / (width * 1e6 * g("backing.modulus_MPa")); t <- g("backing.thickness_mm") / 1000
  contact <- max(Re(polyroot(c(-land / 2 - load / tan(beta - primary), 0.5 - land / t, 1 / t))))
  contact <- min(contact, g("tool.thickness_mm") / 1000 / sin(primary))
  delta <- 1e6 * load / (1 / t + 1 / (2 * contact)) / contact
  pressure <- g("strop_N") / (width * contact)
  reach <- 1 - exp(-delta / (tan(g("error_deg") * pi / 180) * 1e6 * land + g("backing.unevenness_um")))
  removal <- reach * g("compound.removal_nm") / 1000 * pressure / 40e3 * g("lap_mm") / 200 * 7.1e9 / H
  sm <- own("compound", pressure)
  y <- run(function(n, y) {
    rs <- sqrt(floor_of(y[2])^2 + (g("drape") * delta)^2)
    c(-removal / (1 - sin(alpha)) * (1 - (rs / y[1])^g("floor_exponent")), -removal * (y[2] - sm) / (y[2] + sm), -reach * g("burr_loss_strop") * y[3])
  }, y, g("laps"))
  stropped <- y

  # cutting
  cross <- function(b) 1 / tan(b / 2) - (pi / 2 - b / 2)
  severity <- (g("wood.side_hardness_N") / 3150)^g("wood_hardness_exponent") * g("wood.extractive_factor") *
    (1 + g("silica_per_pct") * g("wood.silica_pct")) * g("steel.wear_ratio") * 7.1e9 / H * cross(pi / 6) / cross(beta)
  critical <- 1e6 * 1.5 * g("collapse_load_N_per_m") / (H / 3) * (1 + 1 / sin(alpha))
  r <- run(function(n, y) g("pass_m") * (severity * (0.5 * g("wear.parting_um2_per_m") / y[1] + g("wear.crushing_um_per_m")) +
    positive(critical - y[1], 0.1 * critical) / g("collapse_length_m")), y[1], g("passes"))
  burr <- y[3] * exp(-g("passes") * g("pass_m") / g("burr_break_off_m"))
  list(honed, stropped, c(r, y[2], burr))
}
cat(toJSON(lapply(histories, history), digits = NA))
