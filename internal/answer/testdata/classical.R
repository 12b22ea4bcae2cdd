# Classical intervals that the answer must reproduce where there are no bounds,
# no boards and one scatter: pooled t, Tukey's and Dunnett's. Run in this folder:
#
#	Rscript classical.R
#
# Also the log-likelihoods of lognormal and Weibull regressions with bounds by
# survival::survreg, and the change along an order of work by lm.
#
# It writes classical-data.csv (set, group, y), classical-expected.csv and
# classical-checks.csv, classical-versions.txt. y is taken as log strength.
suppressMessages(library(multcomp))
set.seed(20260102)

sets <- list(
  # R's own data sets: datasets::warpbreaks (54 breaks of yarn at three tensions)
  # and multcomp::recovery (41 recovery times under four blankets, unequal groups).
  warpbreaks = data.frame(group = as.character(warpbreaks$tension), y = warpbreaks$breaks / 10),
  recovery = data.frame(group = as.character(recovery$blanket), y = recovery$minutes / 10),
  # Simulated: five groups of 3 to 9.
  unequal = data.frame(group = rep(letters[1:5], c(3, 9, 4, 6, 5)),
                       y = round(rep(c(1.5, 1.6, 2.0, 2.2, 2.6), c(3, 9, 4, 6, 5)) + rnorm(27, 0, 0.18), 4)),
  # Simulated: few degrees of freedom.
  few = data.frame(group = rep(letters[1:3], c(2, 2, 3)), y = round(rep(c(1.5, 2.0, 2.1), c(2, 2, 3)) + rnorm(7, 0, 0.15), 4))
)
control <- c(warpbreaks = "L", recovery = "b0", unequal = "b", few = "c")

precise <- function(p = 0.95) adjusted_calpha(maxpts = 1e6, abseps = 1e-6)
out <- NULL
for (s in names(sets)) {
  d <- sets[[s]]
  d$group <- factor(d$group)
  fit <- lm(y ~ group, d)
  for (how in c("Tukey", "Dunnett")) {
    dd <- d
    if (how == "Dunnett") dd$group <- relevel(dd$group, control[[s]])
    fit <- lm(y ~ group, dd)
    g <- glht(fit, mcp(group = how))
    sim <- confint(g, level = 0.95, calpha = precise())$confint
    one <- confint(g, level = 0.95, calpha = univariate_calpha())$confint
    nine <- confint(g, level = 0.90, calpha = univariate_calpha())$confint
    pair <- strsplit(rownames(sim), " - ")
    out <- rbind(out, data.frame(set = s, how = how, a = sapply(pair, `[`, 1), b = sapply(pair, `[`, 2),
      estimate = sim[, 1], low = one[, 2], high = one[, 3], low90 = nine[, 2], high90 = nine[, 3], low_sim = sim[, 2], high_sim = sim[, 3], row.names = NULL))
  }
}
# Checks on the set "unequal": every third value taken as a lower bound, and an
# order of work.
suppressMessages(library(survival))
d <- sets$unequal
d$order <- sample(nrow(d))
d$bound <- seq_len(nrow(d)) %% 3 == 0
sv <- function(dist) survreg(Surv(exp(y), !bound) ~ group, d, dist = dist, control = survreg.control(rel.tolerance = 1e-12, maxiter = 100))$loglik[2]
d$at <- (d$order - 1) / (nrow(d) - 1)
drift <- confint(lm(y ~ group + at, d))["at", ]
checks <- data.frame(what = c("lognormal", "weibull", "drift", "drift_low", "drift_high"),
  value = sprintf("%.12g", c(sv("lognormal"), sv("weibull"), coef(lm(y ~ group + at, d))[["at"]], drift)))
write.csv(checks, "classical-checks.csv", row.names = FALSE, quote = FALSE)
write.csv(d[c("group", "y", "order", "bound")], "classical-checks-data.csv", row.names = FALSE, quote = FALSE)

out[-(1:4)] <- lapply(out[-(1:4)], signif, 8)
write.csv(do.call(rbind, lapply(names(sets), function(s) cbind(set = s, sets[[s]]))), "classical-data.csv", row.names = FALSE, quote = FALSE)
write.csv(out, "classical-expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, paste("multcomp", packageVersion("multcomp")), paste("mvtnorm", packageVersion("mvtnorm")),
             paste("survival", packageVersion("survival"))), "classical-versions.txt")
