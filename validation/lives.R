# SPDX-License-Identifier: MIT
# A censored Weibull life test by survreg: {time, failed} as JSON in.
suppressMessages({library(jsonlite); library(survival)})
p <- fromJSON(file("stdin"))
fit <- survreg(Surv(p$time, p$failed) ~ 1, dist = "weibull", control = survreg.control(rel.tolerance = 1e-12))
# its second parameter is the log of 1/shape
v <- fit$var
cat(toJSON(list(scale = exp(unname(coef(fit))), shape = 1 / fit$scale, log_likelihood = fit$loglik[1], var_log_scale = v[1, 1], var_log_shape = v[2, 2],
                covariance = -v[1, 2]), digits = NA, auto_unbox = TRUE))
