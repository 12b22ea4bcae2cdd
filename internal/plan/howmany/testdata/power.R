# Expected values for the tests: Rscript power.R
# Two-sided power of the two-sample t test and its parts, from base R only.
# Writes power.csv; the versions are in power-versions.txt.

rows <- NULL
for (n in c(2, 3, 5, 8, 12)) for (ratio in c(1.1, 1.25, 1.5)) for (sd in c(0.1, 0.2)) {
  p <- power.t.test(n = n, delta = log(ratio), sd = sd, sig.level = 0.05,
                    type = "two.sample", alternative = "two.sided", strict = TRUE)
  # Numerical integration of the same, over the distribution of s: R's noncentral t
  # is a sum of series, this is not.
  nu <- 2 * n - 2
  t <- qt(0.975, nu)
  delta <- log(ratio) / (sd * sqrt(2 / n))
  right <- integrate(function(w) pnorm(t * sqrt(w / nu), delta, lower.tail = FALSE) * dchisq(w, nu),
                     0, Inf, rel.tol = 1e-10)$value
  wrong <- integrate(function(w) pnorm(-t * sqrt(w / nu), delta) * dchisq(w, nu),
                     0, Inf, rel.tol = 1e-10)$value
  stopifnot(abs(right + wrong - p$power) < 1e-7)
  rows <- rbind(rows, data.frame(n, ratio, sd, power = p$power, right, wrong))
}
write.csv(format(rows, digits = 12), "power.csv", row.names = FALSE, quote = FALSE)

# All pairs: the chance that a given pair of k is found, noncentral t beyond q/sqrt 2.
# 2 and 3 degrees of freedom do not occur, where qtukey is wrong.
rows <- NULL
for (k in c(3, 4, 6)) for (n in c(4, 8)) for (ratio in c(1.25, 1.5)) {
  sd <- 0.15
  nu <- k * n - k
  right <- pt(qtukey(0.95, k, nu) / sqrt(2), nu, log(ratio) / (sd * sqrt(2 / n)), lower.tail = FALSE)
  rows <- rbind(rows, data.frame(k, n, ratio, sd, right))
}
write.csv(format(rows, digits = 12), "pairs.csv", row.names = FALSE, quote = FALSE)

# The share that the wood ends, with and without a limit of the rig: bond and wood
# normal on the log scale, the boards' shift in both.
rows <- NULL
for (level in c(6, 9)) for (rig in c(Inf, 9)) {
  s <- sqrt(0.15^2 + 0.08^2); t <- sqrt(0.12^2 + 0.08^2)
  p <- integrate(function(y) dnorm(y, log(10), t) * pnorm(y, log(level), s, lower.tail = FALSE),
                 log(10) - 12 * t, min(log(rig), log(10) + 12 * t), rel.tol = 1e-10)$value
  rows <- rbind(rows, data.frame(level, rig, share = p))
}
write.csv(format(rows, digits = 12), "limited.csv", row.names = FALSE, quote = FALSE)

writeLines(c(R.version.string, "power.csv, pairs.csv, limited.csv: Rscript power.R"), "power-versions.txt")
