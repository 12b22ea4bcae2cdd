# Expected values of the convergence diagnostics, from R's package posterior.
# Run in this folder: Rscript diagnose.R
# It writes diagnose-draws.csv (columns: one set of draws each, chains one after
# another), diagnose-expected.csv and diagnose-versions.txt.
suppressMessages(library(posterior))
set.seed(7)
n <- 251
ar <- function(rho, shift) unlist(lapply(1:4, function(k) as.numeric(arima.sim(list(ar = rho), n)) + shift * (k == 4)))
sets <- list(
  independent = rnorm(4 * n),
  sticky      = ar(0.9, 0),
  alternating = ar(-0.5, 0),
  apart       = ar(0.3, 1.5),
  heavy       = rcauchy(4 * n),
  ties        = round(ar(0.5, 0), 0),
  scales      = unlist(lapply(1:4, function(k) rnorm(n, 0, k)))
)
sets <- lapply(sets, signif, 10)
write.csv(as.data.frame(sets), "diagnose-draws.csv", row.names = FALSE)
out <- do.call(rbind, lapply(names(sets), function(s) {
  x <- matrix(sets[[s]], ncol = 4)
  data.frame(set = s, rhat = rhat(x), bulk = ess_bulk(x), tail = ess_tail(x), mean = ess_mean(x))
}))
out[-1] <- lapply(out[-1], function(v) sprintf("%.12g", v))
write.csv(out, "diagnose-expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, paste("posterior", packageVersion("posterior"))), "diagnose-versions.txt")
