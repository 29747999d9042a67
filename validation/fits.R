# SPDX-License-Identifier: MIT
# Fits by nls: a list of {name, formula, response, y, x, start} as JSON in; values, standard errors and sums of squares out.
suppressMessages(library(jsonlite))
out <- list()
for (p in fromJSON(file("stdin"), simplifyVector = FALSE)) {
  data <- lapply(p$x, function(column) as.numeric(unlist(column)))
  data[[p$response]] <- as.numeric(unlist(p$y))
  fit <- nls(as.formula(p$formula), data = data, start = lapply(p$start, as.numeric), control = nls.control(maxiter = 500, tol = 1e-7))
  table <- summary(fit)$coefficients
  out[[p$name]] <- list(value = as.numeric(table[, 1]), se = as.numeric(table[, 2]), rss = deviance(fit))
}
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
