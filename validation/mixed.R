# SPDX-License-Identifier: MIT
# Variance components by lme4, REML: {dyestuff, pastes, machines}, lists of rows, as JSON in.
suppressMessages({library(jsonlite); library(lme4)})
given <- fromJSON(file("stdin"))
told <- function(fit, groups) {
  v <- as.data.frame(VarCorr(fit))
  list(variances = c(v$vcov[v$grp == "Residual"], sapply(groups, function(g) v$vcov[v$grp == g])), log_likelihood = as.numeric(logLik(fit)))
}
numeric <- function(data, column) { data[[column]] <- as.numeric(data[[column]]); data }
control <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10))
d <- numeric(given$dyestuff, "Yield"); p <- numeric(given$pastes, "strength"); m <- numeric(given$machines, "score")
out <- list(
  dyestuff = told(lmer(Yield ~ 1 + (1 | Batch), d, control = control), "Batch"),
  pastes = told(lmer(strength ~ 1 + (1 | batch) + (1 | batch:cask), p, control = control), c("batch", "batch:cask")),
  machines = told(lmer(score ~ Machine + (1 | Worker) + (1 | Worker:Machine), m, control = control), c("Worker", "Worker:Machine"))
)
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
