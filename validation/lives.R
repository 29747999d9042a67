# SPDX-License-Identifier: MIT
# Censored Weibull life tests by survreg: {name: {time, failed, covariate}} as JSON in, the covariate where there is one.
suppressMessages({library(jsonlite); library(survival)})
told <- function(p) {
  tight <- survreg.control(rel.tolerance = 1e-12)
  if (is.null(p$covariate)) {
    fit <- survreg(Surv(p$time, p$failed) ~ 1, dist = "weibull", control = tight)
  } else {
    fit <- survreg(Surv(p$time, p$failed) ~ p$covariate, dist = "weibull", control = tight)
  }
  # its last parameter is the log of 1/shape
  v <- unname(fit$var)
  n <- nrow(v)
  b <- unname(coef(fit))
  out <- list(scale = exp(b[1]), shape = 1 / fit$scale, log_likelihood = fit$loglik[2], var_log_scale = v[1, 1], var_log_shape = v[n, n],
              covariance = -v[1, n])
  if (n > 2) {
    out$effect <- b[2]
    out$effect_sd <- sqrt(v[2, 2])
    out$p <- pchisq(2 * (fit$loglik[2] - fit$loglik[1]), 1, lower.tail = FALSE)
  }
  out
}
cat(toJSON(lapply(fromJSON(file("stdin")), told), digits = NA, auto_unbox = TRUE))
